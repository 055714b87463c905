"""A route that is its own ASGI application, for the two ways that tablets send: nothing is resolved around it.

The framework's dependencies, body readers and exit stacks cost more there than the work itself. What has to stand
before such a route stands in the door's `Keeper`, as before every other.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from loupebook.trouble import Trouble, told


class Direct:
    """Answers requests with one coroutine; a `Trouble` it raises is told."""

    def __init__(self, answer: Callable[[Request], Awaitable[Response]]) -> None:
        self._answer = answer

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            response = await self._answer(Request(scope, receive, send))
        except Trouble as trouble:
            response = told(trouble)
        await response(scope, receive, send)


def direct_route(method: str, path: str, answer: Callable[[Request], Awaitable[Response]]) -> Route:
    """The route; parameters of the path stand in `request.path_params`."""
    return Route(path, Direct(answer), methods=[method], include_in_schema=False)
