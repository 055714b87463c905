"""What reading needs from outside: a read connection, the pinned texts, and what the log, door and vault know."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from loupebook.inspections.rules import Pin
from loupebook.scopes.tables.known import Epoch, Facility, Person, Reading, Station


@dataclass(frozen=True)
class Aside:
    """An entry that was put aside and waits for a lead: where it stands, what it says, why it does not count."""

    position: int
    hash: str
    chain: str
    seq: int
    kind: str | None
    at: str | None
    person: str | None
    scope: str | None
    reason: str
    received_at: str


@dataclass(frozen=True)
class Sources:
    """The seams of reading, filled where all is joined. All calls block but `changes`; routes make them in threads.

    `photos_here` gives those of the hashes whose bytes are durable. `asides` lists what is not settled.
    `tickets` gives those of the ids that the door issued, each with its person and its station.
    `shift_now` names the shift that runs at a place. `changes` yields log positions as they are
    committed, the newest wins; it ends when its reader goes.
    """

    reading: Reading
    pin: Pin
    position: Callable[[Connection], int]
    epoch: Callable[[], Epoch]
    people: Callable[[Connection], Sequence[Person]]
    stations: Callable[[Connection], Sequence[Station]]
    photos_here: Callable[[Connection, Sequence[str]], set[str]]
    asides: Callable[[Connection], Sequence[Aside]]
    tickets: Callable[[Connection, Sequence[str]], Mapping[str, tuple[str, str]]]
    facility: Callable[[], Facility]
    shift_now: Callable[[str], str]
    changes: Callable[[], AsyncIterator[int]]
