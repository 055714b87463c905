"""What the log and the features promise each other: statements, changes, folds. No behaviour.

A fold is pure: it looks at one counted entry and returns row changes; it never reads. The writer runs
them in the entry's own transaction. Changes are made so that any interleaving of chains that keeps
each chain's order ends in the same rows: insert rows keyed by the entry's hash, take back by hash,
and let the views add up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from msgspec import Struct
from sqlalchemy import Executable

from loupebook.record.kinds import Entry

Value = str | int | bytes | None


@dataclass(frozen=True, eq=False)
class Statement:
    """An insert, upsert, update or delete with named bind parameters, declared once beside its table."""

    clause: Executable


class Change(NamedTuple):
    """One row change: the statement and the values of its bind parameters."""

    statement: Statement
    values: Mapping[str, Value]


@dataclass(frozen=True)
class Counted:
    """An entry that counts, as a fold sees it.

    `position` is where the line stands in the log. `changed` is the position at which it began to
    count: its own, or that of the `aside.settled` that let it in. `catalogue` and `policy` are the
    parsed texts pinned by an inspection part's begun entry, or nothing.
    """

    position: int
    changed: int
    hash: str
    entry: Entry
    body: Struct
    received_at: str
    pin: Callable[[str], Mapping[str, object] | None]


Fold = Callable[[Counted], Iterable[Change]]
"""Registered by kind: `FOLDS: dict[kind, list[Fold]]` in each feature's `fold.py`, joined in app.py."""
