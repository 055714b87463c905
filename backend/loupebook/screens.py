"""The built screens, read once into memory and served as they were pressed."""

from __future__ import annotations

import hashlib
import json
import mimetypes
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request, Response

from loupebook.trouble import Trouble, told

TYPES = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
}
"""Named here because the machine's own table differs from one system to the next."""

FOR_EVER = "public, max-age=31536000, immutable"
ASK_FIRST = "no-cache"


@dataclass(frozen=True, slots=True)
class Page:
    """One file of the build: its bytes, its gzip bytes if the build pressed it, its type and tag."""

    body: bytes
    pressed: bytes | None
    type: str
    tag: str
    keep: str


def read_build(dist: Path) -> dict[str, Page]:
    """Every file of the build by its address path; empty when nothing was built."""
    if not (dist / "index.html").is_file():
        return {}
    files = sorted(path for path in dist.rglob("*") if path.is_file() and path.suffix != ".gz")
    pages = {"/" + path.relative_to(dist).as_posix(): _page(path, dist) for path in files}
    pages["/"] = pages.pop("/index.html")
    return pages


def _page(path: Path, dist: Path) -> Page:
    body = path.read_bytes()
    pressed = path.with_name(path.name + ".gz")
    guessed = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    return Page(
        body=body,
        pressed=pressed.read_bytes() if pressed.is_file() else None,
        type=TYPES.get(path.suffix, guessed),
        tag='"' + hashlib.sha256(body).hexdigest()[:32] + '"',
        keep=FOR_EVER if path.parent == dist / "assets" else ASK_FIRST,
    )


def build_id(pages: Mapping[str, Page]) -> str:
    """The id the build was compiled with; "none" when nothing was built."""
    if "/build.json" not in pages:
        return "none"
    row: dict[str, Any] = json.loads(pages["/build.json"].body)
    return str(row["build"])


NOT_BUILT = Trouble(
    503, "not_built", "The screens of this server have not been built.", "The record is safe; nothing was changed.",
    "Start it with: python3 backend/start.py",
)  # fmt: skip
NOT_HERE = Trouble(
    404, "not_here", "There is nothing at this address.", "The record is safe; nothing was changed.",
    "Open Loupebook from its first page.",
)  # fmt: skip


def screens_router(pages: Mapping[str, Page]) -> APIRouter:
    """Routes for the built files; a path that is none of them is answered in words."""
    router = APIRouter()

    @router.api_route("/{path:path}", methods=["GET", "HEAD"], include_in_schema=False)
    async def file(request: Request) -> Response:
        page = pages.get(request.url.path)
        if page is not None:
            return _reply(page, request)
        if not pages and request.url.path == "/":
            return told(NOT_BUILT)
        return not_here()

    return router


def not_here() -> Response:
    """The answer to an address nothing lives at."""
    return told(NOT_HERE)


def _reply(page: Page, request: Request) -> Response:
    headers = {"etag": page.tag, "cache-control": page.keep, "vary": "accept-encoding"}
    if request.headers.get("if-none-match") == page.tag:
        return Response(status_code=304, headers=headers)
    body = page.body
    if page.pressed is not None and _takes_gzip(request.headers.get("accept-encoding", "")):
        body = page.pressed
        headers["content-encoding"] = "gzip"
    return Response(body, headers=headers, media_type=page.type)


def _takes_gzip(accept: str) -> bool:
    """Whether an Accept-Encoding header allows gzip (RFC 9110, 12.5.3)."""
    for part in accept.lower().split(","):
        name, _, weight = part.strip().partition(";")
        if name.strip() == "gzip":
            return weight.replace(" ", "") not in ("q=0", "q=0.0", "q=0.00", "q=0.000")
    return False
