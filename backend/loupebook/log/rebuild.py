"""The features' tables made anew from entries and verdicts. It makes no verdict, so the rows come out the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, Engine, Table, bindparam, case, select

from loupebook.log.pins import Pins
from loupebook.log.port import Counted, Folds, Statement, Target
from loupebook.log.statements import Statements
from loupebook.log.states import CURRENT
from loupebook.log.tables import entries, verdicts
from loupebook.log.writer import Transaction
from loupebook.record.kinds import EntryCorrected
from loupebook.record.lines import Line, parse_body, parse_line

AT_ONCE = 2000
"""Entries read at a time."""

_COUNTED = (
    select(
        entries.c.position, verdicts.c.changed, entries.c.hash, entries.c.line, entries.c.received_at, entries.c.target
    )
    .join(verdicts, CURRENT)
    .where(verdicts.c.verdict == "counted")
    .order_by(verdicts.c.changed, case((entries.c.position == verdicts.c.changed, 0), else_=1), entries.c.position)
)
"""In the order in which they began to count: what a settling let in follows it, in chain order."""
_KIND = Statement(select(entries.c.kind).where(entries.c.hash == bindparam("hash")).limit(1))


class Rebuilt(NamedTuple):
    """How many entries were folded into how many tables."""

    entries: int
    tables: int


def rebuild(engine: Engine, folds: Folds, tables: Sequence[Table]) -> Rebuilt:
    """Drops the tables, makes them, folds every entry that counts; all of it or nothing (one transaction).

    `tables` are those that folds write and nothing else does. Nobody else may be writing.
    """
    pins = Pins()
    with engine.begin() as connection:
        pins.load(connection)
        for table in tables:
            table.drop(connection, checkfirst=True)
        for table in tables:
            table.create(connection)
        transaction = Transaction(connection, Statements(engine.dialect))
        count = 0
        for counted in _counted(connection, transaction, pins):
            count += 1
            for fold in folds.get(counted.entry.kind, ()):
                transaction.extend(fold(counted))
        transaction.flush()
    return Rebuilt(count, len(tables))


def _counted(connection: Connection, transaction: Transaction, pins: Pins) -> Iterator[Counted]:
    for position, changed, hash, raw, received_at, target in connection.execute(
        _COUNTED, execution_options={"yield_per": AT_ONCE}
    ):
        line = parse_line(raw)
        of = _target(transaction, line, target) if target is not None else None
        yield Counted(position, changed, hash, line.entry, line.body, received_at, pins, of)


def _target(transaction: Transaction, line: Line, name: str) -> Target:
    (kind,) = transaction.rows(_KIND, hash=name)[0]
    body = line.body
    return Target(kind, parse_body(kind, body.body) if isinstance(body, EntryCorrected) else None)
