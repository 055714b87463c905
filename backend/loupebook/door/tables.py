"""The door's tables. *Folded* ones come from entries and may be dropped and rebuilt; *kept* ones are never in the log.

Names, PINs, tokens and public keys are kept only: an entry holds ids. Times are milliseconds UTC since 1970.
"""

from __future__ import annotations

from sqlalchemy import bindparam, insert, update
from sqlmodel import Field, SQLModel

from loupebook.log.declared import insert_all, table_of
from loupebook.log.port import Statement

# ---------------------------------------------------------------- folded


class Person(SQLModel, table=True):
    """Someone who may act here: what the entries say of their part. `changed` is a log position."""

    __tablename__ = "people"
    person: str = Field(primary_key=True)
    roles: str
    active: int
    changed: int = Field(index=True)


class Station(SQLModel, table=True):
    """An enrolled browser. `chain` is the one it writes now; `points` parted by blanks."""

    __tablename__ = "stations"
    station: str = Field(primary_key=True)
    chain: str
    name: str
    place: str
    side: str
    points: str
    revoked: int
    enrolled_at: str
    changed: int = Field(index=True)


class Chain(SQLModel, table=True):
    """A chain and the station that writes or wrote it."""

    __tablename__ = "station_chains"
    chain: str = Field(primary_key=True)
    station: str = Field(index=True)
    old_chain: str | None = None
    why: str | None = None


class Recovered(SQLModel, table=True):
    """A lead's sign-in was opened by their recovery code, or a new one was made at the server: which entry says so.

    `by`: recovery_code or server_machine.
    """

    __tablename__ = "recovered"
    entry: str = Field(primary_key=True)
    person: str
    station: str | None = None
    at: str
    by: str


FOLDED: tuple[type[SQLModel], ...] = (Person, Station, Chain, Recovered)

# ---------------------------------------------------------------- kept outside the log


class PersonName(SQLModel, table=True):
    """How a person is called on screens."""

    __tablename__ = "person_names"
    person: str = Field(primary_key=True)
    name: str
    initials: str


class Pin(SQLModel, table=True):
    """A person's PIN as an Argon2id string. `by_lead`: the person has not yet chosen their own."""

    __tablename__ = "pins"
    person: str = Field(primary_key=True)
    hash: str
    by_lead: int
    set_ms: int


class PinTry(SQLModel, table=True):
    """Wrong PINs in a row of one person at one station."""

    __tablename__ = "pin_tries"
    person: str = Field(primary_key=True)
    station: str = Field(primary_key=True)
    wrong: int
    not_before_ms: int


class Ticket(SQLModel, table=True):
    """The server's word that this person proved themself at this station then. Kept for ever: entries name it."""

    __tablename__ = "tickets"
    ticket: str = Field(primary_key=True)
    person: str
    station: str
    how: str
    issued_ms: int


class Session(SQLModel, table=True):
    """A signed-in person at a station; of the token only the hash is here."""

    __tablename__ = "sessions"
    token_hash: str = Field(primary_key=True)
    person: str = Field(index=True)
    station: str = Field(index=True)
    ticket: str
    proved_ms: int
    used_ms: int
    ends_ms: int


class StationToken(SQLModel, table=True):
    """What a station shows to be let in; only the hash."""

    __tablename__ = "station_tokens"
    token_hash: str = Field(primary_key=True)
    station: str = Field(index=True)
    issued_ms: int


class StationSeen(SQLModel, table=True):
    """When a station last asked for anything; at most one write a minute."""

    __tablename__ = "station_seen"
    station: str = Field(primary_key=True)
    seen_ms: int


class ChainKey(SQLModel, table=True):
    """The public key behind a chain's id: SubjectPublicKeyInfo, DER, P-256."""

    __tablename__ = "chain_keys"
    chain: str = Field(primary_key=True)
    spki: bytes


class Invite(SQLModel, table=True):
    """A one-time code for a station. `used_ms` is set in the transaction that enrols it."""

    __tablename__ = "invites"
    code_hash: str = Field(primary_key=True)
    name: str
    place: str
    side: str
    points: str
    by_person: str
    by_ticket: str
    until_ms: int
    used_ms: int | None = None


class PinCode(SQLModel, table=True):
    """A one-time code by which a person sets their PIN. `why`: first (a lead gave it) or recovery (a lead's own)."""

    __tablename__ = "pin_codes"
    code_hash: str = Field(primary_key=True)
    person: str = Field(index=True)
    why: str
    made_ms: int
    until_ms: int | None = None
    used_ms: int | None = None
    by_person: str


class RecoveredSeen(SQLModel, table=True):
    """Which lead has seen which recovery."""

    __tablename__ = "recovered_seen"
    entry: str = Field(primary_key=True)
    person: str = Field(primary_key=True)


KEPT: tuple[type[SQLModel], ...] = (
    PersonName, Pin, PinTry, Ticket, Session, StationToken, StationSeen, ChainKey, Invite, PinCode, RecoveredSeen,
)  # fmt: skip

# ---------------------------------------------------------------- what folds write

_person = table_of(Person)
_station = table_of(Station)
_chain = table_of(Chain)

ADD_PERSON = Statement(
    insert(_person).values({name: bindparam(name) for name in ("person", "roles", "active", "changed")})
)
CHANGE_PERSON = Statement(
    update(_person)
    .where(_person.c.person == bindparam("of_person"))
    .values({name: bindparam(name) for name in ("roles", "active", "changed")})
)
ADD_RECOVERED = insert_all(table_of(Recovered))
ADD_STATION = insert_all(_station)
ADD_CHAIN = insert_all(_chain)
MOVE_STATION = Statement(
    update(_station)
    .where(_station.c.station == bindparam("of_station"))
    .values(chain=bindparam("chain"), changed=bindparam("changed"))
)
REVOKE_STATION = Statement(
    update(_station)
    .where(_station.c.station == bindparam("of_station"))
    .values(revoked=1, changed=bindparam("changed"))
)
