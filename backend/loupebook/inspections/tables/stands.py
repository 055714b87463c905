"""What stands of one or many inspections, read in a fixed number of indexed queries: nothing here folds or judges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import msgspec
from sqlalchemy import Connection, TextClause, bindparam, text

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.log.asking import ask, ask_values


class Row(msgspec.Struct, frozen=True):
    """A detail row with its act: who wrote it, when, how proved, where. `entry` is the first hash for ever."""

    version: str
    entry: str
    begun: str
    scope: str
    when_ms: int
    chain: str
    seq: int
    person: str
    how: str
    proved: str
    ticket: str | None
    build: str
    at: str
    received_at: str


class Part(Row, frozen=True):
    root: str
    point: str
    scope_kind: str
    catalogue: str
    policy: str
    shift: str
    identified_by: str
    identified_text: str | None
    symbology: str | None
    proves: str
    none_here: str
    not_due: str
    practice: int


class Serial(Row, frozen=True):
    held_by: str
    """code, last_four, or unreadable."""
    agrees: str
    code: str | None
    last_four: str | None
    serial_where: str | None


class Mark(Row, frozen=True):
    part: str
    mark: str
    zone: str | None
    reason: str | None
    tool: str | None


class Seen(Row, frozen=True):
    part: str
    finding: str
    grade: str
    since: str
    place_mm: int | None
    place_end: str | None
    place_known: str | None
    compared: str | None
    beside: str | None
    rings: str
    note: str | None


class Test(Row, frozen=True):
    what: str
    result: str
    steps: str
    parts: str
    zone: str | None
    reason: str | None
    pressure_pa: int | None
    held_s: int | None
    value_thousandths: int | None
    limit_thousandths: int | None
    unit: str | None
    meter: str | None
    lot: str | None
    note: str | None


class Run(Row, frozen=True):
    channel: str
    outcome: str
    way: str | None
    borescope: str | None
    reached_mm: int | None
    length_mm: int | None
    known: str | None
    flow: str | None
    reason: str | None


class End(Row, frozen=True):
    ended: str
    first: str | None
    goes: str | None
    suggested_first: str | None
    suggested_goes: str | None
    rows: str
    counts: str | None
    relies: str
    elsewhere: str
    left_out: str
    tag_on: int | None
    reason: str | None
    note: str | None
    disinfection: str | None


class Photo(Row, frozen=True):
    sha256: str
    part: str
    shows: str
    of_finding: str | None
    type: str
    bytes: int
    width: int
    height: int
    rings: str
    place_mm: int | None
    place_end: str | None
    place_known: str | None
    taken: str | None


class Laid(Row, frozen=True):
    """What one entry lays over one photo; JSON lists."""

    photo: str
    rings: str
    arrows: str
    lengths: str


class SerialReading(Row, frozen=True):
    """A number the server read in a serial photo that is not the scope's."""

    photo: str
    code: str


class Act(msgspec.Struct, frozen=True):
    """An entry that stands without a row of its own: something taken back, a photo hidden."""

    version: str
    entry: str
    begun: str
    chain: str
    person: str
    how: str
    proved: str
    ticket: str | None


class Held(msgspec.Struct, frozen=True):
    """A hold with its act. `decided` is the last decision's answer."""

    version: str
    entry: str
    scope: str
    begun: str
    cause: str
    goes: str
    reason: str | None
    tag_on: int | None
    note: str | None
    decided: str | None
    standing: int
    person: str
    chain: str
    how: str
    proved: str
    ticket: str | None
    at: str
    when_ms: int


@dataclass(frozen=True, slots=True)
class Inspection:
    """One root with everything that stands of all its parts, in the order of (chain, seq) within each list."""

    root: str
    parts: list[Part] = field(default_factory=list)
    serials: list[Serial] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    findings: list[Seen] = field(default_factory=list)
    readings: list[Test] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    endings: list[End] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)
    holds: list[Held] = field(default_factory=list)
    serial_readings: list[SerialReading] = field(default_factory=list)
    laid: list[Laid] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)
    """What took something of it back, and what hid a photo of it."""
    clocks: list[tuple[str, int]] = field(default_factory=list)
    """(begun, ms) where a station's clock was off by 10 minutes or more, once a part, the furthest."""
    restricted: set[str] = field(default_factory=set)
    missing: set[str] = field(default_factory=set)
    """Hashes that an ending relies on and that do not stand here."""


STANDS = "a.replaced_by IS NULL AND a.withdrawn_by IS NULL"
_ACT = {"entry", "chain", "seq", "person", "how", "proved", "ticket", "build", "at", "received_at"}
_TABLES: tuple[tuple[str, type[Row], str], ...] = (
    ("serials", Serial, "serial_photos"),
    ("marks", Mark, "part_marks"),
    ("findings", Seen, "findings"),
    ("readings", Test, "readings"),
    ("runs", Run, "channel_runs"),
    ("endings", End, "endings"),
    ("serial_readings", SerialReading, "serial_readings"),
    ("laid", Laid, "photos_laid"),
)


def _many(statement: str, name: str) -> TextClause:
    return text(statement).bindparams(bindparam(name, expanding=True))


def _columns(row: type[Row] | type[Held]) -> str:
    """The columns of a row's fields: those of the act from `a`, the rest from `d`."""
    names = row.__struct_fields__
    from_act = _ACT | ({"when_ms"} if row is Held else set())
    return ", ".join(f"{'a' if n in from_act else 'd'}.{n}" for n in names)


def _details(row: type[Row], table: str, corrected_too: bool = False) -> TextClause:
    stands = "a.withdrawn_by IS NULL" if corrected_too else STANDS
    return _many(
        f"SELECT {_columns(row)} FROM {table} d JOIN acts a ON a.version = d.version "
        f"WHERE d.begun IN :begun AND {stands} ORDER BY a.chain, a.seq",
        "begun",
    )


PARTS = _many(
    f"SELECT {_columns(Part)} FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.root IN :roots AND {STANDS} ORDER BY CASE d.begun WHEN d.root THEN 0 ELSE 1 END, d.when_ms, d.begun",
    "roots",
)
DETAILS: dict[str, tuple[type[Row], TextClause]] = {name: (row, _details(row, table)) for name, row, table in _TABLES}
# A correction replaces the body, never the photos: those of every version stay.
PHOTOS = _details(Photo, "photos_of", corrected_too=True)
_OF_ACT = ", ".join(f"a.{name}" for name in Act.__struct_fields__ if name != "begun")
RESTRICTED = _many(
    f"SELECT DISTINCT p.begun, p.sha256, {_OF_ACT} FROM photos_of p JOIN photos_restricted r ON r.photo = p.sha256 "
    f"JOIN acts a ON a.version = r.version WHERE p.begun IN :begun AND {hidden_now('p.sha256')}",
    "begun",
)
TOOK_BACK = _many(
    f"SELECT DISTINCT t.begun, {_OF_ACT} FROM acts t JOIN acts a ON a.version = t.withdrawn_by "
    "WHERE t.begun IN :begun AND t.withdrawn_by IS NOT NULL",
    "begun",
)
HOLDS = _many(
    f"SELECT {_columns(Held)} FROM holds d JOIN acts a ON a.version = d.version "
    f"WHERE d.begun IN :begun AND {STANDS} ORDER BY a.when_ms, d.version",
    "begun",
)
CLOCKS = _many(
    "SELECT begun, clock_off_ms FROM acts WHERE begun IN :begun AND clock_off_ms IS NOT NULL "
    "ORDER BY begun, abs(clock_off_ms) DESC",
    "begun",
)
THERE = _many("SELECT version FROM acts WHERE version IN :hashes AND withdrawn_by IS NULL", "hashes")


def inspections(connection: Connection, roots: Sequence[str]) -> list[Inspection]:
    """The inspections of these roots, in the order given; a root nobody knows is left out."""
    if not roots:
        return []
    found = {root: Inspection(root) for root in roots}
    of: dict[str, Inspection] = {}
    for row in ask(connection, PARTS, {"roots": list(found)}):
        part = Part(*row)
        of[part.begun] = found[part.root]
        found[part.root].parts.append(part)
    begun = {"begun": list(of)}
    if of:
        for name, (make, statement) in DETAILS.items():
            for row in ask(connection, statement, begun):
                detail = make(*row)
                getattr(of[detail.begun], name).append(detail)
        _photos(connection, of, begun)
        for row in ask(connection, HOLDS, begun):
            held = Held(*row)
            of[held.begun].holds.append(held)
        for of_begun, version, entry, *rest in ask(connection, TOOK_BACK, begun):
            of[of_begun].acts.append(Act(version, entry, of_begun, *rest))
        _clocks(connection, of, begun)
        _missing(connection, found.values())
    return [found[root] for root in dict.fromkeys(roots) if found[root].parts]


@dataclass(frozen=True, slots=True)
class Version:
    """A correction: which entry, on which version it was built, and by whom."""

    version: str
    entry: str
    kind: str
    builds_on: str
    person: str
    chain: str
    seq: int
    at: str


@dataclass(frozen=True, slots=True)
class TakenBack:
    """An entry that was taken back, when and by whom; `by` is the entry that says so."""

    entry: str
    by: str
    kind: str
    at: str
    chain: str
    person: str
    taken_back_at: str


VERSIONS = _many(
    "SELECT version, entry, kind, builds_on, person, chain, seq, at FROM acts "
    "WHERE begun IN :begun AND entry <> version AND withdrawn_by IS NULL ORDER BY chain, seq",
    "begun",
)
TAKEN_BACK = _many(
    "SELECT a.entry, a.withdrawn_by, a.kind, a.at, a.chain, w.person, w.at "
    "FROM acts a JOIN acts w ON w.version = a.withdrawn_by "
    "WHERE a.begun IN :begun AND a.entry = a.version ORDER BY a.chain, a.seq",
    "begun",
)


def _former(row: type[Row], table: str, key: str) -> TextClause:
    return _many(
        f"SELECT {_columns(row)} FROM {table} d JOIN acts a ON a.version = d.version "
        f"WHERE d.{key} IN :of AND a.replaced_by IS NOT NULL AND a.withdrawn_by IS NULL ORDER BY a.chain, a.seq",
        "of",
    )


FORMER_PARTS = _former(Part, "inspection_parts", "root")
# What was laid over a photo is shown on it, as it stands; a finding that is corrected says the rest.
FORMER = tuple((row, _former(row, table, "begun")) for _, row, table in _TABLES if row is not Laid)


def versions(connection: Connection, one: Inspection) -> tuple[list[Version], list[Row], list[TakenBack]]:
    """The corrections in an inspection, the rows as they stood before each, and what was taken back."""
    begun = [part.begun for part in one.parts]
    made = [Version(*row) for row in ask(connection, VERSIONS, {"begun": begun})]
    former: list[Row] = []
    if made:
        former += [Part(*row) for row in ask(connection, FORMER_PARTS, {"of": [one.root]})]
        former += [make(*row) for make, statement in FORMER for row in ask(connection, statement, {"of": begun})]
    return made, former, [TakenBack(*row) for row in ask(connection, TAKEN_BACK, {"begun": begun})]


def _photos(connection: Connection, of: dict[str, Inspection], begun: dict[str, list[str]]) -> None:
    for row in ask(connection, PHOTOS, begun):
        photo = Photo(*row)
        of[photo.begun].photos.append(photo)
    for of_begun, sha256, version, entry, *rest in ask(connection, RESTRICTED, begun):
        of[of_begun].restricted.add(sha256)
        of[of_begun].acts.append(Act(version, entry, of_begun, *rest))


def _clocks(connection: Connection, of: dict[str, Inspection], begun: dict[str, list[str]]) -> None:
    told: set[str] = set()
    for of_begun, off in ask(connection, CLOCKS, begun):
        if of_begun in of and of_begun not in told:
            told.add(of_begun)
            of[of_begun].clocks.append((of_begun, off))


def _missing(connection: Connection, found: Iterable[Inspection]) -> None:
    relied = {one.root: {h for end in one.endings for h in texts(end.relies)} for one in found}
    wanted = sorted({h for each in relied.values() for h in each})
    if not wanted:
        return
    there = set(ask_values(connection, THERE, {"hashes": wanted}))
    for one in found:
        one.missing.update(relied[one.root] - there)


_TEXTS = msgspec.json.Decoder(list[str])


def texts(listed: str) -> list[str]:
    """A JSON list of text."""
    return _TEXTS.decode(listed)
