"""Harrow Lake Day Hospital: its people, places and tablets. All invented."""

from __future__ import annotations

from dataclasses import dataclass

from loupebook.door.rights import Role
from loupebook.door.stations import Side
from loupebook.record.kinds import Point

FACILITY = "Harrow Lake Day Hospital"
PLACE = "Harrow Lake"
"""Where the shifts are: one place with several stations."""
ZONE = "America/New_York"
SHIFTS = (("day", "06:30", "15:00"), ("evening", "15:00", "22:00"), ("night", "22:00", "06:30"))
PIN = "704182"
"""Everybody's in the demo; said on the screen there, used nowhere else."""
LEAD = "moira.keld"


@dataclass(frozen=True)
class Someone:
    id: str
    name: str
    roles: tuple[Role, ...]


PEOPLE = (
    Someone(LEAD, "Moira Keld", ("lead", "technician")),
    Someone("jo.marlow", "Jo Marlow", ("lead", "auditor")),
    Someone("ila.venn", "Ila Venn", ("technician",)),
    Someone("rin.oake", "Rin Oake", ("technician",)),
    Someone("tobin.sarr", "Tobin Sarr", ("runner",)),
    Someone("nia.brook", "Nia Brook", ("technician", "runner")),
)


@dataclass(frozen=True)
class Spot:
    """A station: its name, its side, what may be looked at there."""

    name: str
    side: Side
    points: tuple[Point, ...]


SINK_1 = Spot("Sink 1", "dirty", ("at_leak_test", "after_cleaning"))
BENCH_4 = Spot("Bench 4", "clean", ("after_drying", "before_use", "acceptance"))
ROOM_3 = Spot("Room 3", "clean", ("before_use",))
SINK_2 = Spot("Sink 2", "both", ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"))
DESK = Spot("Lead's desk", "both", ())
SEEDED = (SINK_1, BENCH_4, ROOM_3)
"""The three tablets that have written already. Room 3 is the one not heard from since yesterday."""
OFFERED = (SINK_2, DESK)
"""Stations a browser may become, by a code said at start."""
MISSING = ROOM_3
WASHERS = ("W-1", "W-2")
