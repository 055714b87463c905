"""Finding inspections: the desk's list a page at a time, and what was found as files."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

import msgspec
from fastapi import APIRouter, Depends, Query, Response

from loupebook.reading.find_looks import EVER, PAGE, Wanted, find_looks
from loupebook.reading.find_table import MOST_ROWS, found_table
from loupebook.reading.history_paper import at
from loupebook.reading.packet_routes import sayer
from loupebook.reading.port import Sources
from loupebook.reading.sheet_routes import XLSX, file_answer
from loupebook.reading.table_out import Form, Table, as_csv, as_xlsx
from loupebook.trouble import OURS

Sought = Annotated[str, Query(max_length=200)]
Before = Annotated[int, Query(ge=0, le=EVER)]
Most = Annotated[int, Query(ge=1, le=PAGE)]
Rows = Annotated[int, Query(ge=1, le=MOST_ROWS)]


def asked_for(
    words: Sought = "", person: Sought = "", finding: Sought = "", point: Sought = "", place: Sought = "",
    since: Sought = "", until: Sought = "",
) -> Wanted:  # fmt: skip
    """What is looked for, by its names in the address; '' where it was not asked."""
    return Wanted(words, person, finding, point, place, since, until)


Asked = Annotated[Wanted, Depends(asked_for)]


def find_routes(sources: Sources, words: Mapping[str, object]) -> APIRouter:
    """`/lead/find` and its other forms."""
    router = APIRouter()
    say = sayer(words)

    def table(asked: Wanted, most: int) -> Table:
        with sources.reading() as connection:
            told = find_looks(connection, sources, replace(asked, most=most))
        zone = sources.facility().zone
        return found_table(told, asked, say, zone, f"{at(sources.now_ms(), zone)} {zone}")

    @router.get("/lead/find")
    def get_find(asked: Asked, before: Before = EVER, most: Most = PAGE) -> Response:
        with sources.reading() as connection:
            told = find_looks(connection, sources, replace(asked, before=before, most=most))
        return Response(msgspec.json.encode(told), media_type="application/json", headers=dict(OURS))

    @router.get("/lead/find/sheet.csv")
    def get_csv(asked: Asked, form: Annotated[Form, Query()] = "spreadsheet", most: Rows = MOST_ROWS) -> Response:
        found = table(asked, most)
        return file_answer(as_csv(found, form), "text/csv; charset=utf-8", f"{found.name}.csv")

    @router.get("/lead/find/sheet.xlsx")
    def get_xlsx(asked: Asked, most: Rows = MOST_ROWS) -> Response:
        found = table(asked, most)
        return file_answer(as_xlsx(found), XLSX, f"{found.name}.xlsx")

    return router
