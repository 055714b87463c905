"""What a repair's packet and label say, gathered: who the scope is, what is wrong, what was seen, done and packed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import msgspec
from sqlalchemy import Connection, TextClause, bindparam, text

from loupebook.inspections.rules import TESTS
from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.laid import NOTHING, Over, over_of, together
from loupebook.inspections.tables.stands import STANDS, Inspection, Photo, inspections
from loupebook.log.asking import ask, ask_value, ask_values
from loupebook.reading.port import Sources
from loupebook.record.kinds import Taken
from loupebook.repairs.tables.repairs import Said, in_hand, told_of
from loupebook.rules.repair import Repair
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

OF = text("SELECT d.scope FROM acts a JOIN repair_words d ON d.version = a.version WHERE a.version = :entry LIMIT 1")
ROOTS = text(
    "SELECT DISTINCT d.root FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.begun IN :begun AND {STANDS}"
).bindparams(bindparam("begun", expanding=True))
SERIAL = text(
    "SELECT d.sha256, d.width, d.height, d.taken, a.person, a.at FROM photos_of d JOIN acts a ON a.version = d.version "
    f"WHERE d.scope = :scope AND d.part = '' AND d.shows = 'serial' AND {STANDS} "
    f"AND NOT {hidden_now('d.sha256')} ORDER BY d.when_ms DESC LIMIT 1"
)
"""The newest photo of the scope's serial number. A hidden one is on no paper."""
CASES = text(
    "SELECT d.sha256, d.width, d.height, d.taken, a.person, a.at FROM photos_of d JOIN acts a ON a.version = d.version "
    f"WHERE d.begun = '' AND d.version IN :packed AND d.shows = 'case' AND {STANDS} "
    f"AND NOT {hidden_now('d.sha256')} ORDER BY d.when_ms DESC, d.version"
).bindparams(bindparam("packed", expanding=True))
"""Photos of the case in these packings, the newest first."""


@dataclass(frozen=True)
class Shown:
    """A photo on paper: its bytes are named by `sha256`; who kept it and when, and how it was taken."""

    sha256: str
    width: int
    height: int
    person: str
    at: str
    taken: Taken | None
    over: Over = NOTHING


@dataclass(frozen=True)
class Found:
    """A finding with its photos; `place_mm` from the named end, where it is known."""

    part: str
    finding: str
    grade: str
    note: str | None
    place_mm: int | None
    place_end: str | None
    person: str
    at: str
    photos: tuple[Shown, ...]


@dataclass(frozen=True)
class Tested:
    """A leak test, or one of the leakage current. Pascals, the unit they were read in, seconds."""

    what: str
    result: str
    pressure_pa: int | None
    unit: str | None
    held_s: int | None
    person: str
    at: str


@dataclass(frozen=True)
class Packet:
    """All that a packet says. `names` are those of people, by id; `missing` of `repair` is what it lacks."""

    repair: Repair
    scope: ScopeKnown
    said: tuple[Said, ...]
    findings: tuple[Found, ...]
    tests: tuple[Tested, ...]
    serial_photos: tuple[Shown, ...]
    case_photos: tuple[Shown, ...]
    names: Mapping[str, str]
    facility: str
    zone: str
    now_ms: int


def packet_of(connection: Connection, sources: Sources, entry: str) -> Packet | None:
    """The packet of the repair that one of its words names; nothing where no such repair stands."""
    key = ask_value(connection, OF, {"entry": entry})
    if key is None:
        return None
    told = told_of(connection, [key])[key]
    words, repair = told.words, told.repair
    if repair is None:
        return None
    said = sorted(
        (word for word in in_hand(words) if not word.event.undone),
        key=lambda word: (word.event.at_ms, word.event.entry),
    )
    if all(word.event.entry != entry for word in said):
        return None
    looks = _looks(connection, [begun for word in said for begun in word.inspections])
    packed = sorted(word.version for word in said if word.event.entry in repair.packings)
    facility = sources.facility()
    return Packet(
        repair=repair,
        scope=scopes_known(connection, [key])[key],
        said=tuple(said),
        findings=tuple(each for one in looks for each in _found(one)),
        tests=tuple(each for one in looks for each in _tests(one)),
        serial_photos=_whole(connection, SERIAL, {"scope": key}),
        case_photos=_whole(connection, CASES, {"packed": packed}),
        names={person.id: person.name for person in sources.people(connection)},
        facility=facility.name,
        zone=facility.zone,
        now_ms=sources.now_ms(),
    )


def _whole(connection: Connection, asked: TextClause, values: Mapping[str, object]) -> tuple[Shown, ...]:
    """Photos of the whole scope or its case, with nothing laid over them."""
    return tuple(
        Shown(sha256, width, height, person, at, taken_of(taken))
        for sha256, width, height, taken, person, at in ask(connection, asked, values)
    )


def taken_of(text_or_none: str | None) -> Taken | None:
    """How a photo was taken, of its column; None of a photo that an older tablet took."""
    return None if text_or_none is None else msgspec.json.decode(text_or_none, type=Taken)


def photo_on_paper(one: Inspection, photo: Photo) -> Shown:
    """A photo of an inspection with all that stands over it."""
    over = over_of_look(one, photo.sha256)
    return Shown(photo.sha256, photo.width, photo.height, photo.person, photo.at, taken_of(photo.taken), over)


def _looks(connection: Connection, begun: Sequence[str]) -> list[Inspection]:
    if not begun:
        return []
    roots = ask_values(connection, ROOTS, {"begun": list(dict.fromkeys(begun))})
    return inspections(connection, sorted(str(root) for root in roots))


def _found(one: Inspection) -> list[Found]:
    """Findings with the photos their own entry or a later one names; one that is hidden is on no paper."""
    return [
        Found(
            row.part, row.finding, row.grade, row.note, row.place_mm, row.place_end, row.person, row.at,
            tuple(
                photo_on_paper(one, photo)
                for photo in one.photos
                if row.entry in (photo.of_finding, photo.entry) and photo.sha256 not in one.restricted
            ),
        )
        for row in one.findings
    ]  # fmt: skip


def over_of_look(one: Inspection, sha256: str) -> Over:
    """All that stands over a photo, whoever laid it there."""
    laid = (over_of(each.rings, each.arrows, each.lengths) for each in one.laid if each.photo == sha256)
    return reduce(together, laid, NOTHING)


def _tests(one: Inspection) -> list[Tested]:
    return [
        Tested(row.what, row.result, row.pressure_pa, row.unit, row.held_s, row.person, row.at)
        for row in one.readings
        if row.what in TESTS
    ]
