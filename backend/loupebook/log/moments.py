"""The server's clock as entries and rows hold it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

Now = Callable[[], datetime]
"""Gives the moment now, aware."""


def utc_now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


def moment(now: datetime) -> str:
    """RFC 3339 with milliseconds, UTC: "2026-03-02T08:00:00.123Z"."""
    return now.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
