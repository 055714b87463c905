"""A shift is a name: place / local date of its start / name. Closing takes the name, so no clock moves work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class Hours:
    """One shift of the day in the facility's own time: `name`, and `begins` / `ends` as HH:MM.

    One that ends at or before it begins runs over midnight.
    """

    name: str
    begins: str
    ends: str


class NoShift(ValueError):
    """The facility has no shift hours."""


def shift_of(place: str, moment: datetime, hours: Sequence[Hours], zone: ZoneInfo) -> str:
    """The name of the shift that runs at a place at a moment (with its offset).

    Where hours leave a gap, it is the shift that began last: work after the end belongs to it. Where
    they overlap, the one that began last too. The clock on the wall decides, so a night with a changed
    hour is one shift. Raises NoShift without hours.
    """
    local = moment.astimezone(zone).replace(tzinfo=None)
    began = [
        (datetime.combine(local.date() - timedelta(days=back), time.fromisoformat(each.begins)), each.name)
        for each in hours
        for back in (0, 1)
    ]
    past = [start for start in began if start[0] <= local]
    if not past:
        raise NoShift("The facility has no shift hours.")
    start, name = max(past, key=lambda each: each[0])
    return f"{place}/{start.date().isoformat()}/{name}"


def window_of(shift: str, hours: Sequence[Hours], zone: ZoneInfo) -> tuple[int, int]:
    """From when until when a shift runs at its place, in ms UTC since 1970: `shift_of` names it for every moment there.

    One that the hours do not know (they were others then) is its whole day; a text that is no shift's name, no time
    at all.
    """
    try:
        _, day, name = shift.rsplit("/", 2)
        on = date.fromisoformat(day)
    except ValueError:
        return (0, 0)
    begins = next((time.fromisoformat(each.begins) for each in hours if each.name == name), None)
    start = datetime.combine(on, begins or time())
    if begins is None:
        return _ms(start, zone), _ms(start + timedelta(days=1), zone)
    starts = (
        datetime.combine(on + timedelta(days=n), time.fromisoformat(each.begins)) for each in hours for n in (0, 1)
    )
    return _ms(start, zone), _ms(min(each for each in starts if each > start), zone)


def _ms(local: datetime, zone: ZoneInfo) -> int:
    return round(local.replace(tzinfo=zone).timestamp() * 1000)
