"""What reading needs from outside: a read connection, the pinned texts, and what the log, door and vault know."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

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
    settled: str | None


@dataclass(frozen=True)
class StrayLines:
    """Lines of a tablet's chain that forked: kept whole beside it, and what they say is not in any table."""

    chain: str
    lines: int
    first_seq: int
    last_seq: int
    received_at: str


@dataclass(frozen=True)
class PolicyVersion:
    """A policy that was in force; the first came with the software, so nobody set it."""

    sha256: str
    text: str
    at: str | None = None
    person: str | None = None
    reason: str | None = None


@dataclass(frozen=True)
class Sources:
    """The seams of reading, filled where all is joined. All calls block but `changes`; routes make them in threads.

    `lines` gives the lines of entries by their hashes.
    `photos_here` gives those of the hashes whose bytes are durable. `asides` lists what does not count and was not
    left out; `strays` what these chains,
    where they forked, hold beside them.
    `tickets` gives those of the ids that the door issued, each with its person and its station.
    `policies` gives every policy that was ever in force, oldest first.
    `heads` gives how far chains are: seq, hash, when it came; of all chains where none are named.
    `shift_now` names the shift that runs at a place. `changes` yields log positions as they are
    committed, the newest wins; it ends when its reader goes. `policy` is the one in force, parsed;
    `now_ms` the server's clock, ms UTC since 1970.
    """

    reading: Reading
    pin: Pin
    position: Callable[[Connection], int]
    epoch: Callable[[], Epoch]
    people: Callable[[Connection], Sequence[Person]]
    stations: Callable[[Connection], Sequence[Station]]
    lines: Callable[[Connection, Sequence[str]], Mapping[str, bytes]]
    photos_here: Callable[[Connection, Sequence[str]], set[str]]
    asides: Callable[[Connection], Sequence[Aside]]
    strays: Callable[[Connection, Sequence[str]], Sequence[StrayLines]]
    heads: Callable[[Connection, Sequence[str] | None], Mapping[str, tuple[int, str, str]]]
    tickets: Callable[[Connection, Sequence[str]], Mapping[str, tuple[str, str]]]
    policies: Callable[[Connection], Sequence[PolicyVersion]]
    facility: Callable[[], Facility]
    shift_now: Callable[[str], str]
    changes: Callable[[], AsyncIterator[int]]
    policy: Callable[[Connection], Mapping[str, Any] | None]
    now_ms: Callable[[], int]
