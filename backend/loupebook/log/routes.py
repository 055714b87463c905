"""The two routes of a chain over HTTP. Who asks is handed in; the work is done on the writer's thread."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import Awaitable, Callable
from typing import Annotated, Any, Protocol

import msgspec
from fastapi import APIRouter, Depends, Request, Response
from starlette.requests import ClientDisconnect

from loupebook.direct import direct_route
from loupebook.log.intake import MOST_BYTES
from loupebook.log.log import Log
from loupebook.log.trouble import Gap, LogRefusal, NotUnderstood, TooMuch
from loupebook.trouble import OURS, told


class Station(Protocol):
    """The station that asks, as the door found it."""

    @property
    def station(self) -> str: ...


def chain_routes(
    log: Log, station_of: Callable[..., Any], station_or_revoked: Callable[[Request], Awaitable[Station]]
) -> APIRouter:
    """`GET /chains/{chain}/head` for stations, `POST /chains/{chain}/entries?from=N` for revoked ones too.

    Both answer with an object that has `.station`, or refuse by themselves; the first is a dependency.
    """
    router = APIRouter()

    @router.get("/chains/{chain}/head", response_model=None)
    def get_head(chain: str, _station: Annotated[Station, Depends(station_of)]) -> Response:
        head = log.head(chain)
        return _answer(
            {
                "epoch": log.epoch()._asdict(),
                "seq": head.seq,
                "hash": head.hash,
                "backed_up_seq": head.backed_up_seq,
            }
        )

    async def post_entries(request: Request) -> Response:
        station = await station_or_revoked(request)
        try:
            first = _first(request)
            body = await _body(request)
            return _answer(await log.take(request.path_params["chain"], first, body, station.station))
        except LogRefusal as refused:
            return refusal(refused)
        except ClientDisconnect:
            return Response(status_code=499)  # nobody is there to read it

    router.routes.append(direct_route("POST", "/chains/{chain}/entries", post_entries))
    return router


def refusal(refused: LogRefusal) -> Response:
    """A refusal of the log as an answer; a gap repeats what the server has."""
    return told(refused, {"seq": refused.seq, "hash": refused.hash} if isinstance(refused, Gap) else None)


def _first(request: Request) -> int:
    text = request.query_params.get("from", "")
    if not (text.isascii() and text.isdigit() and len(text) <= 16):
        raise NotUnderstood
    return int(text)


async def _body(request: Request) -> bytes:
    """The whole body, at most 2 MiB. Raises TooMuch before more than that is held."""
    announced = request.headers.get("content-length", "")
    if announced.isascii() and announced.isdigit() and int(announced[:20]) > MOST_BYTES:
        raise TooMuch
    pieces: list[bytes] = []
    length = 0
    async for piece in request.stream():
        length += len(piece)
        if length > MOST_BYTES:
            raise TooMuch
        pieces.append(piece)
    return b"".join(pieces)


def _answer(value: object) -> Response:
    return Response(msgspec.json.encode(value), 200, OURS, "application/json")
