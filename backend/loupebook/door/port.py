"""What the door needs from outside beside the log: a clock, and the facility's own words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

Clock = Callable[[], datetime]
"""Gives the moment now, aware and in UTC."""


def utc_now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


Facility = Callable[[], Mapping[str, object]]
"""The facility's own words for a tablet that enrols (name, time zone, shifts)."""
