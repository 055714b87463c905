"""Joins everything into one server."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from loupebook import __version__
from loupebook.headers import SecurityHeaders
from loupebook.screens import build_id, not_here, read_build, screens_router
from loupebook.settings import Settings
from loupebook.trouble import trouble

Join = Callable[[FastAPI, Settings], None]
"""Adds one folder's routes and hands it what it needs; may leave things on `app.state`."""

JOINS: tuple[Join, ...] = ()
"""One line a folder, in the order they are joined. The screens come last: they answer every path left over."""

WORDS = {
    400: ("not_understood", "The server could not read what was sent.", "Send it again from the screen it came from."),
    401: ("who", "The server does not know who is asking.", "Sign in and try again."),
    403: ("may_not", "This account may not do that.", "Ask a lead."),
    405: ("not_that_way", "This address cannot be used that way.", "Go back to the first page."),
    413: ("too_big", "What was sent is larger than the server takes.", "Send a smaller one."),
}
"""Status -> code, what happened, what to do next, for replies that no route of ours wrote."""


def create_app(settings: Settings) -> FastAPI:
    """The server for these settings. Nothing is opened or written before it starts to serve."""
    app = FastAPI(title="Loupebook", version=__version__, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.settings = settings
    pages = read_build(settings.screens)
    build = build_id(pages)

    @app.get("/health")
    def health() -> dict[str, object]:
        return {"version": __version__, "build": build}

    for join in JOINS:
        join(app, settings)
    app.include_router(screens_router(pages))
    app.add_exception_handler(HTTPException, _refusal)
    app.add_exception_handler(RequestValidationError, _not_fitting)
    app.add_middleware(SecurityHeaders)
    return app


async def _refusal(request: Request, refusal: Exception) -> Response:
    """Starlette's own refusals, in our shape."""
    status = refusal.status_code if isinstance(refusal, HTTPException) else 500
    if status == 404:
        return not_here()
    code, so, next_step = WORDS.get(status, WORDS[400])
    return trouble(status, code, so, "Nothing was changed.", next_step)


async def _not_fitting(request: Request, refusal: Exception) -> Response:
    """A body or a query that does not fit its route. What was sent is not repeated."""
    _, so, next_step = WORDS[400]
    return trouble(422, "bad_body", so, "Nothing was changed.", next_step)
