"""How a refusal is told, in every folder: what is so, what is still safe, what to do next.

A leaf: it imports nothing of ours, so that every folder may raise `Trouble`. What was sent is never repeated in one:
it may hold a PIN.
"""

from __future__ import annotations

from collections.abc import Mapping

from fastapi.responses import JSONResponse

OURS: Mapping[str, str] = {
    "X-Loupebook": "1",
    "Cache-Control": "private, no-store",
    "X-Content-Type-Options": "nosniff",
}
"""On every answer of ours, so that a stranger's page with status 200 is never taken for a receipt."""


class Trouble(Exception):
    """A refusal in words.

    status   the HTTP status that fits
    code     closed list, for programs; stands small on the screen
    so       what is so
    safe     what is still safe
    next     what to do next
    wait_s   whole seconds after which asking again makes sense, if that is known
    """

    status: int
    code: str
    so: str
    safe: str
    next: str

    def __init__(self, status: int, code: str, so: str, safe: str, next: str, *, wait_s: int | None = None) -> None:
        super().__init__(code)
        self.status = status
        self.code = code
        self.so = so
        self.safe = safe
        self.next = next
        self.wait_s = wait_s

    def words(self) -> dict[str, str]:
        """`{code, so, safe, next}`: what stands under `trouble` in an answer."""
        return {"code": self.code, "so": self.so, "safe": self.safe, "next": self.next}


def told(trouble: Trouble, beside: Mapping[str, object] | None = None) -> JSONResponse:
    """The refusal as an HTTP answer; `beside` are facts that stand next to it, as where a gap begins."""
    headers = dict(OURS)
    if trouble.wait_s is not None:
        headers["Retry-After"] = str(trouble.wait_s)
    if trouble.status == 401:
        # RFC 9110 section 11.6.1: a 401 names at least one scheme.
        headers["WWW-Authenticate"] = "Station"
    return JSONResponse({"trouble": trouble.words(), **(beside or {})}, trouble.status, headers)


def our_fault() -> Trouble:
    """A fault of ours: the log has the detail, the reply says what a person needs."""
    return Trouble(
        500,
        "our_fault",
        "The server failed at this.",
        "What was on the server before is safe; what a tablet has not sent stays on the tablet.",
        "Try again. If it stays so, keep the log and tell whoever looks after the server.",
    )
