"""Lays the invented day hospital into an empty record, as its own people and tablets would have written it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from loupebook.door.door import Door, touch_station
from loupebook.door.people import is_anybody, keep_person
from loupebook.door.stations import Place, enrol, invite
from loupebook.door.who import PersonHere
from loupebook.log.log import Log
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import About, HoldDecided, PersonAdded, Proof, RepairClosed, RepairOpened, ScopeDescribed
from loupebook.repairs.tables.repairs import told_of
from loupebook.shifts.names import Hours, shift_of
from loupebook.vault.names import Sha256
from loupebook.vault.port import Vault, put
from msgspec import convert
from sqlalchemy import Connection

from demo_seed.house import LEAD, MISSING, OFFERED, PEOPLE, PIN, PLACE, SEEDED, SHIFTS, ZONE, Someone, Spot
from demo_seed.looks import Pins, inspect, plate_of
from demo_seed.pictures import part_picture, serial_picture
from demo_seed.scopes import SCOPES, description, registration
from demo_seed.story import SILENT_AT, Act, Decided, LeadSaid, leads_words, story
from demo_seed.writer import Writer

SHARED = Path(__file__).resolve().parents[1] / "shared"
SEED = "harrow lake 1"
"""With the moment of the start it decides everything: the same two give the same entries and the same photos."""
SIDE_BY_SIDE = 8
"""Photos under way at once."""
WITHHELD = 3
"""Photos that the missing tablet named and never sent."""


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
    clock: StoryClock


@dataclass
class StoryClock:
    """The log's clock while the demo is laid in: what the lead decided was decided when the story says."""

    at: datetime | None = None

    def __call__(self) -> datetime:
        return datetime.now(UTC) if self.at is None else self.at


def seed(context: Context) -> bool:
    """Writes people, stations, scopes and the last days; False where there is anybody already. Raises SeedRefused."""
    with context.log.reading() as read:
        if is_anybody(read):
            return False
    hashed = context.door.hasher.make(PIN)
    context.clock.at = context.now - timedelta(days=9)
    for each in PEOPLE:
        _person(context, each, hashed)
    for scope in SCOPES:
        if not scope.on_loan:
            body = convert(description(scope), ScopeDescribed)
            context.log.append_server("scope.described", About(scope=scope.key), body, LEAD, _proof())
    context.clock.at = None
    writers, acts = written(context.now)
    stations = {spot.name: _station(context, spot, writers[spot.name]) for spot in SEEDED}
    for spot in SEEDED:
        _send(context, writers[spot.name], stations[spot.name], withhold=WITHHELD if spot == MISSING else 0)
    words: list[tuple[datetime, Callable[[], None]]] = [
        *((at, partial(_decide, context, hash, decided)) for at, hash, decided in _decisions(acts)),
        *((said.at, partial(_say, context, said)) for said in leads_words(context.now)),
    ]
    for at, word in sorted(words, key=lambda each: each[0]):
        context.clock.at = at
        word()
    context.clock.at = None
    for spot in SEEDED:
        _heard(context, stations[spot.name], spot)
    return True


def written(now: datetime) -> tuple[dict[str, Writer], list[tuple[Act, str]]]:
    """The whole story on its stations' chains, and each act with the hash of its last entry; the same for one `now`."""
    writers = {spot.name: Writer(f"{SEED} {spot.name} {now.isoformat()}") for spot in SEEDED}
    pins = _pins()
    named: dict[str, str] = {}
    acts: list[tuple[Act, str]] = []
    for act in story(now):
        hash = _write(act, writers[act.spot.name], pins, named)
        if act.name:
            named[act.name] = hash
        acts.append((act, hash))
    return writers, acts


def _decisions(acts: Sequence[tuple[Act, str]]) -> list[tuple[datetime, str, Decided]]:
    """What the lead decided, in the order of time: when, of which hold, what."""
    found = [(act.at + each.after, hash, each) for act, hash in acts for each in act.decided]
    return sorted(found, key=lambda one: one[0])


def _write(act: Act, writer: Writer, pins: Pins, named: Mapping[str, str]) -> str:
    """One act of the story on its station's chain; the hash of its last entry."""
    writer.at = act.at
    if act.look is not None:
        return inspect(writer, pins, act.look)
    body = registration(act.scope) if act.kind == "scope.registered" else act.body
    pictures = [part_picture("case", f"{act.name} {act.at}", text=act.scope.tag, shows="case")] if act.case else []
    pictures += [serial_picture(plate_of(act.scope), f"{act.kind} {act.at}")] if act.plate else []
    about = {"scope": act.scope.key} | ({"repair": named[act.repair]} if act.repair else {})
    over = {"over": [named[each] for each in act.over]} if act.over else {}
    return writer.write(act.kind, act.person, about, body | over, pictures, basis=named.get(act.builds_on))


def _decide(context: Context, hold: str, decided: Decided) -> None:
    """The lead decides of a held scope, with a reason."""
    with context.log.reading() as read:
        scope = read.exec_driver_sql("SELECT scope FROM holds WHERE version = ?", (hold,)).scalar_one()
    body = HoldDecided(hold, decided.goes, "nothing", decided.reason)
    context.log.append_server("hold.decided", About(scope=scope), body, LEAD, _proof())


def _say(context: Context, said: LeadSaid) -> None:
    """The lead opens or releases what stands of a scope's repair; SeedRefused where none does."""
    with context.log.reading() as read:
        repair = told_of(read, [said.scope.key])[said.scope.key].repair
    if repair is None or (said.what == "closed" and repair.owes):
        raise SeedRefused(f"{said.scope.tag} is not {said.what}: {repair}")
    over = list(repair.openers)
    body = RepairOpened(said.reason, over) if said.what == "opened" else RepairClosed(over, "done", said.reason)
    context.log.append_server(f"repair.{said.what}", About(scope=said.scope.key), body, LEAD, _proof())


def _heard(context: Context, station: str, spot: Spot) -> None:
    """When the tablet last asked for anything: now, but for the one that is missing since yesterday."""
    at = context.now
    if spot == MISSING:
        at = at.replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=1) + SILENT_AT
    with context.log.writing() as write:
        touch_station(write, station, round(at.timestamp() * 1000))


def offered_codes(door: Door) -> list[tuple[str, str]]:
    """(name, one-time code) of each station a browser may become; new at each start."""
    return [(spot.name, invite(door, _lead(door.now_ms()), _place(spot))[0]) for spot in OFFERED]


def said_at_start(codes: Sequence[tuple[str, str]], labels: str) -> list[str]:
    """What a person needs to try the demo."""
    names = ", ".join(each.name for each in PEOPLE)
    return [
        f"  Demo people  {names}; everybody's PIN is {PIN}",
        *(f"  Demo code    {code}  makes this browser the station {name}" for name, code in codes),
        f"  Demo tablet  {MISSING.name} is missing since yesterday; {WITHHELD} photos its entries name are still on it",
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
        json.loads(policy),
        lambda moment: shift_of(PLACE, moment, its_hours, zone),
    )


def _send(context: Context, writer: Writer, station: str, withhold: int) -> None:
    """Entries first, then the photos they name, all but the last few where so many are still on the tablet."""
    for first, body in writer.batches():
        result = context.log.intake(writer.chain, first, body, station)
        refused = [receipt for receipt in result.receipts if receipt.verdict != "counted"]
        if refused:
            raise SeedRefused(f"the demo's entry {refused[0].seq} was put aside: {refused[0].reason}")
    photos = list(writer.photos.items())

    def send(photo: tuple[str, bytes]) -> None:
        sha256, data = Sha256(photo[0]), photo[1]
        put(context.vault, [data], sha256, len(data))
        context.photo_stored(sha256, len(data))

    # Side by side, as tablets send them: what waits is written down in one go.
    with ThreadPoolExecutor(SIDE_BY_SIDE) as pool:
        list(pool.map(send, photos[: len(photos) - withhold]))
