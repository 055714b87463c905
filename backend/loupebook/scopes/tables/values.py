"""What folds read off an entry: whose it is, when it was, and its optional fields as column values."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache

import msgspec
from msgspec import UNSET

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import Entry, SerialRead

CLOCK_OFF_MS = 600_000
"""A clock off by this much is an open point. The product's own choice; common practice, no source."""


@lru_cache(maxsize=4096)  # an entry's moment is asked for by each of its rows
def ms_of(moment: str) -> int:
    """Milliseconds UTC since 1970 of an RFC 3339 moment; one that no calendar has (31 February) is 0."""
    try:
        return round(datetime.fromisoformat(moment).timestamp() * 1000)
    except (ValueError, OverflowError, OSError):
        return 0


def when_ms(entry: Entry) -> int:
    """The moment of an entry by the server's clock, as far as the station knew the difference."""
    return ms_of(entry.at) - (entry.clock.ahead_ms if entry.clock else 0)


def clock_off_ms(entry: Entry, received_at: str) -> int | None:
    """How far a clock was ahead (+) or behind (-), if by 10 minutes or more: as known, or later than its arrival."""
    ahead = entry.clock.ahead_ms if entry.clock else max(0, ms_of(entry.at) - ms_of(received_at))
    return ahead if abs(ahead) >= CLOCK_OFF_MS else None


def scope_of(entry: Entry) -> str:
    """The key of the scope an entry names, '' where it names none."""
    return entry.about.scope if isinstance(entry.about.scope, str) else ""


def begun_of(counted: Counted) -> str:
    """The hash of the inspection part an entry hangs on; its own for the one that begins it; '' for none.

    What the server read names a part of another chain, so its body does.
    """
    entry = counted.entry
    if entry.kind == "inspection.begun":
        return counted.hash
    if isinstance(counted.body, SerialRead):
        return counted.body.begun
    return entry.about.inspection if isinstance(entry.about.inspection, str) else ""


def given(value: object) -> Value:
    """A field's value, nothing where it is left out."""
    if value is UNSET or value is None:
        return None
    if isinstance(value, bool):
        return int(value)
    assert isinstance(value, str | int | bytes)
    return value


def listed(values: Iterable[object]) -> str:
    """A list as JSON text."""
    return msgspec.json.encode(list(values)).decode()


def in_turn(*folds: Fold) -> Fold:
    """One fold that does what these do, one after the other."""

    def fold(counted: Counted) -> Iterable[Change]:
        for each in folds:
            yield from each(counted)

    return fold


def place_of(shift: str) -> str:
    """The place a shift's name (place / date / name) begins with; the whole text where it is not of that form."""
    return shift.rsplit("/", 2)[0]
