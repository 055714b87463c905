"""What the door needs from outside: the log it writes its acts to, a clock, and the facility's own words.

The log owns the one database; the door never opens a second one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from typing import Protocol

from msgspec import Struct
from sqlalchemy import Connection

from loupebook.log.port import Appended, Epoch, Head
from loupebook.record.kinds import About, Proof

Clock = Callable[[], datetime]
"""Gives the moment now, aware and in UTC."""


def utc_now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


class Log(Protocol):
    """The log as the door sees it. All calls block; they are made from threads."""

    def reading(self) -> AbstractContextManager[Connection]:
        """A connection for reading what is committed."""

    def writing(self) -> AbstractContextManager[Connection]:
        """The one write transaction, taken at once (never upgraded from a read); commits at the end,
        rolls back when something is raised. For rows that are no entries: sessions, tries, tickets."""

    def append_server(
        self,
        kind: str,
        about: About,
        body: Struct,
        person: str,
        proof: Proof,
        check: Callable[[Connection], None] | None = None,
    ) -> Appended:
        """One entry on the server's chain, its folds, and what `check` writes: all in one transaction.

        `check` runs first, inside it. What it raises undoes everything and reaches the caller.
        """

    def epoch(self) -> Epoch:
        """The epoch answers carry."""

    def head(self, chain: str) -> Head:
        """What the server last had of this chain."""


Facility = Callable[[], Mapping[str, object]]
"""The facility's own words for a tablet that enrols (name, time zone, shifts)."""
