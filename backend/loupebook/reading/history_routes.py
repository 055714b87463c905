"""One scope's history: the desk's line of time, one part through time, and all of it on paper and as files."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Callable, Mapping
from typing import Annotated, Any

import msgspec
from fastapi import APIRouter, Query, Response

from loupebook.reading.history import EVER, MOST, MOST_PHOTOS, history, photos_of, through_time
from loupebook.reading.history_paper import history_html, history_name, history_table
from loupebook.reading.packet_routes import sayer
from loupebook.reading.paper_parts import Sheet
from loupebook.reading.pdf import PhotoOf
from loupebook.reading.port import Sources
from loupebook.reading.routes import NO_SCOPE
from loupebook.reading.sheet_routes import XLSX, file_answer, page_answer, pdf_answer, zip_answer
from loupebook.reading.table_out import Form, Table, as_csv, as_metadata, as_xlsx
from loupebook.reading.zip_out import PhotoRow, packed
from loupebook.trouble import OURS, told

Key = Annotated[str, Query(min_length=1, max_length=300)]
Part = Annotated[str, Query(max_length=100)]
Before = Annotated[int, Query(ge=0, le=EVER)]
Most = Annotated[int, Query(ge=1, le=500)]
ALL = 20_000
"""More than ten years of one scope: what a paper or a file holds at most."""
IN_PDF = 400
"""A PDF is made while somebody waits: 400 rows take some seconds."""
Whole = Annotated[int, Query(ge=1, le=ALL)]
Photos = Annotated[int, Query(ge=1, le=MOST_PHOTOS)]
Turning = Annotated[bool, Query()]
Size = Annotated[Sheet, Query()]
Of = Annotated[Form, Query()]
Told = dict[str, Any]


def history_routes(sources: Sources, words: Mapping[str, object], photo_of: PhotoOf, whole_of: PhotoOf) -> APIRouter:
    """`/lead/history` and its other forms; `turning` leaves out all but what put the scope out of use or into it."""
    router = APIRouter()
    say = sayer(words)

    def whole(key: str, turning: bool, make: Callable[[Told, str, int], Response], most: int = ALL) -> Response:
        with sources.reading() as connection:
            found = history(connection, sources, key, EVER, most, turning)
        return told(NO_SCOPE) if found is None else make(found, sources.facility().zone, sources.now_ms())

    def rows(key: str, turning: bool, most: int, make: Callable[[Table], Response]) -> Response:
        return whole(key, turning, lambda found, zone, now_ms: make(history_table(found, say, zone, now_ms)), most)

    @router.get("/lead/history")
    def get_history(key: Key, before: Before = EVER, most: Most = MOST, turning: Turning = False) -> Response:
        with sources.reading() as connection:
            found = history(connection, sources, key, before, most, turning)
        return told(NO_SCOPE) if found is None else _json(found)

    @router.get("/lead/history/part")
    def get_part(key: Key, part: Part = "", most: Photos = MOST_PHOTOS) -> Response:
        with sources.reading() as connection:
            return _json(through_time(connection, sources, key, part, most))

    @router.get("/lead/history/sheet")
    def get_sheet(key: Key, sheet: Size = "a4", turning: Turning = False, most: Whole = ALL) -> Response:
        def make(found: Told, zone: str, now_ms: int) -> Response:
            return page_answer(*history_html(found, say, sheet, zone, now_ms))

        return whole(key, turning, make, most)

    @router.get("/lead/history/sheet.pdf")
    def get_pdf(key: Key, sheet: Size = "a4", turning: Turning = False, most: Whole = IN_PDF) -> Response:
        def make(found: Told, zone: str, now_ms: int) -> Response:
            html, _ = history_html(found, say, sheet, zone, now_ms)
            return pdf_answer(html, history_name(found["scope"]), photo_of)

        return whole(key, turning, make, most)

    @router.get("/lead/history/sheet.csv")
    def get_csv(key: Key, form: Of = "spreadsheet", turning: Turning = False, most: Whole = ALL) -> Response:
        kind = "text/csv; charset=utf-8"
        return rows(key, turning, most, lambda table: file_answer(as_csv(table, form), kind, f"{table.name}.csv"))

    @router.get("/lead/history/sheet.csv-metadata.json")
    def get_metadata(key: Key, most: Whole = 1) -> Response:
        kind = "application/csvm+json"
        return rows(
            key, False, most, lambda table: file_answer(as_metadata(table), kind, f"{table.name}.csv-metadata.json")
        )

    @router.get("/lead/history/sheet.xlsx")
    def get_xlsx(key: Key, turning: Turning = False, most: Whole = ALL) -> Response:
        return rows(key, turning, most, lambda table: file_answer(as_xlsx(table), XLSX, f"{table.name}.xlsx"))

    @router.get("/lead/history/sheet.zip")
    def get_zip(
        key: Key, turning: Turning = False, most: Whole = IN_PDF, photos_a_part: Photos = MOST_PHOTOS
    ) -> Response:
        with sources.reading() as connection:
            found = history(connection, sources, key, EVER, most, turning)
            photos = photos_of(connection, sources, key, photos_a_part)
        if found is None:
            return told(NO_SCOPE)
        zone, now_ms = sources.facility().zone, sources.now_ms()
        html, _ = history_html(found, say, "a4", zone, now_ms)
        rows = [
            PhotoRow(
                each["sha256"], each["when_ms"], key, each["part"],
                "; ".join(say(f"seen.{seen['finding']}") for seen in each["findings"]), each["root"] or "",
            )
            for each in photos
        ]  # fmt: skip
        table = history_table(found, say, zone, now_ms)
        return zip_answer(packed(table, html, rows, photo_of, whole_of, say), table.name)

    return router


def _json(value: object) -> Response:
    return Response(msgspec.json.encode(value), media_type="application/json", headers=dict(OURS))
