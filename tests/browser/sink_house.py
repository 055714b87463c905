"""The record a tablet finds at the sink: people, scopes on record, and what was looked at in the last days.

Laid once a run through the product's own log, door and vault; every test file works on a copy of it. All names are
the demo's, invented.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from browser.worn import Worn
from loupebook.door.people import keep_person
from loupebook.door.stations import Place, enrol, invite
from loupebook.door.who import PersonHere
from loupebook.facility import FACILITY
from loupebook.folder import open_folder
from loupebook.installation import Installation
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import About, PersonAdded, Point, Proof, ScopeDescribed
from loupebook.shifts.names import Hours, shift_of
from loupebook.vault.names import Sha256
from loupebook.vault.port import put
from msgspec import convert
from sqlalchemy import Connection

from demo_seed import house
from demo_seed.house import PEOPLE, PIN, Someone
from demo_seed.looks import Look, Pins, inspect
from demo_seed.scopes import BY_TAG, Scope, description
from demo_seed.writer import Writer

ROOT = Path(__file__).resolve().parents[2]

__all__ = ["C_09", "C_11", "C_14", "PIN", "House", "Scope", "copy_of", "lay_house"]

C_14, C_11, C_09 = BY_TAG["C-14"], BY_TAG["C-11"], BY_TAG["C-09"]
PLACE = "Decontamination"
SHIFTS = (("day", "00:00", "12:00"), ("evening", "12:00", "00:00"))
ALL_POINTS: tuple[Point, ...] = ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance")
OFFERED = ("Sink 2", "Sink 3", "Sink 4", "Desk")
"""Stations a browser, or a test over HTTP, may become; each code works once in each copy."""


@dataclass(frozen=True)
class House:
    """The laid folder, the one-time code of each offered station, and a profile that has opened the app before."""

    folder: Path
    codes: dict[str, str]
    worn: Worn | None = None


def lay_house(folder: Path) -> House:
    """People, four stations to be, three scopes on record, and the last days of one of them."""
    here = Installation(folder, open_folder(folder, "own", "test").id, "test")
    try:
        shifts = [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in SHIFTS]
        words = {"name": house.FACILITY, "zone": "UTC", "shifts": shifts}
        (folder / FACILITY).write_text(json.dumps(words), "utf-8")
        hashed = here.door.hasher.make(PIN)
        for person in PEOPLE:
            _person(here, person, hashed)
        for scope in (C_14, C_11, C_09):
            body = convert(description(scope), ScopeDescribed)
            here.log.append_server("scope.described", About(scope=scope.key), body, house.LEAD, _proof())
        writer = Writer("sink house")
        _history(writer, _pins(), datetime.now(UTC))
        _send(here, writer)
        return House(folder, {name: invite(here.door, _lead(here), _place(name))[0] for name in OFFERED})
    finally:
        here.close()


def copy_of(laid: House, folder: Path) -> Path:
    """A copy that may be written to."""
    shutil.copytree(laid.folder, folder)
    return folder


def _history(writer: Writer, pins: Pins, now: datetime) -> None:
    """Three days ago all of C-14 was looked at, channels too; an hour ago its leak test held."""
    writer.at = now - timedelta(days=3)
    inspect(writer, pins, Look(C_14, "rin.oake", "after_cleaning", baseline=True))
    writer.at = now - timedelta(hours=1)
    inspect(writer, pins, Look(C_14, "rin.oake", "at_leak_test"))


def _person(here: Installation, someone: Someone, hashed: str) -> None:
    def check(write: Connection) -> None:
        keep_person(write, someone.id, someone.name, hashed, here.door.now_ms(), by_lead=False)

    here.log.append_server(
        "person.added", About(), PersonAdded(someone.id, list(someone.roles)), house.LEAD, _proof(), check
    )


def _proof() -> Proof:
    return Proof(how="named", where="online")


def _lead(here: Installation) -> PersonHere:
    now = here.door.now_ms()
    return PersonHere(house.LEAD, ("lead",), "house", "house", now, now, now, "")


def _place(name: str) -> Place:
    return Place(name, PLACE, "both", ALL_POINTS)


def _pins() -> Pins:
    catalogue = (ROOT / "shared" / "catalogue" / "catalogue.json").read_text("utf-8")
    policy = (ROOT / "shared" / "policy" / "policy.json").read_text("utf-8")
    hours = [Hours(*each) for each in SHIFTS]
    zone = UTC
    return Pins(
        text_hash(catalogue),
        text_hash(policy),
        json.loads(catalogue),
        json.loads(policy),
        lambda moment: shift_of(PLACE, moment, hours, zone),  # type: ignore[arg-type]
    )


def _send(here: Installation, writer: Writer) -> None:
    """As the station that was there before: entries first, then the photos they name."""
    code, _ = invite(here.door, _lead(here), _place("Sink 1"))
    station = enrol(here.door, code, writer.public_key).station
    for first, body in writer.batches():
        answer = here.log.intake(writer.chain, first, body, station)
        assert [receipt.verdict for receipt in answer.receipts] == ["counted"] * len(answer.receipts), answer
    for name, data in writer.photos.items():
        put(here.vault, [data], Sha256(name), len(data))
        here.stored(Sha256(name), len(data))
