"""The facility's own words: its name, time zone, shift hours and places. Pure; where they are kept is not ours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from typing import Annotated, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, Field, StringConstraints

from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.record.kinds import Point

Side = Literal["dirty", "clean", "both"]
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=100)]
ShiftName = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=40, pattern="^[^/]+$")]
"""No slash: a shift is named place/date/name, and the place is what stands before the last two."""
TimeOfDay = Annotated[str, StringConstraints(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
Points = Annotated[list[Point], Field(min_length=1, max_length=5)]


class ShiftWords(BaseModel):
    """One shift of the day, HH:MM in the facility's own time; one that ends at or before it begins crosses midnight."""

    name: ShiftName
    begins: TimeOfDay
    ends: TimeOfDay


class PlaceWords(BaseModel):
    """Where tablets stand: its side, and what may be looked at there."""

    name: Words
    side: Side
    points: Points


class FacilityWords(BaseModel):
    """All that a facility says of itself; each change is whole."""

    name: Words
    zone: Annotated[str, StringConstraints(min_length=1, max_length=64)]
    shifts: Annotated[list[ShiftWords], Field(min_length=1, max_length=12)]
    places: Annotated[list[PlaceWords], Field(min_length=1, max_length=60)]


KeepFacility = Callable[[FacilityWords], None]
"""Makes these the facility's words, durably, for whoever asks from now on."""


def checked(words: FacilityWords) -> FacilityWords:
    """The words where they fit together. Trouble `bad_zone`, `same_name`, `no_hours`."""
    if not _is_zone(words.zone):
        raise Trouble(
            422, "bad_zone", "There is no such time zone on this server.", NOTHING_CHANGED,
            "Choose one of the list, for instance Europe/Helsinki.",
        )  # fmt: skip
    for names in ((shift.name for shift in words.shifts), (place.name for place in words.places)):
        if (twice := _twice(names)) is not None:
            raise Trouble(
                422, "same_name", f"Two of them are called {twice}.", NOTHING_CHANGED, "Give each a name of its own.",
            )  # fmt: skip
    if len(words.shifts) > 1 and any(shift.begins == shift.ends for shift in words.shifts):
        raise Trouble(
            422, "no_hours", "A shift ends when it begins, and there are others beside it.", NOTHING_CHANGED,
            "Give it an end of its own, or leave one shift for the whole day.",
        )  # fmt: skip
    return words


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _twice(names: Iterable[str]) -> str | None:
    counts = Counter(name.casefold() for name in names)
    return next((name for name, count in counts.items() if count > 1), None)
