"""Lays the invented day hospital into an empty record, as its own people and tablets would have written it."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from loupebook.door.door import Door
from loupebook.door.people import is_anybody, keep_person
from loupebook.door.stations import Place, enrol, invite
from loupebook.door.who import PersonHere
from loupebook.log.log import Log
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import About, PersonAdded, Proof, ScopeDescribed
from loupebook.shifts.names import Hours, shift_of
from loupebook.vault.names import Sha256
from loupebook.vault.port import Vault, put
from msgspec import convert
from sqlalchemy import Connection

from demo_seed.days import Pins, description, write_days
from demo_seed.house import BENCH_4, LEAD, OFFERED, PEOPLE, PIN, PLACE, SCOPES, SHIFTS, SINK_1, ZONE, Someone, Spot
from demo_seed.writer import Writer

SHARED = Path(__file__).resolve().parents[1] / "shared"


class SeedRefused(RuntimeError):
    """The record did not take an entry of the demo as counting: the demo and the rules no longer fit."""


@dataclass(frozen=True)
class Context:
    """What the demo is laid into. `photo_stored` writes down that a photo's bytes are durable."""

    log: Log
    door: Door
    vault: Vault
    photo_stored: Callable[[Sha256, int], object]
    now: datetime


def seed(context: Context) -> bool:
    """Writes people, stations, scopes and the last days; False where there is anybody already. Raises SeedRefused."""
    with context.log.reading() as read:
        if is_anybody(read):
            return False
    hashed = context.door.hasher.make(PIN)
    for each in PEOPLE:
        _person(context, each, hashed)
    sink, bench = Writer(), Writer()
    stations = [_station(context, spot, writer) for spot, writer in ((SINK_1, sink), (BENCH_4, bench))]
    for scope in SCOPES:
        body = convert(description(scope), ScopeDescribed)
        context.log.append_server("scope.described", About(scope=scope.key), body, LEAD, _proof())
    write_days(sink, bench, _pins(), context.now)
    for writer, station in zip((sink, bench), stations, strict=True):
        _send(context, writer, station)
    return True


def offered_codes(door: Door) -> list[tuple[str, str]]:
    """(name, one-time code) of each station a browser may become; new at each start."""
    return [(spot.name, invite(door, _lead(door.now_ms()), _place(spot))[0]) for spot in OFFERED]


def said_at_start(codes: Sequence[tuple[str, str]], labels: str) -> list[str]:
    """What a person needs to try the demo."""
    names = ", ".join(each.name for each in PEOPLE)
    return [
        f"  Demo people  {names}; everybody's PIN is {PIN}",
        *(f"  Demo code    {code}  makes this browser the station {name}" for name, code in codes),
        f"  Demo labels  {labels}",
    ]


def hours() -> tuple[Hours, ...]:
    """The demo's shifts."""
    return tuple(Hours(*each) for each in SHIFTS)


def _proof() -> Proof:
    return Proof(how="named", where="online")


def _person(context: Context, someone: Someone, hashed: str) -> None:
    def check(write: Connection) -> None:
        keep_person(write, someone.id, someone.name, hashed, context.door.now_ms(), by_lead=False)

    body = PersonAdded(someone.id, list(someone.roles))
    context.log.append_server("person.added", About(), body, LEAD, _proof(), check)


def _lead(now_ms: int) -> PersonHere:
    """The demo's lead, as whom the stations are invited; not a session."""
    return PersonHere(LEAD, ("lead",), "demo", "demo", now_ms, now_ms, now_ms, "")


def _place(spot: Spot) -> Place:
    return Place(spot.name, PLACE, spot.side, spot.points)


def _station(context: Context, spot: Spot, writer: Writer) -> str:
    code, _ = invite(context.door, _lead(context.door.now_ms()), _place(spot))
    return enrol(context.door, code, writer.public_key).station


def _pins() -> Pins:
    catalogue = (SHARED / "catalogue" / "catalogue.json").read_text("utf-8")
    policy = (SHARED / "policy" / "policy.json").read_text("utf-8")
    zone, its_hours = ZoneInfo(ZONE), hours()
    return Pins(
        text_hash(catalogue),
        text_hash(policy),
        json.loads(catalogue),
        lambda moment: shift_of(PLACE, moment, its_hours, zone),
    )


def _send(context: Context, writer: Writer, station: str) -> None:
    """Entries first, then the photos they name."""
    for first, body in writer.batches():
        result = context.log.intake(writer.chain, first, body, station)
        refused = [receipt for receipt in result.receipts if receipt.verdict != "counted"]
        if refused:
            raise SeedRefused(f"the demo's entry {refused[0].seq} was put aside: {refused[0].reason}")
    for name, data in writer.photos.items():
        sha256 = Sha256(name)
        put(context.vault, [data], sha256, len(data))
        context.photo_stored(sha256, len(data))
