"""Dates that may follow an event at a facility in the United States, counted in working days. Never advice.

Whether there is a duty at all is decided by people: this counts days, and says whose days they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

REPORT_WORK_DAYS = 10
"""21 CFR 803.10(a): a device user facility reports a death (to FDA and the maker) or a serious injury (to the maker)
no later than 10 work days after the day it became aware."""
KEEP_YEARS = 2
"""21 CFR 803.18(c): files of a user facility are kept 2 years from the date of the event."""
SOURCE = "21 CFR 803.3, 803.10, 803.18"


@dataclass(frozen=True)
class Duties:
    """`aware`: the day from which it is counted, not counted itself. `report_by`, `keep_until`: the last days."""

    aware: date
    report_by: date
    keep_until: date


def duties_of(aware: date, event: date | None = None) -> Duties:
    """The dates that would run from the day somebody became aware, and from that of the event (else the same day)."""
    return Duties(aware, after_work_days(aware, REPORT_WORK_DAYS), years_after(event or aware, KEEP_YEARS))


def after_work_days(day: date, count: int) -> date:
    """The day that is so many work days after a day: Monday to Friday without federal holidays (21 CFR 803.3)."""
    while count:
        day += timedelta(days=1)
        count -= is_work_day(day)
    return day


def is_work_day(day: date) -> bool:
    return (
        day.weekday() < 5 and day not in set(federal_holidays(day.year)) and day != _observed(date(day.year + 1, 1, 1))
    )


def federal_holidays(year: int) -> Iterator[date]:
    """The days on which federal holidays of a year are observed: 5 U.S.C. 6103 (from memory; held by the vectors).

    One on a Saturday is observed on the Friday before, one on a Sunday on the Monday after. Juneteenth since 2021.
    """
    fixed = [(1, 1), (7, 4), (11, 11), (12, 25), *([(6, 19)] if year >= 2021 else [])]
    yield from (_observed(date(year, month, day)) for month, day in fixed)
    yield from (_nth(year, month, 0, nth) for month, nth in ((1, 3), (2, 3), (9, 1), (10, 2)))
    yield _nth(year, 11, 3, 4)
    last = date(year, 5, 31)
    yield last - timedelta(days=last.weekday())


def _observed(day: date) -> date:
    return day + timedelta(days={5: -1, 6: 1}.get(day.weekday(), 0))


def _nth(year: int, month: int, weekday: int, nth: int) -> date:
    """The nth such weekday (Monday 0) of a month."""
    first = date(year, month, 1)
    return first + timedelta(days=(weekday - first.weekday()) % 7 + 7 * (nth - 1))


def years_after(day: date, years: int) -> date:
    """The same day so many years later; 29 February is 1 March where there is none."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
