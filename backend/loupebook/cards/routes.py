"""`GET /cards` over HTTP. Whom it admits stands in the door's matrix; of which place, the station that asks."""

# No postponed annotations here: the route's parameter types name values of the enclosing function.
from collections.abc import Callable
from typing import Annotated, Any

import msgspec
from fastapi import APIRouter, Depends, Query, Response

from loupebook.cards.cards import cards
from loupebook.cards.port import Sources

HEADERS = {"Cache-Control": "private, no-store", "X-Loupebook": "1"}


def cards_routes(sources: Sources, place_of: Callable[..., Any]) -> APIRouter:
    """`place_of` is a dependency that gives the place of the station that asks."""
    router = APIRouter()

    @router.get("/cards")
    def get_cards(
        place: Annotated[str, Depends(place_of)],
        since: Annotated[int, Query(ge=0, le=2**53 - 1)] = 0,
        epoch: Annotated[str, Query(max_length=100)] = "",
    ) -> Response:
        with sources.reading() as connection:
            answer = cards(connection, sources, place, since, epoch)
        return Response(msgspec.json.encode(answer), media_type="application/json", headers=HEADERS)

    return router
