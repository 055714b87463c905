"""Who stands at the door: a station by its token, a person by their session. Read afresh at every request."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from sqlalchemy import Connection, select, text

from loupebook.door.rights import Role, Who, roles_of
from loupebook.door.tables import Chain, ChainKey, Person, Session, Station, StationToken
from loupebook.log.asking import ask_one
from loupebook.log.declared import table_of

IDLE_MS = 15 * 60 * 1000
"""A desk's session ends after 15 minutes without a request; the sink locks itself after 2 (product rule)."""
WHOLE_MS = 12 * 3600 * 1000
"""And after 12 hours at the latest, a long shift."""
FRESH_MS = 5 * 60 * 1000
"""How long a PIN given counts as fresh."""

_person = table_of(Person)
_station = table_of(Station)
_chain = table_of(Chain)
_key = table_of(ChainKey)
_token = table_of(StationToken)
_session = table_of(Session)


BY_TOKEN = text(
    "SELECT s.station, s.chain, s.name, s.place, s.side, s.points, s.revoked FROM station_tokens t "
    "JOIN stations s ON s.station = t.station WHERE t.token_hash = :token"
)
BY_SESSION = text(
    "SELECT n.person, p.roles, n.station, n.ticket, n.proved_ms, n.used_ms, n.ends_ms FROM sessions n "
    "JOIN people p ON p.person = n.person JOIN stations s ON s.station = n.station WHERE n.token_hash = :hashed "
    "AND n.ends_ms > :now AND n.used_ms > :idle_since AND p.active = 1 AND s.revoked = 0"
)


@dataclass(frozen=True)
class StationHere:
    """The station a request came from. `chain` is the one it writes now."""

    station: str
    chain: str
    name: str
    place: str
    side: str
    points: tuple[str, ...]
    revoked: bool

    @property
    def who(self) -> frozenset[Who]:
        return frozenset({"revoked"}) if self.revoked else frozenset({"station"})


@dataclass(frozen=True)
class PersonHere:
    """The person a request came from, with the roles they hold now. `proved_ms`: when the PIN was given."""

    person: str
    roles: tuple[Role, ...]
    station: str
    ticket: str
    proved_ms: int
    used_ms: int
    ends_ms: int
    token_hash: str

    @property
    def who(self) -> frozenset[Who]:
        return frozenset(self.roles)

    def fresh(self, now_ms: int, within_ms: int = FRESH_MS) -> bool:
        """Whether the PIN was given within the last `within_ms`."""
        return 0 <= now_ms - self.proved_ms <= within_ms


@dataclass(frozen=True)
class PersonState:
    """A person as the log asks for them when an entry arrives."""

    roles: frozenset[Role]
    active: bool


@dataclass(frozen=True)
class StationState:
    """A chain's station as the log asks for it when entries arrive; `spki` checks the head's signature."""

    station: str
    revoked: bool
    spki: bytes


def new_token() -> str:
    """128 random bits as text: a session's or a station's reference, meaning nothing by itself (ASVS 7.2.3)."""
    return secrets.token_urlsafe(16)


def token_hash(token: str) -> str:
    """What is kept of a token; 128 random bits need no slow hash."""
    return hashlib.sha256(b"loupebook/token/1\n" + token.encode()).hexdigest()


def station_by_token(read: Connection, token: str) -> StationHere | None:
    """The station that shows this token, withdrawn ones too."""
    found = ask_one(read, BY_TOKEN, {"token": token_hash(token)})
    if found is None:
        return None
    station, chain, name, place, side, points, revoked = found
    return StationHere(station, chain, name, place, side, tuple(points.split()), bool(revoked))


def person_by_session(read: Connection, hashed: str, now_ms: int) -> PersonHere | None:
    """The person of a living session: not idle, not over, person active, station not withdrawn.

    `hashed`: the `token_hash` of what the cookie holds.
    """
    found = ask_one(read, BY_SESSION, {"hashed": hashed, "now": now_ms, "idle_since": now_ms - IDLE_MS})
    if found is None:
        return None
    person, roles, station, ticket, proved_ms, used_ms, ends_ms = found
    return PersonHere(person, roles_of(roles), station, ticket, proved_ms, used_ms, ends_ms, hashed)


def people_state(read: Connection, person: str) -> PersonState | None:
    """What the log's door verdicts need of a person; None = `person_unknown`."""
    found = read.execute(select(_person.c.roles, _person.c.active).where(_person.c.person == person)).one_or_none()
    return PersonState(frozenset(roles_of(found.roles)), bool(found.active)) if found else None


def station_state(read: Connection, chain: str) -> StationState | None:
    """What the log's door verdicts need of a chain; None = no enrolled station writes it."""
    found = read.execute(
        select(_station.c.station, _station.c.revoked, _key.c.spki)
        .join(_chain, _chain.c.station == _station.c.station)
        .join(_key, _key.c.chain == _chain.c.chain)
        .where(_chain.c.chain == chain)
    ).one_or_none()
    return StationState(found.station, bool(found.revoked), bytes(found.spki)) if found else None
