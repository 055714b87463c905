"""The packet of a repair and its label, as a page and as PDF. Whom each admits stands in the door's matrix."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Callable, Mapping
from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from loupebook.reading.packet import Packet, packet_of
from loupebook.reading.paper import Label, label_html, packet_html
from loupebook.reading.paper_parts import Sheet, policy_of
from loupebook.reading.pdf import ADDRESS, NoPdf, PhotoOf, as_pdf
from loupebook.reading.port import Sources
from loupebook.reading.say import Say
from loupebook.trouble import OURS, Trouble, told

Entry = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
Pages = Callable[[Packet, str], tuple[str, str]]


def sayer(words: Mapping[str, object]) -> Say:
    """Says a sentence of the words by its key, with what stands in its braces; one or many by its `count`."""

    def say(key: str, **values: object) -> str:
        found = words.get(key, key.split(".", 1)[-1])
        if isinstance(found, Mapping):
            found = found["one" if values.get("count") == 1 else "other"]
        text = str(found)
        for name, value in values.items():
            text = text.replace(f"{{{name}}}", str(value))
        return text

    return say


def packet_routes(sources: Sources, words: Mapping[str, object], photo_of: PhotoOf) -> APIRouter:
    """`/repairs/{repair}/packet`, `/repairs/{repair}/label`, each also with `.pdf`.

    `repair` is any word that asks for the repair or opens it. `photo_of` gives a picture that is here and not hidden.
    """
    router = APIRouter()
    say = sayer(words)

    def page(repair: str, make: Pages) -> Response:
        with sources.reading() as connection:
            packet = packet_of(connection, sources, repair)
        if packet is None:
            return told(NO_REPAIR)
        html, style = make(packet, "")
        return Response(
            html,
            media_type="text/html; charset=utf-8",
            headers=dict(OURS) | {"Content-Security-Policy": policy_of(style)},
        )

    def pdf(repair: str, name: str, make: Pages) -> Response:
        with sources.reading() as connection:
            packet = packet_of(connection, sources, repair)
        if packet is None:
            return told(NO_REPAIR)
        try:
            made = as_pdf(make(packet, ADDRESS)[0], photo_of)
        except NoPdf:
            return told(NO_PDF)
        headers = dict(OURS) | {"Content-Disposition": f'inline; filename="{name}-{repair[:8]}.pdf"'}
        return Response(made, media_type="application/pdf", headers=headers)

    @router.get("/repairs/{repair}/packet")
    def get_packet(repair: Entry, sheet: Annotated[Sheet, Query()] = "a4") -> Response:
        return page(repair, lambda packet, address: packet_html(packet, say, sheet, address))

    @router.get("/repairs/{repair}/packet.pdf")
    def get_packet_pdf(repair: Entry, sheet: Annotated[Sheet, Query()] = "a4") -> Response:
        return pdf(repair, "packet", lambda packet, address: packet_html(packet, say, sheet, address))

    @router.get("/repairs/{repair}/label")
    def get_label(repair: Entry, size: Annotated[Label, Query()] = "a6") -> Response:
        return page(repair, lambda packet, _: label_html(packet, say, size))

    @router.get("/repairs/{repair}/label.pdf")
    def get_label_pdf(repair: Entry, size: Annotated[Label, Query()] = "a6") -> Response:
        return pdf(repair, "label", lambda packet, _: label_html(packet, say, size))

    return router


NO_REPAIR = Trouble(
    404, "no_repair", "No such repair stands here.",
    "Nothing was changed. One that a tablet has not sent yet is safe on it.",
    "Look at the list of repairs, or again when the tablet has sent.",
)  # fmt: skip
NO_PDF = Trouble(
    503, "no_pdf", "This server cannot make a PDF.", "Nothing was changed; the packet is complete on its page.",
    "Open the packet as a page and print that. The start says which package is missing.",
)  # fmt: skip
