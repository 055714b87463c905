"""A hold on one sheet, as a page and as PDF. Whom each admits stands in the door's matrix."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from loupebook.reading.hold_paper import Summary, summary_html, summary_name, summary_of
from loupebook.reading.packet_routes import sayer
from loupebook.reading.paper_parts import Sheet
from loupebook.reading.pdf import ADDRESS, PhotoOf
from loupebook.reading.port import Sources
from loupebook.reading.routes import NO_HOLD
from loupebook.reading.sheet_routes import page_answer, pdf_answer
from loupebook.trouble import told

Hold = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
Size = Annotated[Sheet, Query()]


def hold_routes(sources: Sources, words: Mapping[str, object], photo_of: PhotoOf) -> APIRouter:
    """`/lead/holds/{hold}/summary`, also with `.pdf`. `photo_of` gives a picture that is here and not hidden."""
    router = APIRouter()
    say = sayer(words)

    def summary(hold: str) -> Summary | None:
        with sources.reading() as connection:
            return summary_of(connection, sources, hold)

    @router.get("/lead/holds/{hold}/summary")
    def get_summary(hold: Hold, sheet: Size = "a4") -> Response:
        found = summary(hold)
        return told(NO_HOLD) if found is None else page_answer(*summary_html(found, say, sheet))

    @router.get("/lead/holds/{hold}/summary.pdf")
    def get_pdf(hold: Hold, sheet: Size = "a4") -> Response:
        found = summary(hold)
        if found is None:
            return told(NO_HOLD)
        return pdf_answer(summary_html(found, say, sheet, ADDRESS)[0], summary_name(found), photo_of)

    return router
