"""What the log and the features promise each other: statements, changes, folds. No behaviour.

A fold is pure: it looks at one counted entry and returns row changes; it never reads. The writer runs
them in the entry's own transaction. Changes are made so that any interleaving of chains that keeps
each chain's order ends in the same rows: insert rows keyed by the entry's hash, take back by hash,
and let the views add up.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from msgspec import Struct
from sqlalchemy import Connection, Executable

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


class Target(NamedTuple):
    """The entry a withdrawal or a correction speaks of: its kind, and for a correction its new body, read."""

    kind: str
    body: Struct | None


@dataclass(frozen=True, slots=True)
class Counted:
    """An entry that counts, as a fold sees it.

    `position` is where the line stands in the log. `changed` is the position at which it began to
    count: its own, or that of the `aside.settled` that let it in. `pin` gives the parsed text of a
    catalogue, policy or frequency by its hash, or nothing. `target` is there for `entry.withdrawn`
    and `entry.corrected`.
    """

    position: int
    changed: int
    hash: str
    entry: Entry
    body: Struct
    received_at: str
    pin: Callable[[str], Mapping[str, object] | None]
    target: Target | None = None


Fold = Callable[[Counted], Iterable[Change]]
"""Registered by kind: `FOLDS: dict[kind, list[Fold]]` in each feature's `fold.py`, joined by `joined` in app.py."""
Folds = Mapping[str, Sequence[Fold]]


def joined(*of_features: Mapping[str, Fold | Sequence[Fold]]) -> Folds:
    """The folds of all features by kind, in the order the features are given: later ones may look at earlier rows."""
    all_folds: dict[str, list[Fold]] = {}
    for folds in of_features:
        for kind, some in folds.items():
            all_folds.setdefault(kind, []).extend([some] if callable(some) else some)
    return all_folds


class Epoch(NamedTuple):
    """Which life of the database this is: `n` goes up by one with each restore, `id` is drawn anew."""

    n: int
    id: str


class Head(NamedTuple):
    """The last entry the server has of a chain; seq 0 and no hash where nothing came yet."""

    seq: int
    hash: str | None
    received_at: str | None
    build: str | None
    backed_up_seq: int


class Appended(NamedTuple):
    """Where an entry of the server's own chain went."""

    position: int
    hash: str


class StationState(Protocol):
    """What door verdicts need of a chain: its station, whether a lead withdrew it, its public key (SPKI, DER)."""

    @property
    def station(self) -> str: ...
    @property
    def revoked(self) -> bool: ...
    @property
    def spki(self) -> bytes: ...


class PersonState(Protocol):
    """What door verdicts need of a person."""

    @property
    def roles(self) -> Collection[str]: ...
    @property
    def active(self) -> bool: ...


@dataclass(frozen=True)
class Door:
    """Who may write, asked when entries arrive; each reads the transaction it is given.

    station_state  a chain's station, or None where no enrolled station writes it
    person_state   a person, or None where nobody of that id is known
    role_may       whether one of the roles may write this kind
    """

    station_state: Callable[[Connection, str], StationState | None]
    person_state: Callable[[Connection, str], PersonState | None]
    role_may: Callable[[str, Collection[str]], bool]
