"""What cards need from outside: a read connection, pinned texts, and what the log and the door know."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection

from loupebook.inspections.rules import Pin
from loupebook.scopes.tables.known import Epoch, Facility, Person, Reading, Station

TextOf = Literal["policy", "catalogue", "frequency"]
TEXTS: tuple[TextOf, ...] = ("policy", "catalogue", "frequency")


@dataclass(frozen=True)
class InForce:
    """A text in force: its pin, itself, and the position at which it was set."""

    sha256: str
    text: str
    changed: int


@dataclass(frozen=True)
class Sources:
    """The seams of cards, filled where all is joined. `now_ms` is the server's clock, ms UTC since 1970."""

    reading: Reading
    pin: Pin
    position: Callable[[Connection], int]
    epoch: Callable[[], Epoch]
    people: Callable[[Connection], Sequence[Person]]
    stations: Callable[[Connection], Sequence[Station]]
    in_force: Callable[[Connection, TextOf], InForce | None]
    facility: Callable[[], Facility]
    now_ms: Callable[[], int]
