"""`--demo`: the invented day hospital, laid into a new folder once, and what is said of it at each start."""

from __future__ import annotations

import importlib
import json
import sys
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import get_args
from zoneinfo import ZoneInfo

from loupebook.facility import FACILITY
from loupebook.installation import Installation
from loupebook.record.kinds import Point

LABELS = "demo-labels.html"
CHECKOUT = Path(__file__).resolve().parents[2]


def lay_in(installation: Installation) -> bool:
    """People, stations, scopes and the last days, through the real record; False where there is anybody already."""
    house, seed, labels = (_module(name) for name in ("house", "seed", "labels"))
    facility = installation.folder / FACILITY
    if not facility.exists():
        shifts = [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in house.SHIFTS]
        places = [{"name": house.PLACE, "side": "both", "points": list(get_args(Point))}]
        words = {"name": house.FACILITY, "zone": house.ZONE, "shifts": shifts, "places": places}
        facility.write_text(json.dumps(words, indent=1) + "\n", "utf-8")
    (installation.folder / LABELS).write_text(labels.labels_sheet(), "utf-8")
    context = seed.Context(
        log=installation.log,
        door=installation.door,
        vault=installation.vault,
        photo_stored=installation.stored,
        now=datetime.now(ZoneInfo(house.ZONE)),
    )
    return bool(seed.seed(context))


def said_at_start(installation: Installation) -> list[str]:
    """Lines for the greeting: who there is, the PIN, a new code for each station a browser may become, the labels."""
    seed = _module("seed")
    lines: list[str] = seed.said_at_start(seed.offered_codes(installation.door), str(installation.folder / LABELS))
    return lines


def _module(name: str) -> ModuleType:
    """A file of `demo_seed`, which lies beside `backend` and is loaded for the demo alone."""
    if str(CHECKOUT) not in sys.path:
        sys.path.append(str(CHECKOUT))
    return importlib.import_module(f"demo_seed.{name}")
