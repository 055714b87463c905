"""A shift is a name: place / local date of its start / name. Closing takes the name, so no clock moves work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
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
