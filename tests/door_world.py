"""A door on a small log of its own: real SQLite, real HTTP, a clock that is moved by hand."""

from __future__ import annotations

import base64
import contextlib
import json
import socket
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from fastapi import FastAPI
from loupebook.door.door import Door
from loupebook.door.fold import FOLDS
from loupebook.door.keeper import Keeper
from loupebook.door.pins import PinHasher
from loupebook.door.rights import role_may
from loupebook.door.routes import door_routes
from loupebook.door.tables import FOLDED, KEPT
from loupebook.door.trouble import install_trouble
from loupebook.door.who import people_state, station_state
from loupebook.headers import SecurityHeaders
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine
from loupebook.log.log import Log
from loupebook.log.port import Change, Counted, Fold, joined
from loupebook.log.port import Door as LogDoor
from sqlalchemy import text
from sqlmodel import SQLModel

HASHER = PinHasher()
"""One for all tests: making it costs a hash."""


class HandClock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = datetime(2025, 11, 25, 6, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def go_on(self, **by: float) -> None:
        self.now += timedelta(**by)


class Failing:
    """A fold that raises once when told to: the disk, seen from inside a transaction."""

    def __init__(self, fold: Fold) -> None:
        self._fold = fold
        self.next: Exception | None = None

    def __call__(self, counted: Counted) -> Iterable[Change]:
        yield from self._fold(counted)
        if self.next is not None:
            failure, self.next = self.next, None
            raise failure


class OwnLog:
    """The log on a database of the test's own, with the door's tables and folds only."""

    def __init__(self, folder: Path, clock: HandClock) -> None:
        self.engine = open_engine(folder / "log.sqlite")
        SQLModel.metadata.create_all(self.engine, [table_of(each) for each in (*FOLDED, *KEPT)])
        self.folds = {kind: Failing(fold) for kind, fold in FOLDS.items()}
        who = LogDoor(station_state, people_state, role_may)
        self.log = Log(self.engine, joined(self.folds), who, folder, now=clock, build="test")

    def entries(self) -> list[dict[str, Any]]:
        """Every entry written, parsed."""
        with self.log.reading() as read:
            return [
                json.loads(row.line) for row in read.execute(text("SELECT line FROM log_entries ORDER BY position"))
            ]

    def close(self) -> None:
        self.log.close()
        self.engine.dispose()


def public_key() -> str:
    """A new P-256 key as a browser exports it: SPKI, base64url without padding."""
    key = ec.generate_private_key(ec.SECP256R1()).public_key()
    spki = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.urlsafe_b64encode(spki).decode().rstrip("=")


@contextlib.contextmanager
def serving(app: FastAPI) -> Iterator[str]:
    """The app on a free loopback port under uvicorn; gives its address. Raises what the start raised."""
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        config = uvicorn.Config(app, log_config=None, access_log=False, lifespan="on")
        server = uvicorn.Server(config)
        up = threading.Event()
        startup = server.startup

        async def announced(sockets: list[socket.socket] | None = None) -> None:
            try:
                await startup(sockets)
            finally:
                up.set()

        server.startup = announced  # type: ignore[method-assign]

        def run() -> None:
            with contextlib.suppress(SystemExit):  # how uvicorn says that it did not start
                server.run(sockets=[sock])

        thread = threading.Thread(target=run)
        thread.start()
        try:
            assert up.wait(20)
            if not server.started:
                raise RuntimeError("the server did not start")
            yield f"http://127.0.0.1:{sock.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(20)


def door_app(door: Door, more: Callable[[FastAPI], None] = lambda app: None) -> FastAPI:
    """An app with the door's routes, its keeper and its refusals; `more` adds routes."""
    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    app.include_router(door_routes(door))
    more(app)
    install_trouble(app)
    app.add_middleware(Keeper, door=door)
    app.add_middleware(SecurityHeaders)
    return app


class Tablet:
    """One browser at the door: its token, its cookie jar, and the headers a browser sends by itself."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.http = httpx.Client(base_url=address, trust_env=False, timeout=60)
        self.token: str | None = None
        self.station = ""
        self.chain = ""

    def headers(self) -> dict[str, str]:
        ours = {"X-Loupebook": "1", "Origin": self.address, "Sec-Fetch-Site": "same-origin"}
        return ours | ({"Authorization": f"Station {self.token}"} if self.token else {})

    def post(self, path: str, body: object, **headers: str) -> httpx.Response:
        return self.http.post(path, json=body, headers=self.headers() | headers)

    def get(self, path: str) -> httpx.Response:
        return self.http.get(path, headers=self.headers())

    def enrolled(self, answer: httpx.Response) -> httpx.Response:
        """Keeps what an enrolment answered."""
        told = answer.json()
        assert answer.status_code == 201, told
        self.token, self.station, self.chain = told["token"], told["station"], told["chain"]
        return answer

    def sign_in(self, person: str, pin: str) -> httpx.Response:
        return self.post("/door/sign-in", {"person": person, "pin": pin})


LEAD_PIN = "618043"
PLACE = {"name": "Sink 1", "place": "Reprocessing", "side": "both"}


class World:
    """A door, its log, its clock, its server, and a first tablet that can be set up."""

    def __init__(self, folder: Path) -> None:
        self.clock = HandClock()
        self.own = OwnLog(folder, self.clock)
        self.log = self.own.log
        self.door = Door(
            self.log,
            facility=lambda: {"name": "Harrow Lake Day Hospital"},
            clock=self.clock,
            hasher=HASHER,
        )
        self.app = door_app(self.door)
        self.address = ""
        self.lead_id = ""
        self._tablets: list[Tablet] = []

    def tablet(self) -> Tablet:
        tablet = Tablet(self.address)
        self._tablets.append(tablet)
        return tablet

    def first(self, code: str, pin: str = LEAD_PIN) -> tuple[Tablet, httpx.Response]:
        """The first person, Moira Keld, at the first station."""
        tablet = self.tablet()
        body = {
            "code": code,
            "person": {"name": "Moira Keld", "pin": pin},
            "station": PLACE,
            "public_key": public_key(),
        }
        return tablet, tablet.post("/door/first", body)

    def led(self) -> Tablet:
        """The first tablet with the lead signed in."""
        from loupebook.door.stations import first_code

        code = first_code(self.door)
        assert code is not None
        tablet, answer = self.first(code)
        tablet.enrolled(answer)
        self.lead_id = answer.json()["person"]
        return tablet

    def invited(self, lead: Tablet, name: str = "Sink 2", points: Sequence[str] = ("after_cleaning",)) -> Tablet:
        """One more station by the lead's code."""
        wish = {"name": name, "place": "Reprocessing", "side": "dirty", "points": list(points)}
        asked = lead.post("/door/invite", wish)
        assert asked.status_code == 201, asked.text
        tablet = self.tablet()
        tablet.enrolled(tablet.post("/door/enrol", {"code": asked.json()["code"], "public_key": public_key()}))
        return tablet

    def person(self, lead: Tablet, name: str, roles: Sequence[str], pin: str) -> str:
        """A person added by the lead; the new id."""
        added = lead.post("/door/people", {"name": name, "roles": list(roles), "pin": pin})
        assert added.status_code == 201, added.text
        return str(added.json()["person"])

    def close(self) -> None:
        for tablet in self._tablets:
            tablet.http.close()
        self.own.close()


def code_of(answer: httpx.Response) -> str:
    """The trouble's code, after a look that it is told in three parts."""
    trouble = answer.json()["trouble"]
    assert set(trouble) == {"code", "so", "safe", "next"}
    assert all(trouble.values())
    return str(trouble["code"])


@contextlib.contextmanager
def opened(folder: Path) -> Iterator[World]:
    """A world whose server runs."""
    world = World(folder)
    try:
        with serving(world.app) as address:
            world.address = address
            yield world
    finally:
        world.close()
