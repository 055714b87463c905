"""Tables of shifts: what was closed, how a lead answered what stood open, what goes on to the next, what was noted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import msgspec
from sqlalchemy import Connection, Index, bindparam, delete, text
from sqlalchemy.dialects.sqlite import insert as upsert
from sqlmodel import Field, SQLModel

from loupebook.log.asking import ask, ask_one, ask_values
from loupebook.log.declared import KEYED, insert_all, table_of
from loupebook.log.port import Statement
from loupebook.record.kinds import ShiftClosed


class ShiftClosing(SQLModel, table=True):
    """A closed shift. `body` is what its entry says, as JSON; `changed` the position at which it was closed."""

    __tablename__ = "shift_closings"
    version: str = Field(primary_key=True)
    shift: str = Field(index=True)
    place: str
    person: str
    at: str
    begins_ms: int
    ends_ms: int
    body: str
    changed: int
    __table_args__ = (
        Index("shift_closings_newest", "place", "changed"),
        Index("shift_closings_when", "place", "ends_ms"),
        KEYED,
    )


class ShiftAnswer(SQLModel, table=True):
    """One answer to one thing that stands open; of the same thing the newest counts."""

    __tablename__ = "shift_answers"
    version: str = Field(primary_key=True)
    shift: str = Field(index=True)
    sort: str
    of_row: str
    answer: str
    reason: str | None = None
    owner: str | None = None
    person: str
    at: str
    changed: int
    __table_args__ = KEYED


class ShiftCarried(SQLModel, table=True):
    """What a closed shift left to the next at its place; gone as soon as a later one closes with it done."""

    __tablename__ = "shift_carried"
    __table_args__ = KEYED
    place: str = Field(primary_key=True)
    sort: str = Field(primary_key=True)
    of_row: str = Field(primary_key=True)
    shift: str
    closing: str
    reason: str | None = None
    owner: str | None = None


class ShiftNoted(SQLModel, table=True):
    """One entry that came after its shift was closed, and that a lead has seen."""

    __tablename__ = "shift_noted"
    __table_args__ = KEYED
    closing: str = Field(primary_key=True)
    entry: str = Field(primary_key=True)
    by: str


class ShiftAddition(SQLModel, table=True):
    """That a lead has seen what came: whose `shift_noted` it wrote."""

    __tablename__ = "shift_additions"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    closing: str = Field(index=True)
    person: str
    at: str
    entries: int
    note: str | None = None


FOLDED: tuple[type[SQLModel], ...] = (ShiftClosing, ShiftAnswer, ShiftCarried, ShiftNoted, ShiftAddition)

_carried, _noted = table_of(ShiftCarried), table_of(ShiftNoted)
ADD_CLOSING, ADD_ANSWER, ADD_ADDITION = (
    insert_all(table_of(model)) for model in (ShiftClosing, ShiftAnswer, ShiftAddition)
)
_KEY = ("place", "sort", "of_row")
_row = upsert(_carried).values({column.name: bindparam(column.name) for column in _carried.c})
CARRY = Statement(
    _row.on_conflict_do_update(
        index_elements=list(_KEY),
        set_={column.name: _row.excluded[column.name] for column in _carried.c if column.name not in _KEY},
    )
)
DONE = Statement(delete(_carried).where(*(_carried.c[name] == bindparam(f"of_{name}") for name in _KEY)))
"""Shifts are closed on the server's chain alone, so the last one folded is the one that counts."""
NOTE = Statement(
    upsert(_noted).values({column.name: bindparam(column.name) for column in _noted.c}).on_conflict_do_nothing()
)

Key = tuple[str, str]
"""What stands open: its sort, and what it is (`record/kinds.py`, `Sort`)."""


@dataclass(frozen=True)
class Closing:
    """A closed shift as its entry says it, by whom and when; `changed` is where it stands in the log."""

    version: str
    shift: str
    place: str
    person: str
    at: str
    begins_ms: int
    ends_ms: int
    body: ShiftClosed
    changed: int


@dataclass(frozen=True)
class Answer:
    """How a lead answered: without or carried, why, to whom, who and when."""

    answer: str
    reason: str | None
    owner: str | None
    person: str
    at: str


@dataclass(frozen=True)
class Carried:
    """What came over from a shift that is closed: why, to whom, and the note that was written for this one."""

    shift: str
    closing: str
    reason: str | None
    owner: str | None


@dataclass(frozen=True)
class Addition:
    """That somebody took note of so many entries that came after a shift was closed."""

    person: str
    at: str
    entries: int
    note: str | None


_CLOSING = "SELECT version, shift, place, person, at, begins_ms, ends_ms, body, changed FROM shift_closings"
CLOSED = text(f"{_CLOSING} WHERE shift IN :shifts ORDER BY changed DESC").bindparams(
    bindparam("shifts", expanding=True)
)
OF_VERSION = text(f"{_CLOSING} WHERE version = :version")
LAST = text(f"{_CLOSING} WHERE place = :place AND changed < :before ORDER BY changed DESC LIMIT 1")
ANSWERS = text(
    "SELECT sort, of_row, answer, reason, owner, person, at FROM shift_answers WHERE shift = :shift ORDER BY changed"
)
CARRIED = text("SELECT sort, of_row, shift, closing, reason, owner FROM shift_carried WHERE place = :place")
ADDITIONS = text("SELECT person, at, entries, note FROM shift_additions WHERE closing = :closing ORDER BY at")

_UNNOTED = (
    "SELECT DISTINCT a.version, a.kind, a.chain, a.seq, a.person, a.at, a.changed FROM {of} WHERE a.changed > :changed "
    "AND NOT EXISTS (SELECT 1 FROM shift_noted n WHERE n.closing = :closing AND n.entry = a.version) ORDER BY a.changed"
)
_PART = "JOIN acts o ON o.version = p.version AND o.replaced_by IS NULL AND o.withdrawn_by IS NULL"
LATE_LOOKS = text(
    _UNNOTED.format(
        of=f"inspection_parts p {_PART} AND p.shift = :shift JOIN log_entries e ON e.inspection = p.begun "
        "JOIN acts a ON a.version = e.hash"
    )
)
LATE_STEPS = text(
    _UNNOTED.format(
        of="scope_steps d JOIN acts a ON a.version = d.version "
        "AND d.place = :place AND d.when_ms >= :begins_ms AND d.when_ms < :ends_ms"
    )
)
TOUCHED_LOOKS = text(
    f"SELECT DISTINCT c.version FROM acts a JOIN inspection_parts p ON p.begun = a.begun {_PART} "
    "JOIN shift_closings c ON c.shift = p.shift WHERE a.changed > :since AND a.begun <> '' "
    "AND c.place || '' = :place AND a.changed > c.changed + 0"
)
"""From the newest acts to their shifts, never from all closings: what is added up to is not looked up in an index."""
_CHANGED = (
    f"SELECT x.version, x.person FROM inspection_parts p {_PART} JOIN shift_closings c ON c.shift = p.shift "
    "JOIN {by} WHERE p.root = :root AND x.changed > c.changed"
)
CHANGED_AFTER = text(
    _CHANGED.format(by="acts x ON x.begun = p.begun AND x.entry <> x.version")
    + " UNION "
    + _CHANGED.format(
        by="acts t ON t.begun = p.begun AND t.withdrawn_by IS NOT NULL JOIN acts x ON x.version = t.withdrawn_by"
    )
)
TOUCHED_STEPS = text(
    "SELECT DISTINCT c.version FROM acts a JOIN scope_steps d ON d.version = a.version "
    "JOIN shift_closings c ON c.place = d.place AND d.when_ms >= c.begins_ms AND d.when_ms < c.ends_ms "
    "WHERE a.changed > :since AND c.place = :place AND a.changed > c.changed + 0"
)
CAME = text(
    "SELECT d.scope, min(d.when_ms), d.step FROM scope_steps d JOIN acts a ON a.version = d.version "
    "WHERE d.place = :place AND d.when_ms >= :begins_ms AND d.when_ms < :ends_ms AND d.step IN ('received', 'taken') "
    "AND d.of_step IS NULL AND a.replaced_by IS NULL AND a.withdrawn_by IS NULL GROUP BY d.scope ORDER BY 2, 1"
)
LOOKED_SINCE = text(
    "SELECT w.value FROM json_each(:scopes) w WHERE EXISTS (SELECT 1 FROM inspection_parts p JOIN acts a "
    "ON a.version = p.version WHERE p.scope = w.value AND p.when_ms >= :since AND p.practice = 0 "
    "AND a.replaced_by IS NULL AND a.withdrawn_by IS NULL)"
)


def closings(connection: Connection, shifts: Sequence[str]) -> dict[str, Closing]:
    """Those of the shifts that are closed; of two records of one, that of the first."""
    return {row[1]: _closing(tuple(row)) for row in ask(connection, CLOSED, {"shifts": list(shifts)})}


def closing_of(connection: Connection, version: str) -> Closing | None:
    """The closing whose entry has this hash."""
    row = ask_one(connection, OF_VERSION, {"version": version})
    return _closing(tuple(row)) if row else None


def last_closing(connection: Connection, place: str, before: int) -> Closing | None:
    """The newest closing at a place that stands before a position of the log."""
    row = ask_one(connection, LAST, {"place": place, "before": before})
    return _closing(tuple(row)) if row else None


def _closing(row: tuple[object, ...]) -> Closing:
    *told, body, changed = row
    return msgspec.convert(
        dict(zip(("version", "shift", "place", "person", "at", "begins_ms", "ends_ms"), told, strict=True))
        | {"body": msgspec.json.decode(str(body)), "changed": changed},
        Closing,
    )


def answers(connection: Connection, shift: str) -> dict[Key, Answer]:
    """How things that stand open in a shift were answered; one that was opened again has no answer."""
    newest = {(row[0], row[1]): Answer(*row[2:]) for row in ask(connection, ANSWERS, {"shift": shift})}
    return {key: answer for key, answer in newest.items() if answer.answer != "open"}


def carried(connection: Connection, place: str) -> dict[Key, Carried]:
    """What closed shifts left to the next one at a place, and no later one has done."""
    return {(row[0], row[1]): Carried(*row[2:]) for row in ask(connection, CARRIED, {"place": place})}


def additions(connection: Connection, closing: str) -> list[Addition]:
    """Who took note of what came after a shift was closed, in turn."""
    return [Addition(*row) for row in ask(connection, ADDITIONS, {"closing": closing})]


@dataclass(frozen=True)
class Late:
    """An entry of a closed shift that began to count after it was closed, and that no lead has noted."""

    entry: str
    kind: str
    chain: str
    seq: int
    person: str
    at: str
    changed: int


def late_of(connection: Connection, closing: Closing) -> list[Late]:
    """What came after a shift was closed and is not noted, in the order in which it began to count."""
    about: dict[str, object] = {"changed": closing.changed, "closing": closing.version}
    where = {"place": closing.place, "begins_ms": closing.begins_ms, "ends_ms": closing.ends_ms}
    rows = [
        *ask(connection, LATE_LOOKS, about | {"shift": closing.shift}),
        *ask(connection, LATE_STEPS, about | where),
    ]
    return sorted((Late(*row) for row in rows), key=lambda late: late.changed)


def touched_since(connection: Connection, place: str, since: int) -> list[str]:
    """The closings of a place whose shifts anything was added to after a position of the log, and after they closed."""
    asked = {"place": place, "since": since}
    rows = [*ask_values(connection, TOUCHED_LOOKS, asked), *ask_values(connection, TOUCHED_STEPS, asked)]
    return list(dict.fromkeys(rows))


def changed_after(connection: Connection, root: str) -> list[tuple[str, str]]:
    """Corrections and withdrawals in an inspection that began to count after its shift was closed, each with its
    author."""
    return [(version, person) for version, person in ask(connection, CHANGED_AFTER, {"root": root})]


@dataclass(frozen=True)
class CameScope:
    """A scope that was received, or taken out for use, at a place; when first in the shift (ms UTC), by which step."""

    scope: str
    when_ms: int
    step: str


def came(connection: Connection, place: str, begins_ms: int, ends_ms: int) -> list[CameScope]:
    """The scopes that came at a place within a time, each once, in the order in which they came."""
    asked = {"place": place, "begins_ms": begins_ms, "ends_ms": ends_ms}
    return [CameScope(*row) for row in ask(connection, CAME, asked)]


def looked_since(connection: Connection, scopes: Iterable[str], since_ms: int) -> set[str]:
    """Those of the scopes that somebody began to look at since a moment, anywhere."""
    wanted = msgspec.json.encode(list(scopes)).decode()
    return set(ask_values(connection, LOOKED_SINCE, {"scopes": wanted, "since": since_ms}))
