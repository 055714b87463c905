"""What is said of a hold beside its decisions, and what a lead asks somebody to do themself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Connection, Index, bindparam, text
from sqlmodel import Field, SQLModel

from loupebook.log.asking import ask, ask_one
from loupebook.log.declared import KEYED, insert_again, insert_all, table_of
from loupebook.log.port import Statement


class HoldSaid(SQLModel, table=True):
    """A word about a hold: `phoned`, `escalated` or `advised`. `over`: which of them it answers; `said`: its body."""

    __tablename__ = "hold_said"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    hold: str = Field(index=True)
    what: str
    over: str
    said: str


class WorkAsked(SQLModel, table=True):
    """What a lead asked for. `is_open` until it is answered by somebody who may answer it, or asked for no more."""

    __tablename__ = "work_asked"
    version: str = Field(primary_key=True)
    scope: str = Field(index=True)
    what: str
    of_entry: str = Field(index=True)
    to_person: str | None = None
    parts: str
    photos: str
    not_by: str
    reason: str
    is_open: int
    first: str | None = None
    """Of a second opinion what stood first when it was asked for, as JSON."""
    drawn: str | None = None
    """The end of the inspection by which it was drawn by chance."""
    __table_args__ = (KEYED,)


class WorkAnswer(SQLModel, table=True):
    """What came of it: `done`, `seen`, `not_done` by whoever was asked, or `dropped` by a lead."""

    __tablename__ = "work_answers"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    asked: str = Field(index=True)
    did: str
    finding: str | None = None
    grade: str | None = None
    words: str | None = None


FOLDED: tuple[type[SQLModel], ...] = (HoldSaid, WorkAsked, WorkAnswer)

_said, _asked, _answers = (table_of(model) for model in FOLDED)
Index("work_asked_open", _asked.c.scope, sqlite_where=text("is_open = 1"), postgresql_where=text("is_open = 1"))

_SECOND = text("what = 'second_opinion'")
Index("work_asked_second", _asked.c.drawn, sqlite_where=_SECOND, postgresql_where=_SECOND)

ADD_SAID, ADD_ASKED, ADD_ANSWER = insert_all(_said), insert_all(_asked), insert_all(_answers)
CORRECT_SAID = insert_again(_said, ("hold", "what", "over"))
CORRECT_ANSWER = insert_again(_answers, ("asked",))

_MAY = (
    "a.replaced_by IS NULL AND a.withdrawn_by IS NULL AND (w.did = 'dropped' OR ("
    "(k.to_person IS NULL OR k.to_person = a.person) "
    "AND NOT EXISTS (SELECT 1 FROM json_each(k.not_by) n WHERE n.value = a.person)))"
)
"""An answer counts only by whoever was asked, and never by one who must not answer: nobody does it for another."""
_SETTLE = (
    "UPDATE work_asked AS k SET is_open = CASE WHEN EXISTS (SELECT 1 FROM work_answers w JOIN acts a "
    f"ON a.version = w.version WHERE w.asked = k.version AND {_MAY}) THEN 0 ELSE 1 END WHERE k.version "
)
SETTLE_WORK = Statement(text(_SETTLE + "= :of_asked"))
SETTLE_WORK_OF = Statement(text(_SETTLE + "IN (SELECT b.asked FROM work_answers b WHERE b.version = :of_answer)"))
"""After anything that asks, answers, or takes an answer back, and after the acts of it are written."""


@dataclass(frozen=True)
class Said:
    """A word about a hold that stands, with who said it and when."""

    entry: str
    version: str
    hold: str
    what: str
    over: tuple[str, ...]
    said: dict[str, Any]
    person: str
    chain: str
    at: str


@dataclass(frozen=True)
class Asked:
    """What was asked for, by whom, when."""

    entry: str
    scope: str
    what: str
    of: str
    to: str | None
    parts: tuple[str, ...]
    photos: tuple[str, ...]
    not_by: tuple[str, ...]
    reason: str
    open: bool
    first: str | None
    drawn: str | None
    person: str
    at: str


@dataclass(frozen=True)
class Answer:
    """What came of it. `counts`: by somebody who may answer."""

    entry: str
    asked: str
    did: str
    finding: str | None
    grade: str | None
    words: str | None
    person: str
    chain: str
    at: str
    counts: int


_STANDS = "a.replaced_by IS NULL AND a.withdrawn_by IS NULL"
SAID = text(
    "SELECT a.entry, d.version, d.hold, d.what, d.over, d.said, a.person, a.chain, a.at FROM hold_said d "
    f"JOIN acts a ON a.version = d.version WHERE d.hold IN :holds AND {_STANDS} ORDER BY a.when_ms, d.version"
).bindparams(bindparam("holds", expanding=True))
CONFIRMED = text("SELECT d.hold, o.value FROM hold_decisions d, json_each(d.over) o WHERE d.hold IN :holds").bindparams(
    bindparam("holds", expanding=True)
)
_ASKED = (
    "SELECT d.version, d.scope, d.what, d.of_entry, d.to_person, d.parts, d.photos, d.not_by, d.reason, d.is_open, "
    "d.first, d.drawn, a.person, a.at FROM work_asked d JOIN acts a ON a.version = d.version "
)
OPEN = text(f"{_ASKED}WHERE d.is_open = 1 ORDER BY a.when_ms, d.version")
OF = text(f"{_ASKED}WHERE d.of_entry IN :of ORDER BY a.when_ms, d.version").bindparams(bindparam("of", expanding=True))
OF_SCOPE = text(f"{_ASKED}WHERE d.scope = :scope ORDER BY a.when_ms, d.version")
ONE = text(f"{_ASKED}WHERE d.version = :asked")
SECOND = text(
    f"{_ASKED}WHERE d.what = 'second_opinion' AND d.first IS NOT NULL ORDER BY a.when_ms DESC, d.version LIMIT :most"
)
OVERDUE = text(f"{_ASKED}WHERE d.is_open = 1 AND d.drawn IS NOT NULL AND a.when_ms < :before")
ANSWERS = text(
    "SELECT a.entry, w.asked, w.did, w.finding, w.grade, w.words, a.person, a.chain, a.at, "
    f"CASE WHEN {_MAY} THEN 1 ELSE 0 END FROM work_answers w JOIN acts a ON a.version = w.version "
    f"JOIN work_asked k ON k.version = w.asked WHERE w.asked IN :asked AND {_STANDS} ORDER BY a.when_ms, w.version"
).bindparams(bindparam("asked", expanding=True))


def said_of(connection: Connection, holds: Sequence[str]) -> dict[str, list[Said]]:
    """By hold, what was said of it beside its decisions, the oldest first."""
    found: dict[str, list[Said]] = {hold: [] for hold in holds}
    rows = ask(connection, SAID, {"holds": list(found)}) if found else ()
    for entry, version, hold, what, over, said, person, chain, at in rows:
        body = msgspec.json.decode(said)
        found[hold].append(Said(entry, version, hold, what, tuple(msgspec.json.decode(over)), body, person, chain, at))
    return found


def confirmed_of(connection: Connection, holds: Sequence[str]) -> dict[str, list[str]]:
    """By hold, the words by phone that its decisions name."""
    found: dict[str, list[str]] = {hold: [] for hold in holds}
    for hold, entry in ask(connection, CONFIRMED, {"holds": list(found)}) if found else ():
        found[hold].append(entry)
    return found


def unconfirmed(said: Sequence[Said], confirmed: Sequence[str]) -> list[Said]:
    """Words by phone that no decision names."""
    named = set(confirmed)
    return [each for each in said if each.what == "phoned" and not {each.entry, each.version} & named]


def unanswered(said: Sequence[Said]) -> list[Said]:
    """What was brought before somebody and nothing came back of."""
    named = {over for each in said if each.what == "advised" for over in each.over}
    return [each for each in said if each.what == "escalated" and each.entry not in named]


def _row(row: Sequence[Any]) -> Asked:
    version, scope, what, of, to, parts, photos, not_by, reason, is_open, *rest = row
    each = [tuple(msgspec.json.decode(text, type=list[str])) for text in (parts, photos, not_by)]
    return Asked(version, scope, what, of, to, each[0], each[1], each[2], reason, bool(is_open), *rest)


def asked_open(connection: Connection) -> list[Asked]:
    """Everything that is asked for and not answered, the longest first."""
    return [_row(row) for row in ask(connection, OPEN)]


def asked_of(connection: Connection, of: Sequence[str]) -> list[Asked]:
    """What was asked for because of these entries, the oldest first."""
    return [_row(row) for row in ask(connection, OF, {"of": list(of)})] if of else []


def asked_about(connection: Connection, scope: str) -> list[Asked]:
    """All that was ever asked for about a scope, the oldest first."""
    return [_row(row) for row in ask(connection, OF_SCOPE, {"scope": scope})]


def asked_one(connection: Connection, asked: str) -> Asked | None:
    row = ask_one(connection, ONE, {"asked": asked})
    return None if row is None else _row(row)


def second_opinions(connection: Connection, most: int) -> list[Asked]:
    """Second opinions that say what stood first, the newest first."""
    return [_row(row) for row in ask(connection, SECOND, {"most": most})]


def drawn_before(connection: Connection, before_ms: int) -> list[Asked]:
    """What was drawn by chance before a moment and nobody answered."""
    return [_row(row) for row in ask(connection, OVERDUE, {"before": before_ms})]


def answers_of(connection: Connection, asked: Sequence[str]) -> dict[str, list[Answer]]:
    """By what was asked, what came of it, the oldest first."""
    found: dict[str, list[Answer]] = {each: [] for each in asked}
    if asked:
        for row in ask(connection, ANSWERS, {"asked": list(found)}):
            found[row[1]].append(Answer(*row))
    return found
