"""Stands before the app: over plain http, anywhere but on loopback, it answers with words only.

Without a secure context a browser has no camera, no service worker and no keys, so nothing could be recorded;
and a PIN would cross the network for everybody to read.
"""

from __future__ import annotations

from html import escape

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from loupebook.network.look import CSS, POLICY, document
from loupebook.trouble import Trouble, told

LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})


class WordsOnly:
    """`names`: what the server goes by in the building. Others pass, and are refused where names are looked at."""

    def __init__(self, app: ASGIApp, names: frozenset[str], address: str | None, help_address: str | None) -> None:
        self._app = app
        self._names = names
        self._next = _next(address, help_address)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["scheme"] == "https" or not self._named(scope):
            await self._app(scope, receive, send)
            return
        await self._answer(scope)(scope, receive, send)

    def _named(self, scope: Scope) -> bool:
        host = Headers(scope=scope).get("host", "").lower()
        return host.rsplit(":", 1)[0] in self._names

    def _answer(self, scope: Scope) -> Response:
        reading = scope["method"] in ("GET", "HEAD")
        if reading and scope["path"] == "/page.css":
            return Response(CSS, media_type="text/css")
        if reading and "text/html" in Headers(scope=scope).get("accept", ""):
            return Response(document("This address is not a secure one", WHY + self._next), 403, HTML, "text/html")
        return told(NOT_ENCRYPTED)


NOT_ENCRYPTED = Trouble(
    403, "not_encrypted", "This connection is not encrypted, so nothing is served over it.",
    "What is saved on this tablet stays on it.", "Open Loupebook by its https address.",
)  # fmt: skip

HTML = {"content-security-policy": POLICY, "x-loupebook": "1"}

WHY = """
<p class="lead">At an address without https, the browser closes its camera and its storage, so nothing could be
recorded here. Loupebook shows nothing and takes no PIN over it.</p>
<p>What was saved on this tablet before is still on it.</p>
"""


def _next(address: str | None, help_address: str | None) -> str:
    words = "<h2>What to do</h2>"
    if address is not None:
        words += f'<p>Open <a href="{escape(address)}">{escape(address)}</a>.</p>'
    if help_address is not None:
        words += (
            "<p>If the browser warns there, this tablet does not know the server yet. "
            f'<a href="{escape(help_address)}">This page</a> says how to set it up.</p>'
        )
    return f"<section>{words}<p>Or use the machine the server runs on.</p></section>"
