"""The door's share of refusals: words said at many doors, and their way into an answer.

Any folder raises `Trouble`; `install_trouble(app)` makes it the answer. The refusals of the log are troubles too.
"""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse

from loupebook.trouble import Trouble, told

__all__ = ["NOTHING_CHANGED", "ON_TABLET", "Trouble", "install_trouble", "not_here", "told", "too_much"]

NOTHING_CHANGED = "Nothing was changed."
ON_TABLET = "What was saved on this tablet stays on it."


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
    """Makes a `Trouble` raised anywhere below a route of `app` its answer."""

    async def answer(_: Request, trouble: Exception) -> JSONResponse:
        assert isinstance(trouble, Trouble)
        return told(trouble)

    app.add_exception_handler(Trouble, answer)
