"""`--demo`: the invented day hospital, laid into a new folder, and what is said of it at each start."""

from __future__ import annotations

import importlib
import json
import shutil
import sys
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import get_args
from zoneinfo import ZoneInfo

from loupebook.facility import FACILITY
from loupebook.installation import DERIVED, PHOTOS, Installation
from loupebook.log.backup import DATABASE
from loupebook.log.log import KEY_FILE
from loupebook.record.kinds import Point

LABELS = "demo-labels.html"
LAID = "demo-laid.json"
"""On which day the demo was laid in, and how far the record was then."""
CHECKOUT = Path(__file__).resolve().parents[2]


def lay_in(folder: Path, instance: str, build: str) -> bool:
    """People, stations, scopes and the last days, through the real record; False where what is there stays.

    The days end with the day it is laid in. One that was laid in on another day, and into which nobody has written
    since, is taken away first and laid in anew, so that a demo never opens on an empty day.
    """
    house, seed, labels = (_module(name) for name in ("house", "seed", "labels"))
    now = datetime.now(ZoneInfo(house.ZONE))
    if _untouched_since_another_day(folder, instance, build, now):
        _clear(folder)
    facility = folder / FACILITY
    if not facility.exists():
        shifts = [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in house.SHIFTS]
        places = [{"name": house.PLACE, "side": "both", "points": list(get_args(Point))}]
        words = {"name": house.FACILITY, "zone": house.ZONE, "shifts": shifts, "places": places}
        facility.write_text(json.dumps(words, indent=1) + "\n", "utf-8")
    (folder / LABELS).write_text(labels.labels_sheet(), "utf-8")
    clock = seed.StoryClock()
    here = Installation(folder, instance, build, now=clock)
    try:
        context = seed.Context(here.log, here.door, here.vault, here.stored, now, clock)
        laid = bool(seed.seed(context))
        if laid:
            row = {"day": now.date().isoformat(), "position": here.log.position}
            (folder / LAID).write_text(json.dumps(row) + "\n", "utf-8")
        return laid
    finally:
        here.close()


def _untouched_since_another_day(folder: Path, instance: str, build: str, now: datetime) -> bool:
    """Whether the demo that lies here ends on another day, and not one entry was added to it since."""
    try:
        row = json.loads((folder / LAID).read_text("utf-8"))
        day, position = str(row["day"]), int(row["position"])
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        return False
    if day == now.date().isoformat():
        return False
    here = Installation(folder, instance, build)
    try:
        return here.log.position == position
    finally:
        here.close()


def _clear(folder: Path) -> None:
    """Takes away the invented record and nothing else.

    A start that is cut off in between leaves no database or a whole one: without one the next start lays it in.
    """
    for name in (f"{DATABASE}-wal", f"{DATABASE}-shm", DATABASE, KEY_FILE, LAID):
        (folder / name).unlink(missing_ok=True)
    for name in (PHOTOS, DERIVED):
        shutil.rmtree(folder / name, ignore_errors=True)


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
