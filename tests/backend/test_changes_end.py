"""The event stream ends when its reader signed out, was switched off, or their station was withdrawn.

Over real HTTP; nothing sleeps: each test waits on the connection that closes.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Annotated

import pytest
from door_world import LEAD_PIN, Tablet, World, door_app, serving
from fastapi import Depends, FastAPI
from live_server import LiveServer
from loupebook.door.asks import the_person
from loupebook.door.who import PersonHere
from loupebook.reading.routes import StillThere, reading_routes
from sink_tablet import SinkTablet
from story import Tables, lead_sources

pytestmark = pytest.mark.sink

INTERVAL_S = 0.2
MOST_LINES = 400
"""Lines that are read of a stream that should have ended: 40 s of comments, two lines each."""


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    """A door with the lead's pages; the stream asks every fifth of a second, and nothing changes."""
    world = World(tmp_path)

    async def silent() -> AsyncIterator[int]:
        at = world.log.position
        yield at
        while True:
            at = await world.log.changed(at, 60)

    def still_there(person: Annotated[PersonHere, Depends(the_person)]) -> StillThere:
        return lambda: world.door.still_signed_in(person)

    def join(app: FastAPI) -> None:
        sources = replace(lead_sources(Tables()), changes=silent)
        app.include_router(reading_routes(sources, still_there, INTERVAL_S))

    with serving(door_app(world.door, join)) as address:
        world.address = address
        yield world
    world.close()


@contextmanager
def stream(tablet: Tablet) -> Iterator[Iterator[str]]:
    """The lines of an open stream; its first position has come."""
    with tablet.http.stream("GET", "/lead/changes", headers=tablet.headers()) as events:
        assert events.status_code == 200
        lines = events.iter_lines()
        assert next(lines).startswith("data:")
        yield lines


def sign_out(world: World, lead: Tablet) -> None:
    assert lead.post("/door/sign-out", {}).status_code == 200


def withdraw(world: World, lead: Tablet) -> None:
    told = lead.post(f"/door/stations/{lead.station}/revoke", {"reason": "lost"})
    assert told.status_code == 200, told.text


def sign_in_again(world: World, lead: Tablet) -> None:
    """A new session ends the one before at this station."""
    assert lead.sign_in(world.lead_id, LEAD_PIN).status_code == 200


def leave_it_idle(world: World, lead: Tablet) -> None:
    world.clock.go_on(minutes=15, seconds=1)


@pytest.mark.parametrize("ends", [sign_out, withdraw, sign_in_again, leave_it_idle])
def test_the_stream_ends_with_the_session(world: World, ends: Callable[[World, Tablet], None]) -> None:
    lead = world.led()
    with stream(lead) as lines:
        ends(world, lead)
        rest = list(islice(lines, MOST_LINES))
    assert len(rest) < MOST_LINES, "it goes on"
    assert [line for line in rest if line.startswith("data:")] == []


def test_a_living_session_keeps_its_stream(world: World) -> None:
    """Three times the interval without an end: each comment line is one question answered with yes."""
    lead = world.led()
    with stream(lead) as lines:
        still = list(islice((line for line in lines if line), 3))
    assert still == [": still here"] * 3


def test_the_whole_server_tells_nothing_more_to_who_signed_out(tmp_path: Path) -> None:
    """With its own interval of 15 s: the next position ends the stream at once instead of being told."""
    server = LiveServer(tmp_path / "record").start()
    try:
        desk = SinkTablet(server.url, "Desk")
        lead = desk.first(server.said("First code").split()[2])
        other = SinkTablet(server.url, "Sink 2").enrol(desk.invite("Sink 2"))
        with stream(desk.browser) as lines:
            assert desk.browser.post("/door/sign-out", {}).status_code == 200
            other.chain.person = lead
            other.chain.inspection()
            other.send()
            assert not any(line.startswith("data:") for line in islice(lines, MOST_LINES))
        desk.close()
        other.close()
    finally:
        server.close()
