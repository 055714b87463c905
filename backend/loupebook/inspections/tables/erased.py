"""Photos whose bytes two leads had erased: one asked, with a reason, and another agreed.

What was asked stands while the photo is hidden and no lead showed it again since. The entries that name the photo, its
hash and its length stay, so that it is provable what was there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
from sqlalchemy import Connection, text
from sqlmodel import Field, SQLModel

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.log.asking import ask, ask_value, ask_values
from loupebook.log.declared import KEYED, insert_all, table_of


class PhotoErasureAsked(SQLModel, table=True):
    """A lead asked for a photo to be erased."""

    __tablename__ = "photo_erasures_asked"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    photo: str = Field(index=True)
    person: str
    reason: str
    changed: int


class PhotoErased(SQLModel, table=True):
    """A second lead agreed."""

    __tablename__ = "photos_erased"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    photo: str = Field(index=True)
    person: str
    at: str
    asked: str


ADD_ASKED, ADD_ERASED = (insert_all(table_of(model)) for model in (PhotoErasureAsked, PhotoErased))

_ERASED = "EXISTS (SELECT 1 FROM photos_erased e WHERE e.photo = q.photo)"
_SHOWN_SINCE = "EXISTS (SELECT 1 FROM photos_shown_again u WHERE u.photo = q.photo AND u.changed > q.changed)"
_STANDS = f"NOT {_ERASED} AND NOT {_SHOWN_SINCE} AND {hidden_now('q.photo')}"

IS_ERASED = text("SELECT EXISTS (SELECT 1 FROM photos_erased WHERE photo = :photo)")
ASKED = text(f"SELECT q.version, q.photo, q.person FROM photo_erasures_asked q WHERE q.photo = :photo AND {_STANDS}")
WAITING = text(
    "SELECT q.version, q.photo, q.person, a.at, a.scope, (SELECT i.root FROM photos_of p "
    "JOIN inspection_parts i ON i.begun = p.begun WHERE p.scope = a.scope AND p.sha256 = q.photo LIMIT 1) "
    f"FROM photo_erasures_asked q JOIN acts a ON a.version = q.version WHERE {_STANDS} ORDER BY a.at, q.version"
)
ALL_ERASED = text(
    "SELECT e.photo, e.at, e.person, q.person, q.reason FROM photos_erased e "
    "JOIN photo_erasures_asked q ON q.version = e.asked ORDER BY e.photo, e.at"
)
ERASED_OF = text("SELECT photo FROM photos_erased WHERE photo IN (SELECT value FROM json_each(:photos))")


@dataclass(frozen=True, slots=True)
class Asked:
    """What a lead asked for and nobody answered."""

    version: str
    photo: str
    person: str


@dataclass(frozen=True, slots=True)
class Waiting(Asked):
    """The same for a list: when, of which scope, and the inspection whose page shows the photo."""

    at: str
    scope: str | None
    root: str | None


@dataclass(frozen=True, slots=True)
class Erasure:
    """A photo that was erased: when, who agreed, who had asked, and why."""

    photo: str
    at: str
    by: str
    asked_by: str
    reason: str


def is_erased(connection: Connection, photo: str) -> bool:
    """Whether two leads had this photo erased."""
    return bool(ask_value(connection, IS_ERASED, {"photo": photo}))


def asked_of(connection: Connection, photo: str) -> list[Asked]:
    """Who asked for this photo to be erased, and it still stands."""
    return [Asked(*row) for row in ask(connection, ASKED, {"photo": photo})]


def erasures_waiting(connection: Connection) -> list[Waiting]:
    """Everything a lead asked to be erased that waits for another lead, the oldest first."""
    return [Waiting(*row) for row in ask(connection, WAITING)]


def erasures(connection: Connection) -> dict[str, Erasure]:
    """Every photo that was erased, by its hash."""
    return {row[0]: Erasure(*row) for row in ask(connection, ALL_ERASED)}


def erased_of(connection: Connection, photos: Sequence[str]) -> set[str]:
    """Those of these photos that were erased."""
    if not photos:
        return set()
    return set(ask_values(connection, ERASED_OF, {"photos": msgspec.json.encode(list(photos)).decode()}))
