"""The lead's pages over HTTP. Whom each admits stands in the door's matrix."""

# No postponed annotations here: the routes' parameter types name values of the enclosing function.
from collections.abc import AsyncIterator, Callable
from contextlib import aclosing
from dataclasses import asdict
from typing import Annotated

import msgspec
from anyio import to_thread
from fastapi import APIRouter, Depends, Path, Query, Response
from fastapi.responses import StreamingResponse

from loupebook.reading.agreement import agreement_page
from loupebook.reading.board import Board, whereabouts
from loupebook.reading.changes import STILL_HERE_S, as_event, positions
from loupebook.reading.examples import examples_page
from loupebook.reading.find import find_scopes, whole_scope
from loupebook.reading.hold import hold_page
from loupebook.reading.page import page
from loupebook.reading.policy import policy_page
from loupebook.reading.port import Sources
from loupebook.reading.repairs import repairs
from loupebook.reading.retention import retention_page
from loupebook.reading.shift_page import shift_page
from loupebook.reading.shown import names_of
from loupebook.reading.today import today
from loupebook.trouble import OURS, Trouble, told

Sha256 = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
Shift = Annotated[str, Query(max_length=200)]
Key = Annotated[str, Query(min_length=1, max_length=300)]
Sought = Annotated[str, Query(max_length=200)]


def _json(value: object) -> Response:
    return Response(msgspec.json.encode(value), media_type="application/json", headers=dict(OURS))


StillThere = Callable[[], bool]
"""Whether whoever opened an answer that stays open may still read it. Blocks."""


def reading_routes(
    sources: Sources, still_there_of: Callable[..., StillThere], ask_at_least_s: float = STILL_HERE_S
) -> APIRouter:
    """The pages that the desk reads, and `/lead/changes`.

    `still_there_of`: dependency, for the one answer that stays open. It is asked before each event, and after
    `ask_at_least_s` seconds without one.
    """
    router = APIRouter()
    board = Board()

    @router.get("/lead/today")
    def get_today(shift: Shift = "") -> Response:
        with sources.reading() as connection:
            return _json(today(connection, sources, shift))

    @router.get("/lead/shift")
    def get_shift(name: Shift = "") -> Response:
        with sources.reading() as connection:
            return _json(shift_page(connection, sources, name))

    @router.get("/lead/inspections/{root}")
    def get_page(root: Sha256) -> Response:
        with sources.reading() as connection:
            found = page(connection, sources, root)
        return _json(found) if found is not None else told(NO_INSPECTION)

    @router.get("/lead/holds/{hold}")
    def get_hold(hold: Sha256) -> Response:
        with sources.reading() as connection:
            found = hold_page(connection, sources, hold)
        return _json(found) if found is not None else told(NO_HOLD)

    @router.get("/lead/examples")
    def get_examples() -> Response:
        with sources.reading() as connection:
            return _json(examples_page(connection, sources))

    @router.get("/lead/policy")
    def get_policy() -> Response:
        with sources.reading() as connection:
            return _json(policy_page(connection, sources))

    @router.get("/lead/agreement")
    def get_agreement() -> Response:
        with sources.reading() as connection:
            return _json(agreement_page(connection, sources))

    @router.get("/lead/retention")
    def get_retention() -> Response:
        with sources.reading() as connection:
            return _json(retention_page(connection, sources))

    @router.get("/lead/aside")
    def get_aside() -> Response:
        with sources.reading() as connection:
            names = names_of(connection, sources, sources.stations(connection))
            rows = [asdict(row) | {"station": names.station(row.chain)} for row in sources.asides(connection)]
            forked = sources.strays(connection, list(names.stations))
            strays = [asdict(each) | {"station": names.station(each.chain)} for each in forked]
            return _json({"position": sources.position(connection), "aside": rows, "strays": strays})

    @router.get("/lead/scopes")
    def get_scopes(find: Sought = "") -> Response:
        with sources.reading() as connection:
            return _json(find_scopes(connection, find))

    @router.get("/lead/where")
    def get_where(find: Sought = "") -> Response:
        with sources.reading() as connection:
            return _json(whereabouts(connection, sources, find, board))

    @router.get("/lead/repairs")
    def get_repairs() -> Response:
        with sources.reading() as connection:
            return _json(repairs(connection, sources))

    @router.get("/lead/scope")
    def get_scope(key: Key) -> Response:
        with sources.reading() as connection:
            found = whole_scope(connection, key)
        return _json(found) if found is not None else told(NO_SCOPE)

    @router.get("/lead/changes")
    def get_changes(still_there: Annotated[StillThere, Depends(still_there_of)]) -> Response:
        return StreamingResponse(
            _events(sources, still_there, ask_at_least_s),
            media_type="text/event-stream",
            headers={**OURS} | {"X-Accel-Buffering": "no"},
        )

    return router


async def _events(sources: Sources, still_there: StillThere, ask_at_least_s: float) -> AsyncIterator[bytes]:
    """The stream; it ends, without telling more, when its reader signed out or was withdrawn."""
    async with aclosing(positions(sources.changes(), still_here_s=ask_at_least_s)) as told:
        async for position in told:
            if not await to_thread.run_sync(still_there):
                return
            yield as_event(position)


NO_INSPECTION = Trouble(
    404, "no_inspection", "There is no such inspection here.",
    "Nothing was changed. One that a tablet has not sent yet is safe on it.",
    "Go back to the list, or look again when the tablet has sent.",
)  # fmt: skip
NO_HOLD = Trouble(
    404, "no_hold", "There is no such hold here.", "Nothing was changed.", "Look at the list again.",
)  # fmt: skip
NO_SCOPE = Trouble(
    404, "no_scope", "There is no such scope on record.", "Nothing was changed.",
    "Look for it by its tag or serial number, or bring it in.",
)  # fmt: skip
