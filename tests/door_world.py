"""A door on a small log of its own: real SQLite, real HTTP, a clock that is moved by hand."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import socket
import threading
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import msgspec
import uvicorn
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from fastapi import FastAPI
from loupebook.door.door import Door
from loupebook.door.fold import FOLDS
from loupebook.door.keeper import Keeper
from loupebook.door.pins import PinHasher
from loupebook.door.port import Appended, Epoch, Head
from loupebook.door.routes import door_routes
from loupebook.door.tables import FOLDED, KEPT
from loupebook.door.trouble import install_trouble
from loupebook.headers import SecurityHeaders
from loupebook.log.port import Counted
from loupebook.record.kinds import About, Entry, Proof
from sqlalchemy import Connection, create_engine, text
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


class SmallLog:
    """The door's `Log`, as small as it can be and still transactional: one SQLite file, entries in a list of rows."""

    def __init__(self, path: Path, clock: HandClock) -> None:
        self._engine = create_engine(f"sqlite:///{path}", isolation_level="AUTOCOMMIT")
        self._clock = clock
        self._one_writer = threading.RLock()
        self.fail_next: Exception | None = None
        SQLModel.metadata.create_all(self._engine, [table.__table__ for table in (*FOLDED, *KEPT)])  # type: ignore[attr-defined]
        with self._engine.connect() as conn:
            conn.execute(text("PRAGMA journal_mode=WAL"))
            conn.execute(text("CREATE TABLE entries (position INTEGER PRIMARY KEY, line TEXT NOT NULL)"))

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        with self._engine.connect() as conn:
            yield conn

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        with self._one_writer, self._engine.connect() as conn:
            conn.execute(text("BEGIN IMMEDIATE"))
            try:
                yield conn
            except BaseException:
                conn.execute(text("ROLLBACK"))
                raise
            conn.execute(text("COMMIT"))

    def append_server(
        self,
        kind: str,
        about: About,
        body: msgspec.Struct,
        person: str,
        proof: Proof,
        check: Callable[[Connection], None],
    ) -> Appended:
        with self.writing() as write:
            check(write)
            position = int(write.execute(text("SELECT COALESCE(MAX(position), 0) + 1 FROM entries")).scalar_one())
            raw = msgspec.Raw(msgspec.json.encode(body))
            at = self._clock().isoformat(timespec="milliseconds")
            chain = "0" * 64
            entry = Entry(1, chain, position, chain, kind, at, None, person, proof, "test", about, raw, [])
            line = msgspec.json.encode(entry).decode()
            write.execute(text("INSERT INTO entries VALUES (:p, :l)"), {"p": position, "l": line})
            hashed = hashlib.sha256(line.encode()).hexdigest()
            counted = Counted(position, position, hashed, entry, body, at, lambda _: None)
            for change in FOLDS[kind](counted):
                write.execute(change.statement.clause, dict(change.values))
            if self.fail_next is not None:
                failure, self.fail_next = self.fail_next, None
                raise failure
            return Appended(position, hashed)

    def epoch(self) -> Epoch:
        return Epoch(1, "epoch-of-the-test")

    def head(self, chain: str) -> Head:
        return Head(0, None, None, None)

    def entries(self) -> list[dict[str, object]]:
        """Every entry written, parsed."""
        with self.reading() as read:
            return [json.loads(row.line) for row in read.execute(text("SELECT line FROM entries ORDER BY position"))]

    def close(self) -> None:
        self._engine.dispose()


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
        self.http = httpx.Client(base_url=address, trust_env=False, timeout=20)
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
        self.log = SmallLog(folder / "log.sqlite", self.clock)
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
        self.log.close()


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
