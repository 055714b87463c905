"""A feature's SQLModel tables as the writer sees them: the table behind a model, and an insert of all its columns."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Table, bindparam, insert
from sqlmodel import SQLModel

from loupebook.log.port import Statement


def table_of(model: type[SQLModel]) -> Table:
    """The table behind a model."""
    table = model.__table__  # type: ignore[attr-defined]
    assert isinstance(table, Table)
    return table


def insert_all(table: Table, skip: Iterable[str] = ()) -> Statement:
    """An insert with one bind parameter a column, named like it."""
    left_out = set(skip)
    return Statement(insert(table).values({c.name: bindparam(c.name) for c in table.c if c.name not in left_out}))
