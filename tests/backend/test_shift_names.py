"""Shift names, in the facility's own time. Changes of the clock: IANA time zone data as Python's zoneinfo has it."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from loupebook.shifts.names import Hours, NoShift, shift_of

pytestmark = pytest.mark.sink
HOURS = (Hours("day", "06:30", "15:00"), Hours("late", "14:30", "22:00"), Hours("night", "22:00", "06:30"))
NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("moment", "name"),
    [
        ("2025-11-25T11:30:00+00:00", "2025-11-25/day"),
        ("2025-11-25T06:29:59.999-05:00", "2025-11-24/night"),
        ("2025-11-25T14:29:00-05:00", "2025-11-25/day"),
        ("2025-11-25T14:30:00-05:00", "2025-11-25/late"),
        ("2025-11-26T03:00:00+00:00", "2025-11-25/night"),
        ("2025-11-26T00:10:00-05:00", "2025-11-25/night"),
        # 2 November 2025: New York sets the clock back from 02:00 to 01:00; both hours are one night.
        ("2025-11-02T05:30:00+00:00", "2025-11-01/night"),
        ("2025-11-02T06:30:00+00:00", "2025-11-01/night"),
        # 9 March 2025: 02:00 becomes 03:00.
        ("2025-03-09T07:00:00+00:00", "2025-03-08/night"),
    ],
)
def test_a_moment_has_its_shift(moment: str, name: str) -> None:
    assert shift_of("Sink 1", datetime.fromisoformat(moment), HOURS, NEW_YORK) == f"Sink 1/{name}"


def test_work_after_the_last_shift_belongs_to_it() -> None:
    hours = (Hours("day", "06:30", "15:00"),)
    night = datetime.fromisoformat("2025-11-25T03:00:00-05:00")
    assert shift_of("Sink 1", night, hours, NEW_YORK) == "Sink 1/2025-11-24/day"


def test_without_hours_there_is_no_shift() -> None:
    with pytest.raises(NoShift):
        shift_of("Sink 1", datetime.fromisoformat("2025-11-25T03:00:00-05:00"), (), NEW_YORK)
