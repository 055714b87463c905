"""Labels of our own as a page and as PDF, and the tools there are. Whom each admits stands in the door's matrix."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Mapping
from typing import Annotated

import msgspec
from fastapi import APIRouter, Query, Response

from loupebook.reading.labels import MOST, NoLabel, What, labelled
from loupebook.reading.labels_paper import Form, Size, labels_html
from loupebook.reading.packet_routes import sayer
from loupebook.reading.port import Sources
from loupebook.reading.sheet_routes import page_answer, pdf_answer
from loupebook.tools.tables import tools_known
from loupebook.trouble import OURS, Trouble, told

Of = Annotated[list[Annotated[str, Query(min_length=1, max_length=300)]], Query(min_length=1, max_length=MOST)]


def labels_routes(sources: Sources, words: Mapping[str, object]) -> APIRouter:
    """`/lead/labels`, `/lead/labels.pdf`: `what` each of `of` is, the `form` of its code, the `size` of the paper."""
    router = APIRouter()
    say = sayer(words)

    def made(what: What, of: list[str], form: Form, size: Size) -> tuple[str, str]:
        with sources.reading() as connection:
            return labels_html(labelled(connection, sources, what, of), say, form, size, sources.facility().name)

    @router.get("/lead/labels")
    def get_labels(what: What, of: Of, form: Form = "qr", size: Size = "a4") -> Response:
        try:
            return page_answer(*made(what, of, form, size))
        except NoLabel as lacking:
            return told(no_label(lacking.of))

    @router.get("/lead/labels.pdf")
    def get_pdf(what: What, of: Of, form: Form = "qr", size: Size = "a4") -> Response:
        try:
            html, _ = made(what, of, form, size)
        except NoLabel as lacking:
            return told(no_label(lacking.of))
        return pdf_answer(html, f"labels-{what}", lambda _: None)

    @router.get("/lead/tools")
    def get_tools() -> Response:
        with sources.reading() as connection:
            rows = [{"tool": each.tool, "what": each.what, "place": each.place} for each in tools_known(connection)]
        return Response(msgspec.json.encode({"tools": rows}), media_type="application/json", headers=dict(OURS))

    return router


def no_label(of: str) -> Trouble:
    return Trouble(
        404, "no_label", f"No label can be made for “{of}”: it is not on record, or its name does not fit one.",
        "Nothing was changed and nothing was printed.", "Look at the list again, or give the scope a facility tag.",
    )  # fmt: skip
