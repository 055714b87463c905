"""Working-day dates against the vectors; the holidays against a list of the Office of Personnel Management for 2026.

That list (opm.gov, federal holidays, 2026) is written down here from memory: 1 Jan, 19 Jan, 16 Feb, 25 May, 19 Jun,
3 Jul (observed), 7 Sep, 12 Oct, 11 Nov, 26 Nov, 25 Dec.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from loupebook.rules.duties import after_work_days, duties_of, federal_holidays, is_work_day

pytestmark = pytest.mark.shift

VECTORS = json.loads((Path(__file__).resolve().parents[2] / "shared" / "vectors" / "duties.json").read_text("utf-8"))


@pytest.mark.parametrize("each", VECTORS["report"], ids=lambda each: str(each["aware"]))
def test_ten_work_days_after_becoming_aware(each: dict[str, str]) -> None:
    assert duties_of(date.fromisoformat(each["aware"])).report_by == date.fromisoformat(each["due"])


@pytest.mark.parametrize("each", VECTORS["keep"], ids=lambda each: str(each["event"]))
def test_a_file_is_kept_two_years_from_the_event(each: dict[str, str]) -> None:
    event = date.fromisoformat(each["event"])
    assert duties_of(event, event).keep_until == date.fromisoformat(each["until"])


def test_the_federal_holidays_of_2026() -> None:
    told = ["01-01", "01-19", "02-16", "05-25", "06-19", "07-03", "09-07", "10-12", "11-11", "11-26", "12-25"]
    assert sorted(federal_holidays(2026)) == [date.fromisoformat(f"2026-{day}") for day in told]


def test_new_year_on_a_saturday_is_observed_in_the_year_before() -> None:
    assert not is_work_day(date(2027, 12, 31)) and after_work_days(date(2027, 12, 30), 1) == date(2028, 1, 3)
