"""Harrow Lake Day Hospital: its people, places and colonoscopes. All invented; the DI is FDA's public sample."""

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
    Someone("jo.marlow", "Jo Marlow", ("lead",)),
    Someone("ila.venn", "Ila Venn", ("technician",)),
    Someone("rin.oake", "Rin Oake", ("technician",)),
    Someone("tobin.sarr", "Tobin Sarr", ("runner",)),
    Someone("nia.brook", "Nia Brook", ("technician", "runner")),
    Someone("p.lund", "P. Lund", ("auditor",)),
)


@dataclass(frozen=True)
class Spot:
    """A station: its name, its side, what may be looked at there."""

    name: str
    side: Side
    points: tuple[Point, ...]


SINK_1 = Spot("Sink 1", "dirty", ("at_leak_test", "after_cleaning"))
BENCH_4 = Spot("Bench 4", "clean", ("after_drying", "before_use", "acceptance"))
SINK_2 = Spot("Sink 2", "both", ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"))
DESK = Spot("Lead's desk", "both", ())
SEEDED = (SINK_1, BENCH_4)
"""Stations that have written already."""
OFFERED = (SINK_2, DESK)
"""Stations a browser may become, by a code said at start."""


@dataclass(frozen=True)
class Scope:
    tag: str
    serial: str
    model: str
    di: str = "51022222233336"

    @property
    def key(self) -> str:
        return f"udi:{self.di}/{self.serial}"


C_14 = Scope("C-14", "2741906", "CX 180")
C_11 = Scope("C-11", "2740388", "CX 180")
C_09 = Scope("C-09", "2698124", "CX 170")
C_07 = Scope("C-07", "2698077", "CX 170")
SCOPES = (C_14, C_11, C_09, C_07)
MAKER = "Alder"
