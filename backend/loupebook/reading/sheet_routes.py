"""The sheet of a shift: a page, a PDF, CSV in two forms, a workbook, and all of it in one file.

Whom each admits stands in the door's matrix.
"""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Iterable, Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.responses import StreamingResponse

from loupebook.reading.packet_routes import sayer
from loupebook.reading.paper_parts import Sheet, policy_of
from loupebook.reading.pdf import ADDRESS, NoPdf, PhotoOf, as_pdf
from loupebook.reading.port import Sources
from loupebook.reading.say import Say
from loupebook.reading.sheet import ShiftSheet, sheet_of
from loupebook.reading.sheet_paper import file_name, finding_said, sheet_html, sheet_table
from loupebook.reading.table_out import Form, Table, as_csv, as_metadata, as_xlsx
from loupebook.reading.zip_out import PhotoRow, as_zip, packed, pieces
from loupebook.trouble import OURS, Trouble, told

Name = Annotated[str, Query(min_length=1, max_length=200)]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def sheet_routes(sources: Sources, words: Mapping[str, object], photo_of: PhotoOf, whole_of: PhotoOf) -> APIRouter:
    """`/lead/shift/sheet` and its other forms.

    `photo_of` gives a picture that is here and not hidden, `whole_of` the same in its full size.
    """
    router = APIRouter()
    say = sayer(words)

    def read(name: str) -> ShiftSheet:
        with sources.reading() as connection:
            return sheet_of(connection, sources, name)

    def table(name: str) -> Table:
        return sheet_table(read(name), say)

    @router.get("/lead/shift/sheet")
    def get_sheet(name: Name, sheet: Annotated[Sheet, Query()] = "a4", photos: bool = False) -> Response:
        html, style = sheet_html(read(name), say, sheet, photos=photos)
        return page_answer(html, style)

    @router.get("/lead/shift/sheet.pdf")
    def get_pdf(name: Name, sheet: Annotated[Sheet, Query()] = "a4", photos: bool = False) -> Response:
        html, _ = sheet_html(read(name), say, sheet, photos=photos, address=ADDRESS)
        return pdf_answer(html, file_name(name), photo_of)

    @router.get("/lead/shift/sheet.csv")
    def get_csv(name: Name, form: Annotated[Form, Query()] = "spreadsheet") -> Response:
        return file_answer(as_csv(table(name), form), "text/csv; charset=utf-8", f"{file_name(name)}.csv")

    @router.get("/lead/shift/sheet.csv-metadata.json")
    def get_metadata(name: Name) -> Response:
        return file_answer(as_metadata(table(name)), "application/csvm+json", f"{file_name(name)}.csv-metadata.json")

    @router.get("/lead/shift/sheet.xlsx")
    def get_xlsx(name: Name) -> Response:
        return file_answer(as_xlsx(table(name)), XLSX, f"{file_name(name)}.xlsx")

    @router.get("/lead/shift/sheet.zip")
    def get_zip(name: Name) -> Response:
        sheet = read(name)
        html, _ = sheet_html(sheet, say, "a4", photos=True, address=ADDRESS)
        return zip_answer(
            packed(sheet_table(sheet, say), html, _photos(sheet, say), photo_of, whole_of, say), file_name(name)
        )

    return router


def _photos(sheet: ShiftSheet, say: Say) -> list[PhotoRow]:
    """Those of its findings that are here and not hidden."""
    return [
        PhotoRow(shown.sha256, line.begun_ms, line.scope.key, found.part, finding_said(found, say), line.root)
        for line in sheet.lines
        for found in line.findings
        for shown in found.photos
    ]


def page_answer(html: str, style: str) -> Response:
    """A page for paper, which may load nothing but its own style and the photos here."""
    headers = dict(OURS) | {"Content-Security-Policy": policy_of(style)}
    return Response(html, media_type="text/html; charset=utf-8", headers=headers)


def pdf_answer(html: str, name: str, photo_of: PhotoOf) -> Response:
    """The PDF of a page, or that this machine makes none."""
    try:
        made = as_pdf(html, photo_of)
    except NoPdf:
        return told(NO_PDF_HERE)
    headers = dict(OURS) | {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(made, media_type="application/pdf", headers=headers)


def file_answer(data: bytes, kind: str, name: str) -> Response:
    """A file to keep."""
    headers = dict(OURS) | {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type=kind, headers=headers)


def zip_answer(files: Iterable[tuple[str, bytes]], name: str) -> Response:
    """Everything in one file to keep."""
    headers = dict(OURS) | {"Content-Disposition": f'attachment; filename="{name}.zip"'}
    return StreamingResponse(pieces(as_zip(files)), media_type="application/zip", headers=headers)


NO_PDF_HERE = Trouble(
    503, "no_pdf", "This server cannot make a PDF.", "Nothing was changed; the page holds all of it.",
    "Open it as a page and print that. The start says which package is missing.",
)  # fmt: skip
