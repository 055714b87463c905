"""Every refusal is told in three parts: what is so, what is still safe, what to do next.

Any folder raises `Trouble`; `install_trouble(app)` turns it into `{"trouble": {"code", "so", "safe", "next"}}`.
What was sent is never repeated: it may hold a PIN.
"""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse

from loupebook.log.trouble import LogRefusal

OURS: Mapping[str, str] = {"X-Loupebook": "1", "Cache-Control": "private, no-store"}
"""On every answer of ours, so that a stranger's page with status 200 is never taken for a receipt."""

NOTHING_CHANGED = "Nothing was changed."
ON_TABLET = "What was saved on this tablet stays on it."


class Trouble(Exception):
    """A refusal in words.

    status   the HTTP status that fits
    code     closed list, for programs; stands small on the screen
    so       what is so
    safe     what is still safe
    next     what to do next
    wait_s   whole seconds after which asking again makes sense, if that is known
    """

    def __init__(self, status: int, code: str, so: str, safe: str, next: str, *, wait_s: int | None = None) -> None:
        super().__init__(code)
        self.status = status
        self.code = code
        self.so = so
        self.safe = safe
        self.next = next
        self.wait_s = wait_s


def trouble_answer(trouble: Trouble) -> JSONResponse:
    """The refusal as an HTTP answer."""
    words = {
        "code": trouble.code,
        "so": trouble.so,
        "safe": trouble.safe,
        "next": trouble.next,
    }
    headers = dict(OURS)
    if trouble.wait_s is not None:
        headers["Retry-After"] = str(trouble.wait_s)
    if trouble.status == 401:
        # RFC 9110 section 11.6.1: a 401 names at least one scheme.
        headers["WWW-Authenticate"] = "Station"
    return JSONResponse({"trouble": words}, trouble.status, headers)


def too_much(most_bytes: int) -> Trouble:
    """The body is longer than this route takes."""
    return Trouble(
        413, "too_big", f"More came than this takes ({most_bytes} bytes at most).", NOTHING_CHANGED,
        "Send less at once.",
    )  # fmt: skip


def not_here() -> Trouble:
    """No such route, or not with this method."""
    return Trouble(
        404, "not_here", "There is nothing at this address.", NOTHING_CHANGED,
        "Open Loupebook from its first page.",
    )  # fmt: skip


def install_trouble(app: FastAPI) -> None:
    """Makes a `Trouble` or a refusal of the log, raised anywhere below a route of `app`, its answer."""

    async def told(_: Request, trouble: Exception) -> JSONResponse:
        assert isinstance(trouble, Trouble)
        return trouble_answer(trouble)

    async def log_told(_: Request, refused: Exception) -> JSONResponse:
        assert isinstance(refused, LogRefusal)
        return trouble_answer(Trouble(refused.status, refused.code, refused.so, refused.safe, refused.next))

    app.add_exception_handler(Trouble, told)
    app.add_exception_handler(LogRefusal, log_told)
