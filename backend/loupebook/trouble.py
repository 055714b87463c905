"""How a reply says that something did not go: what happened, what is safe, what to do next."""

from __future__ import annotations

from fastapi.responses import JSONResponse


def trouble(status: int, code: str, so: str, safe: str, next_step: str) -> JSONResponse:
    """The one shape of a reply that brings bad news; `code` is for programs, the rest for people."""
    return JSONResponse({"trouble": {"code": code, "so": so, "safe": safe, "next": next_step}}, status_code=status)


def our_fault() -> JSONResponse:
    """The answer to a fault of ours: the log has the detail, the reply says what a person needs."""
    return trouble(
        500,
        "our_fault",
        "The server failed at this.",
        "What was on the server before is safe; what a tablet has not sent stays on the tablet.",
        "Try again. If it stays so, keep the log and tell whoever looks after the server.",
    )
