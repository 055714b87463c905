"""What a route asks of the door: who came. `Keeper` has admitted them; these only hand them out.

They are coroutines because nothing in them waits: the framework sends every plain function to a thread and back.

@router.get("/lead/today")
def today(person: Annotated[PersonHere, Depends(the_person)]) -> ...:
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from fastapi import Request

from loupebook.door import words
from loupebook.door.door import Door
from loupebook.door.keeper import Here
from loupebook.door.rights import Role
from loupebook.door.who import FRESH_MS, PersonHere, StationHere


def here(request: Request) -> Here:
    """Whoever came. A route reached without a keeper in front of it admits nobody."""
    found = getattr(request.state, "here", None)
    return cast(Here, found) if found is not None else Here(None, None)


async def the_station(request: Request) -> StationHere:
    """The station that asks; withdrawn ones only where the matrix admits them."""
    station = here(request).station
    if station is None:
        raise words.no_station()
    return station


async def the_person(request: Request) -> PersonHere:
    """The signed-in person who asks."""
    return _signed_in(request)


def _signed_in(request: Request) -> PersonHere:
    person = here(request).person
    if person is None:
        raise words.sign_in_first()
    return person


async def the_viewer(request: Request) -> Here:
    """A station, a person, or both: for what either may see."""
    found = here(request)
    if found.station is None and found.person is None:
        raise words.sign_in_first()
    return found


def need(*roles: Role) -> Callable[[Request], PersonHere]:
    """Dependency: the person, if they hold one of the roles. For a part of a route that asks for more than its row."""

    def needed(request: Request) -> PersonHere:
        person = _signed_in(request)
        if set(roles).isdisjoint(person.roles):
            raise words.not_your_part()
        return person

    return needed


def fresh(door: Door, within_ms: int = FRESH_MS) -> Callable[[Request], PersonHere]:
    """Dependency: the person, if their PIN was given within `within_ms`; else Trouble `prove_again` (ASVS 7.5.3).

    For what gives rights away or ends a record. The answer to the trouble is one more sign-in.
    """

    def proved(request: Request) -> PersonHere:
        person = _signed_in(request)
        if not person.fresh(door.now_ms(), within_ms):
            raise words.prove_again()
        return person

    return proved
