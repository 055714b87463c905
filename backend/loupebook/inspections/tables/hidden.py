"""Photos that may show a person or patient data: hidden from everybody, until a lead shows them again.

A photo is hidden while one entry that hides it is named by no `photo.shown_again`: so it is the same for every order
of arrival, and what a tablet hid offline stays hidden although a lead, who had not heard of it, showed the photo again.
Taking back the entry (`entry.withdrawn`) changes nothing here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import msgspec
from sqlalchemy import Connection, text
from sqlmodel import Field, SQLModel

from loupebook.log.asking import ask, ask_value, ask_values
from loupebook.log.declared import KEYED, insert_all, table_of

OPEN_FOR_MS = 10 * 60 * 1000
"""How long a lead who said why may look at a hidden photo (product rule, no source)."""


class PhotoRestricted(SQLModel, table=True):
    """One entry that hides a photo."""

    __tablename__ = "photos_restricted"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    photo: str = Field(index=True)
    changed: int = Field(index=True)


class PhotoShownAgain(SQLModel, table=True):
    """One entry that hid a photo, and the lead's entry that ends it."""

    __tablename__ = "photos_shown_again"
    __table_args__ = KEYED
    restriction: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    photo: str = Field(index=True)
    reason: str
    changed: int = Field(index=True)


class PhotoOpened(SQLModel, table=True):
    """A lead's look at a hidden photo."""

    __tablename__ = "photos_opened"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    photo: str = Field(index=True)
    person: str
    when_ms: int
    reason: str


ADD_RESTRICTED, ADD_SHOWN_AGAIN, ADD_OPENED = (
    insert_all(table_of(model)) for model in (PhotoRestricted, PhotoShownAgain, PhotoOpened)
)

_ENDED = "EXISTS (SELECT 1 FROM photos_shown_again u WHERE u.restriction = r.version)"


def hidden_now(photo: str) -> str:
    """SQL: whether the photo of this column or parameter is hidden."""
    return f"EXISTS (SELECT 1 FROM photos_restricted r WHERE r.photo = {photo} AND NOT {_ENDED})"


IS_HIDDEN = text(f"SELECT {hidden_now(':photo')}")
HIDES = text(f"SELECT r.version FROM photos_restricted r WHERE r.photo = :photo AND NOT {_ENDED}")
OPENED_SINCE = text(
    "SELECT EXISTS (SELECT 1 FROM photos_opened WHERE photo = :photo AND person = :person AND when_ms >= :since)"
)
TOUCHED = text(
    f"SELECT r.photo, r.version, {_ENDED} FROM photos_restricted r WHERE r.photo IN "
    "(SELECT photo FROM photos_restricted WHERE changed > :since UNION ALL "
    "SELECT photo FROM photos_shown_again WHERE changed > :since)"
)
STORY = text(
    "SELECT w.value, r.version, a.kind, a.person, a.chain, a.at, r.version, NULL FROM json_each(:photos) w "
    "JOIN photos_restricted r ON r.photo = w.value JOIN acts a ON a.version = r.version "
    "UNION ALL SELECT w.value, u.version, a.kind, a.person, a.chain, a.at, u.restriction, u.reason "
    "FROM json_each(:photos) w JOIN photos_shown_again u ON u.photo = w.value JOIN acts a ON a.version = u.version "
    "UNION ALL SELECT w.value, o.version, a.kind, a.person, a.chain, a.at, NULL, o.reason "
    "FROM json_each(:photos) w JOIN photos_opened o ON o.photo = w.value JOIN acts a ON a.version = o.version "
    "UNION ALL SELECT w.value, q.version, a.kind, a.person, a.chain, a.at, NULL, q.reason FROM json_each(:photos) w "
    "JOIN photo_erasures_asked q ON q.photo = w.value JOIN acts a ON a.version = q.version "
    "UNION ALL SELECT w.value, e.version, a.kind, a.person, a.chain, a.at, e.asked, NULL FROM json_each(:photos) w "
    "JOIN photos_erased e ON e.photo = w.value JOIN acts a ON a.version = e.version "
    "ORDER BY 1, 6, 2"
)


@dataclass(frozen=True, slots=True)
class HiddenAct:
    """One thing done about a photo's hiding: hidden, shown again (`restriction` ends), looked at; asked to be erased,
    erased (`restriction` is the asking)."""

    entry: str
    kind: str
    person: str
    chain: str
    at: str
    restriction: str | None
    reason: str | None


def is_hidden(connection: Connection, photo: str) -> bool:
    """Whether somebody hid this photo and no lead showed it again."""
    return bool(ask_value(connection, IS_HIDDEN, {"photo": photo}))


def hides(connection: Connection, photo: str) -> set[str]:
    """The entries that hide a photo now."""
    return set(ask_values(connection, HIDES, {"photo": photo}))


def opened(connection: Connection, photo: str, person: str, now_ms: int) -> bool:
    """Whether this person said within the last minutes why they look at it."""
    asked = {"photo": photo, "person": person, "since": now_ms - OPEN_FOR_MS}
    return bool(ask_value(connection, OPENED_SINCE, asked))


def touched(connection: Connection, since: int) -> list[dict[str, object]]:
    """Photos ever hidden about which something changed after a position: hidden now, and which entries were ended."""
    found: dict[str, dict[str, list[str]]] = {}
    for photo, version, ended in sorted(map(tuple, ask(connection, TOUCHED, {"since": since}))):
        row = found.setdefault(photo, {"stand": [], "ended": []})
        row["ended" if ended else "stand"].append(version)
    return [{"photo": photo, "hidden": bool(row["stand"]), "ended": row["ended"]} for photo, row in found.items()]


def stories(connection: Connection, photos: Sequence[str]) -> Mapping[str, list[HiddenAct]]:
    """What was done about the hiding of each of these photos, in the order of its moments."""
    if not photos:
        return {}
    told: dict[str, dict[tuple[str, str | None], HiddenAct]] = {}
    for photo, *rest in ask(connection, STORY, {"photos": msgspec.json.encode(list(photos)).decode()}):
        act = HiddenAct(*rest)
        told.setdefault(photo, {})[act.entry, act.restriction] = act
    return {photo: list(acts.values()) for photo, acts in told.items()}
