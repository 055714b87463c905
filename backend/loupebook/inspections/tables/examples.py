"""A facility's own examples: photos of its record that stand for a finding and a grade, beside the grade buttons."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, text
from sqlmodel import Field, SQLModel

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.log.asking import ask, ask_one
from loupebook.log.declared import KEYED, insert_all, table_of

MOST_EACH = 3
"""Examples a tablet carries of one finding and grade, the newest."""
MOST = 150
"""Examples it carries at all: at about 60 kB each, 9 MB (product rule, no source)."""


class Example(SQLModel, table=True):
    """One example as it was chosen."""

    __tablename__ = "photo_examples"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    photo: str
    finding: str
    grade: str
    note: str | None = None


class ExampleWithdrawn(SQLModel, table=True):
    """The entry that ends an example."""

    __tablename__ = "photo_examples_withdrawn"
    __table_args__ = KEYED
    example: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    reason: str


ADD_EXAMPLE, ADD_EXAMPLE_WITHDRAWN = (insert_all(table_of(model)) for model in (Example, ExampleWithdrawn))

_STANDS = "NOT EXISTS (SELECT 1 FROM photo_examples_withdrawn w WHERE w.example = e.version)"
_SHOWN = (
    "SELECT e.version, e.photo, e.finding, e.grade, e.note, a.person, a.at, "
    f"{hidden_now('e.photo')} AS hidden, a.scope "
    f"FROM photo_examples e JOIN acts a ON a.version = e.version WHERE {_STANDS}"
)
STANDING = text(f"{_SHOWN} ORDER BY e.finding, e.grade, a.at DESC, e.version")
ONE = text(f"{_SHOWN} AND e.version = :example")


@dataclass(frozen=True, slots=True)
class Shown:
    """An example that stands. `hidden`: its photo is hidden by now, so nobody is shown it."""

    example: str
    photo: str
    finding: str
    grade: str
    note: str | None
    person: str
    at: str
    hidden: int
    scope: str


def examples(connection: Connection) -> list[Shown]:
    """Every example that stands, by finding and grade, the newest first."""
    return [Shown(*row) for row in ask(connection, STANDING)]


def example_of(connection: Connection, example: str) -> Shown | None:
    """One example, if it stands."""
    row = ask_one(connection, ONE, {"example": example})
    return Shown(*row) if row else None


def carried(standing: list[Shown]) -> list[Shown]:
    """Those a tablet carries away: none that is hidden, the newest of each finding and grade, within the bound."""
    kept: list[Shown] = []
    count: dict[tuple[str, str], int] = {}
    for each in standing:
        of = (each.finding, each.grade)
        if not each.hidden and count.get(of, 0) < MOST_EACH:
            count[of] = count.get(of, 0) + 1
            kept.append(each)
    return sorted(kept, key=lambda each: each.at, reverse=True)[:MOST]
