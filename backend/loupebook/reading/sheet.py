"""The sheet of a shift, gathered: one line an inspection, what was left open, what was not seen, and the proof.

The page, the PDF, the CSV and the workbook are made of the same `ShiftSheet`. What a lead signed stands in `signed`;
the lines are what the record says now, so a sheet printed later shows what came later, and says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from msgspec import UnsetType
from sqlalchemy import Connection

from loupebook.inspections.rules import Stop
from loupebook.inspections.tables.stands import Inspection, Seen
from loupebook.reading.packet import Shown, photo_on_paper
from loupebook.reading.page import left_of
from loupebook.reading.port import Sources
from loupebook.reading.shift import Board, Outcome, board_of
from loupebook.record.kinds import ScopesCame, ShiftCounts, ShiftException
from loupebook.scopes.tables.known import ScopeKnown, scopes_known
from loupebook.scopes.tables.values import ms_of
from loupebook.shifts.rules import exceptions_of
from loupebook.shifts.tables import Addition, Closing, additions, late_of

MARKS = ("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here")
"""The six, in the order in which they are counted everywhere."""


@dataclass(frozen=True)
class SheetFinding:
    """One finding of a line, with those of its photos that are here and not hidden."""

    part: str
    finding: str
    grade: str
    place_mm: int | None
    out_of_use: bool
    photos: tuple[Shown, ...]


@dataclass(frozen=True)
class SheetLine:
    """One inspection. `unseen`: parts not looked at or that could not be looked at, each with the reasons given."""

    root: str
    begun_ms: int
    scope: ScopeKnown
    point: str
    people: tuple[str, ...]
    state: str
    counts: Mapping[str, int]
    findings: tuple[SheetFinding, ...]
    unseen: tuple[tuple[str, str, tuple[str, ...]], ...]
    """(part, mark, reasons)."""
    not_due: tuple[str, ...]
    none_here: tuple[str, ...]
    photos: int
    waiting: int
    first: str | None
    goes: str | None
    out_of_use: bool


@dataclass(frozen=True)
class ShiftSheet:
    """All that a sheet says. `names` are those of people, `stations` of tablets, `chains` whose chain it is; by id."""

    shift: str
    place: str
    begins_ms: int
    ends_ms: int
    closing: Closing | None
    lines: Sequence[SheetLine]
    signed: ShiftCounts
    now: ShiftCounts
    came: ScopesCame
    open: Sequence[ShiftException]
    """What was not settled when it was closed; of a shift that is not closed, what stands open now."""
    late: int
    noted: Sequence[Addition]
    scopes: Mapping[str, ScopeKnown]
    names: Mapping[str, str]
    stations: Mapping[str, str]
    chains: Mapping[str, str]
    facility: str
    zone: str
    now_ms: int


def _logged(came: ScopesCame) -> set[str]:
    """The scopes by which logs of washers and looks differ."""
    return set() if isinstance(came.logged, UnsetType) else {*came.logged.not_looked, *came.logged.not_logged}


def sheet_of(connection: Connection, sources: Sources, shift: str) -> ShiftSheet:
    """The sheet of a shift by its name, closed or not; one in which nothing was done has no lines."""
    board = board_of(connection, sources, shift)
    closing = board.closing
    body = closing.body if closing else None
    came = body.came if body else board.scopes_came()
    keys = {each.one.parts[0].scope for each in board.outcomes} | set(came.not_looked) | _logged(came)
    known = scopes_known(connection, sorted(keys))
    names = {photo.sha256 for each in board.outcomes for photo in each.one.photos}
    here = sources.photos_here(connection, sorted(names))
    stations, facility = sources.stations(connection), sources.facility()
    said = body.exceptions if body else exceptions_of(board.rows)
    return ShiftSheet(
        shift=board.shift,
        place=board.place,
        begins_ms=board.begins_ms,
        ends_ms=board.ends_ms,
        closing=closing,
        lines=_lines(board, known, here),
        signed=body.counts if body else board.counts,
        now=board.counts,
        came=came,
        open=[each for each in said if each.answer != "settled"],
        late=len(late_of(connection, closing)) if closing else 0,
        noted=additions(connection, closing.version) if closing else [],
        scopes=known,
        names={person.id: person.name for person in sources.people(connection)},
        stations={each.id: each.name for each in stations},
        chains={chain: each.name for each in stations for chain in each.chains},
        facility=facility.name,
        zone=facility.zone,
        now_ms=sources.now_ms(),
    )


def _lines(board: Board, known: Mapping[str, ScopeKnown], here: set[str]) -> list[SheetLine]:
    lines = [line_of(each, known, here) for each in board.outcomes]
    return sorted(lines, key=lambda line: (line.begun_ms, line.root))


def line_of(each: Outcome, known: Mapping[str, ScopeKnown], here: set[str]) -> SheetLine:
    """One inspection as a line; its scope is among those known."""
    head = each.one.parts[0]
    out = {stop.id for stop in each.stops if stop.out_of_use}
    left = left_of(each.one)
    return SheetLine(
        root=each.one.root,
        begun_ms=ms_of(head.at),
        scope=known[head.scope],
        point=head.point,
        people=tuple(dict.fromkeys(part.person for part in each.one.parts)),
        state=each.state,
        counts=each.counts,
        findings=tuple(_finding(each.one, row, row.part in out, here) for row in each.one.findings),
        unseen=tuple(
            (stop.id, stop.mark, (*_reasons(stop), *left.get(stop.id, ())))
            for stop in each.stops
            if stop.mark in ("not_looked", "could_not_look")
        ),
        not_due=tuple(stop.id for stop in each.stops if stop.mark == "not_due"),
        none_here=tuple(stop.id for stop in each.stops if stop.mark == "none_here"),
        photos=each.photos,
        waiting=each.waiting,
        first=each.first,
        goes=each.goes,
        out_of_use=each.out_of_use,
    )


def _reasons(stop: Stop) -> list[str]:
    return list(dict.fromkeys(row.reason for row in stop.marks if not isinstance(row, Seen) and row.reason))


def _finding(one: Inspection, row: Seen, out_of_use: bool, here: set[str]) -> SheetFinding:
    """A hidden photo is on no paper; one that has not come is counted as waiting."""
    photos = tuple(
        photo_on_paper(one, photo)
        for photo in one.photos
        if row.entry in (photo.of_finding, photo.entry) and photo.sha256 in here - one.restricted
    )
    return SheetFinding(row.part, row.finding, row.grade, row.place_mm, out_of_use, photos)
