"""Shift names, in the facility's own time. Changes of the clock: IANA time zone data as Python's zoneinfo has it."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from loupebook.shifts.names import Hours, NoShift, shift_of

pytestmark = [pytest.mark.sink, pytest.mark.shift]
VECTORS = json.loads((Path(__file__).resolve().parents[2] / "shared" / "vectors" / "shifts.json").read_text("utf-8"))
"""The same file holds the tablet's twin."""
NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: str(case["description"]))
def test_a_moment_has_its_shift(case: dict[str, str]) -> None:
    hours = [Hours(**each) for each in VECTORS["hours"]]
    name = shift_of("Sink 1", datetime.fromisoformat(case["moment"]), hours, ZoneInfo(VECTORS["zone"]))
    assert name == f"Sink 1/{case['expected']}"


def test_work_after_the_last_shift_belongs_to_it() -> None:
    hours = (Hours("day", "06:30", "15:00"),)
    night = datetime.fromisoformat("2025-11-25T03:00:00-05:00")
    assert shift_of("Sink 1", night, hours, NEW_YORK) == "Sink 1/2025-11-24/day"


def test_without_hours_there_is_no_shift() -> None:
    with pytest.raises(NoShift):
        shift_of("Sink 1", datetime.fromisoformat("2025-11-25T03:00:00-05:00"), (), NEW_YORK)
