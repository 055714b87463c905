"""Joins everything into one server."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Annotated

from fastapi import Depends, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

from loupebook import __version__
from loupebook.bulk.routes import bulk_routes
from loupebook.cards.routes import cards_routes
from loupebook.commands import command_routes
from loupebook.door.asks import the_person, the_station, the_viewer
from loupebook.door.keeper import Here, Keeper
from loupebook.door.routes import door_routes
from loupebook.door.trouble import install_trouble
from loupebook.door.who import PersonHere, StationHere, station_state
from loupebook.facility import facility_routes
from loupebook.headers import SecurityHeaders
from loupebook.heads_out import heads_out
from loupebook.health import health_routes
from loupebook.installation import Installation
from loupebook.log.routes import chain_routes
from loupebook.network.plain import WordsOnly
from loupebook.reading.find_routes import find_routes
from loupebook.reading.history_routes import history_routes
from loupebook.reading.hold_routes import hold_routes
from loupebook.reading.labels_routes import labels_routes
from loupebook.reading.packet_routes import packet_routes
from loupebook.reading.routes import StillThere, reading_routes
from loupebook.reading.sheet_routes import sheet_routes
from loupebook.screens import build_id, not_here, read_build, screens_router
from loupebook.settings import Settings
from loupebook.shift_log import Logs, log_routes
from loupebook.taking_in import Photos, taking_in_routes
from loupebook.trouble import Trouble, told
from loupebook.vault.names import Sha256
from loupebook.vault.routes import PhotoDoors, photo_routes

WORDS = {
    400: ("not_understood", "The server could not read what was sent.", "Send it again from the screen it came from."),
    401: ("who", "The server does not know who is asking.", "Sign in and try again."),
    403: ("may_not", "This account may not do that.", "Ask a lead."),
    405: ("not_that_way", "This address cannot be used that way.", "Go back to the first page."),
    413: ("too_big", "What was sent is larger than the server takes.", "Send a smaller one."),
}
"""Status -> code, what happened, what to do next, for replies that no route of ours wrote."""


def create_app(settings: Settings, installation: Installation) -> FastAPI:
    """The server of an installation. It ends the installation when it stops."""

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        after = installation.log.position
        installation.catch_up()
        tasks = [asyncio.create_task(installation.follow(after))]
        if installation.heads_out is not None:
            tasks.append(asyncio.create_task(installation.heads_out.follow()))
        yield
        for task in tasks:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task
        installation.close()

    app = FastAPI(
        title="Loupebook", version=__version__, docs_url=None, redoc_url=None, openapi_url=None, lifespan=living
    )
    installation.heads_out = heads_out(settings, installation.folder, installation.log.reading)
    pages = read_build(settings.screens)
    build = build_id(pages)

    @app.get("/health")
    def health() -> dict[str, object]:
        with installation.log.reading() as connection:
            somebody = bool(installation.people(connection))
        epoch = installation.log.epoch()._asdict()
        return {"version": __version__, "build": build, "epoch": epoch, "people": somebody, "demo": settings.demo}

    for join in JOINS:
        join(app, installation)
    app.include_router(screens_router(pages))
    app.add_exception_handler(HTTPException, _refusal)
    app.add_exception_handler(RequestValidationError, _not_fitting)
    install_trouble(app)
    app.add_middleware(Keeper, door=installation.door)
    if (building := installation.building) is not None:
        app.add_middleware(
            WordsOnly, names=building.hosts, address=building.address, help_address=building.help_address
        )
    app.add_middleware(SecurityHeaders)
    return app


async def _place_of(station: Annotated[StationHere, Depends(the_station)]) -> str:
    return station.place


def _join_door(app: FastAPI, installation: Installation) -> None:
    app.include_router(door_routes(installation.door))


def _join_log(app: FastAPI, installation: Installation) -> None:
    app.include_router(chain_routes(installation.log, the_station, the_station))


def _join_photos(app: FastAPI, installation: Installation) -> None:
    def restricted(sha256: Sha256, viewer: Here) -> bool:
        lead = viewer.person if viewer.person is not None and "lead" in viewer.person.roles else None
        return installation.restricted(sha256, None if lead is None else lead.person)

    doors = PhotoDoors[StationHere, Here](
        named=installation.named,
        stored=installation.stored,
        received=installation.received,
        look_wanted=installation.looking.offer,
        station_of=the_station,
        viewer_of=the_viewer,
        restricted=restricted,
        moves=installation.looking.wait_for_quiet,
    )
    app.include_router(photo_routes(installation.vault, installation.derived, doors))


def _join_cards(app: FastAPI, installation: Installation) -> None:
    app.include_router(cards_routes(installation.cards(), _place_of))


def _join_reading(app: FastAPI, installation: Installation) -> None:
    def still_there(person: Annotated[PersonHere, Depends(the_person)]) -> StillThere:
        return lambda: installation.door.still_signed_in(person)

    app.include_router(reading_routes(installation.lead(), still_there))


def _join_packets(app: FastAPI, installation: Installation) -> None:
    app.include_router(packet_routes(installation.lead(), installation.words, installation.picture))
    app.include_router(find_routes(installation.lead(), installation.words))
    pictures = (installation.picture, installation.whole_picture)
    app.include_router(sheet_routes(installation.lead(), installation.words, *pictures))
    app.include_router(history_routes(installation.lead(), installation.words, *pictures))
    app.include_router(hold_routes(installation.lead(), installation.words, installation.picture))
    app.include_router(labels_routes(installation.lead(), installation.words))


def _join_health(app: FastAPI, installation: Installation) -> None:
    app.include_router(health_routes(installation))


def _join_facility(app: FastAPI, installation: Installation) -> None:
    app.include_router(facility_routes(installation.folder, installation.door))


def _join_bulk(app: FastAPI, installation: Installation) -> None:
    app.include_router(bulk_routes(installation.door, installation.bulk))


def _join_commands(app: FastAPI, installation: Installation) -> None:
    logs, sources = Logs(), installation.lead()
    app.include_router(log_routes(sources, logs))
    app.include_router(
        command_routes(installation.log, installation.door, installation.in_force, sources, logs, installation.erase)
    )


def _join_taking_in(app: FastAPI, installation: Installation) -> None:
    photos = Photos(installation.vault, installation.named, installation.stored, installation.looking.offer)
    app.include_router(taking_in_routes(installation.log, station_state, photos))


Join = Callable[[FastAPI, Installation], None]
"""Adds one folder's routes and hands it what it needs."""

JOINS: tuple[Join, ...] = (
    _join_door, _join_log, _join_photos, _join_cards, _join_reading, _join_packets, _join_commands, _join_facility,
    _join_bulk, _join_health, _join_taking_in,
)  # fmt: skip
"""One line a folder, in the order they are joined. The screens come last: they answer every path left over."""


async def _refusal(request: Request, refusal: Exception) -> Response:
    """Starlette's own refusals, in our shape."""
    status = refusal.status_code if isinstance(refusal, HTTPException) else 500
    if status == 404:
        return not_here()
    code, so, next_step = WORDS.get(status, WORDS[400])
    return told(Trouble(status, code, so, "Nothing was changed.", next_step))


async def _not_fitting(request: Request, refusal: Exception) -> Response:
    """A body or a query that does not fit its route. What was sent is not repeated."""
    _, so, next_step = WORDS[400]
    return told(Trouble(422, "bad_body", so, "Nothing was changed.", next_step))
