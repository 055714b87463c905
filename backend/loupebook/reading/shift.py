"""The board of one shift: every inspection, and all that stands open at its place, in few indexed queries.

The desk's page and the closing itself are made of the same `Board`, so that what is signed is what was counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from msgspec import UNSET
from sqlalchemy import Connection

from loupebook.inspections.rules import FAILED, TESTS, Stop, counts_of, ending_of, stops_of
from loupebook.inspections.tables.stands import Held, Inspection, inspections
from loupebook.reading.custody import scope_row, sort_of
from loupebook.reading.port import Sources
from loupebook.reading.today import roots_of, standing_holds
from loupebook.record.kinds import Counts, LogRead, ScopesCame, ScopesLogged, ShiftCounts
from loupebook.repairs.tables import custody_events, offered_at
from loupebook.rules.custody import custody_of
from loupebook.scopes.tables.asked import asked_open, confirmed_of, said_of, unanswered, unconfirmed
from loupebook.scopes.tables.known import Facility, Station
from loupebook.scopes.tables.values import ms_of, place_of
from loupebook.shifts.names import Hours, window_of
from loupebook.shifts.rules import BoardRow, Open, board_rows
from loupebook.shifts.tables import (
    CameScope,
    Carried,
    Closing,
    Key,
    answers,
    came,
    carried,
    closing_of,
    closings,
    last_closing,
    late_of,
    looked_since,
    touched_since,
)
from loupebook.tools.tables import tools_known

SILENT_MS = 10 * 60_000
"""A station that says nothing for so long may hold what the server does not know. Common practice, no source."""
NEVER = 2**62
Row = dict[str, object]


@dataclass(frozen=True)
class Against:
    """What logs of washers say together: the files, and the scopes in them within the hours of a shift."""

    files: Sequence[LogRead]
    scopes: Sequence[str]

    def held(self, looked: frozenset[str]) -> ScopesLogged:
        """The logs held against the scopes looked at. Each list is halved until all fit `MOST_LOGGED` bytes."""
        not_looked = [each for each in self.scopes if each not in looked]
        not_logged = sorted(looked - set(self.scopes))
        lists, most = [list(self.scopes), not_looked, not_logged], 200
        while len(msgspec.json.encode([each[:most] for each in lists])) > MOST_LOGGED:
            most //= 2
        scopes, left, unlogged = (each[:most] for each in lists)
        return ScopesLogged(
            list(self.files), len(self.scopes), scopes, len(not_looked), left, len(not_logged), unlogged
        )  # fmt: skip


MOST_LOGGED = 16 * 1024
"""Bytes of the scopes that a closing names by logs, so that it always fits its line."""


@dataclass(frozen=True)
class Outcome:
    """How one inspection stands: its stops, and its two answers where it was concluded."""

    one: Inspection
    state: str
    first: str | None
    goes: str | None
    stops: tuple[Stop, ...]
    counts: Mapping[str, int]
    out_of_use: bool
    waiting: int
    """Photos that are not here yet."""
    not_tried: tuple[str, ...]
    """Tests and functions due at its point of which there is no reading."""

    @property
    def photos(self) -> int:
        return len({photo.sha256 for photo in self.one.photos})


@dataclass(frozen=True)
class Board:
    """A shift as it stands: its inspections, its rows, its counts, what came, how far each chain is."""

    shift: str
    place: str
    begins_ms: int
    ends_ms: int
    closing: Closing | None
    outcomes: Sequence[Outcome]
    counts: ShiftCounts
    came: Sequence[CameScope]
    looked: frozenset[str]
    rows: Sequence[BoardRow]
    holds: Sequence[Held]

    @property
    def not_looked(self) -> list[str]:
        return [each.scope for each in self.came if each.scope not in self.looked]

    def scopes_came(self, counted: int | None = None, against: Against | None = None) -> ScopesCame:
        """What came against what was looked at: by the scans, or as a lead counted them; and by logs of washers."""
        how, count = ("scans", len(self.came)) if counted is None else ("counted", counted)
        logged = UNSET if against is None or not against.files else against.held(self.looked)
        return ScopesCame(
            count, "counted" if how == "counted" else "scans", len(self.looked), self.not_looked[:200], logged
        )  # fmt: skip


def shift_window(facility: Facility, shift: str) -> tuple[int, int]:
    """From when until when a shift runs, ms UTC, by the facility's hours."""
    return window_of(shift, [Hours(*each) for each in facility.shifts], ZoneInfo(facility.zone))


def board_of(connection: Connection, sources: Sources, shift: str, stations: Sequence[Station] | None = None) -> Board:
    """A shift as it stands now, read through one connection. `stations`: where they were read already."""
    place = place_of(shift)
    closing = closings(connection, [shift]).get(shift)
    begins, ends = (closing.begins_ms, closing.ends_ms) if closing else shift_window(sources.facility(), shift)
    stations = sources.stations(connection) if stations is None else stations
    before = {} if closing else carried(connection, place)
    own = roots_of(connection, [shift])
    old = [of for sort, of in before if sort in ("inspection", "photos", "skipped") and of not in own]
    found = {one.root: one for one in inspections(connection, [*own, *old]) if not one.parts[0].practice}
    named = sorted({photo.sha256 for one in found.values() for photo in one.photos})
    here = sources.photos_here(connection, named)
    outcomes = {root: outcome_of(one, sources, here) for root, one in found.items()}
    mine = [outcomes[root] for root in own if root in outcomes]
    came_over = [outcomes[root] for root in old if root in outcomes]
    holds = [hold for hold in standing_holds(connection) if _at(stations, hold.chain, place)]
    asides = [aside for aside in sources.asides(connection) if _at(stations, aside.chain, place)]
    scopes_came = came(connection, place, begins, ends)
    looked = frozenset(each.one.parts[0].scope for each in mine)
    stands = [
        *_of_inspections(mine),
        *(each for each in _of_inspections(came_over) if (each.sort, each.of) in before),
        *(Open("aside", each.hash, {"chain": each.chain, "kind": each.kind, "reason": each.reason, "at": each.at,
                                    "person": each.person, "scope": each.scope}) for each in asides),
        *_holds(connection, [hold for hold in holds if hold.decided is None]),
        *_asked(connection),
        *_offers(connection, place),
        *_tools(connection, place),
        *_silent(connection, sources, stations, place),
        *(Open("received", each.scope, {"scope": each.scope, "at_ms": each.when_ms, "step": each.step})
          for each in scopes_came if each.scope not in looked),
        *_still_not_looked(connection, before, looked),
        *_late(connection, place, before),
    ]  # fmt: skip
    rows = [] if closing else board_rows(stands, answers(connection, shift), before)
    counts = counts_in(mine, holds=len(holds), aside=len(asides))
    return Board(shift, place, begins, ends, closing, mine, counts, scopes_came, looked, rows, holds)


def _at(stations: Sequence[Station], chain: str, place: str) -> bool:
    """Whether a chain is of a station at this place; one of no station that is known stands on every board."""
    station = next((each for each in stations if chain in each.chains), None)
    return station is None or station.place == place


# ---------------------------------------------------------------- inspections


def outcome_of(one: Inspection, sources: Sources, here: set[str]) -> Outcome:
    """How an inspection stands, by all that its parts say."""
    head = one.parts[0]
    catalogue = sources.pin(head.catalogue)
    stops = stops_of(one, catalogue)
    state, first, goes = ending_of(one)
    failed = any(row.what in TESTS and row.result in FAILED for row in one.readings)
    return Outcome(
        one,
        state,
        first,
        goes,
        stops,
        counts_of(stops),
        failed or any(stop.out_of_use for stop in stops),
        len({photo.sha256 for photo in one.photos} - here),
        tuple(each for each in _due(catalogue, head.scope_kind, head.point) if each not in _tried(one)),
    )


def _due(catalogue: Mapping[str, Any] | None, kind: str, point: str) -> list[str]:
    at = (catalogue or {}).get("kinds", {}).get(kind, {}).get("points", {}).get(point, {})
    return [*at.get("needs", ()), *at.get("checks", ())]


def _tried(one: Inspection) -> set[str]:
    return {row.what for row in one.readings}


def counts_in(outcomes: Sequence[Outcome], *, holds: int, aside: int) -> ShiftCounts:
    """A shift in numbers. What is concluded is counted three times over: what was found, what is done first, where it
    goes; each adds up to the same."""
    concluded = [each for each in outcomes if each.state == "concluded"]
    states = Counter(each.state for each in outcomes)
    firsts, goings = Counter(each.first for each in concluded), Counter(each.goes for each in concluded)
    six: Counter[str] = Counter()
    for each in outcomes:
        six.update(each.counts)
    found = Counter("out" if each.out_of_use else "finding" if each.one.findings else "none" for each in concluded)
    return ShiftCounts(
        inspections=len(outcomes),
        not_concluded=states["begun"],
        abandoned=states["abandoned"],
        nothing_found=found["none"],
        with_finding=found["finding"],
        out_of_use=found["out"],
        first_nothing=firsts["nothing"],
        first_dry=firsts["dry"],
        first_clean=firsts["clean"],
        first_whole=firsts["whole"],
        goes_on=goings["on"],
        goes_hold=goings["hold"],
        goes_repair=goings["repair"],
        parts=Counts(
            six["not_looked"],
            six["nothing_found"],
            six["finding"],
            six["could_not_look"],
            six["not_due"],
            six["none_here"],
        ),
        findings=sum(len(each.one.findings) for each in outcomes),
        photos=sum(each.photos for each in outcomes),
        photos_waiting=sum(each.waiting for each in outcomes),
        holds=holds,
        aside=aside,
        scopes=len({each.one.parts[0].scope for each in outcomes}),
    )


def _of_inspections(outcomes: Iterable[Outcome]) -> Iterable[Open]:
    for each in outcomes:
        head = each.one.parts[0]
        about: Row = {"scope": head.scope, "point": head.point, "at": head.at, "person": head.person}
        if each.state == "begun":
            yield Open("inspection", each.one.root, about | {"not_looked": each.counts["not_looked"]})
        if each.waiting:
            yield Open("photos", each.one.root, about | {"waiting": each.waiting})
        skipped = skipped_in(each)
        if skipped:
            yield Open("skipped", each.one.root, about | skipped)


def skipped_in(each: Outcome) -> Row:
    """Looks and tests that were due in an inspection that ended, and are not in it. Not due today is not skipped.

    What somebody left with its reason, because the scope goes on hold or to repair at once, is answered by that.
    """
    if each.state == "begun":
        return {}
    parts = [stop.id for stop in each.stops if stop.mark == "not_looked"]
    if each.state == "abandoned":
        reason = next((end.reason for end in each.one.endings), None)
        return {"parts": len(parts), "tests": list(each.not_tried), "reason": reason}
    if each.goes != "on" or not (parts or each.not_tried):
        return {}
    return {"parts": len(parts), "tests": list(each.not_tried), "reason": None}


# ---------------------------------------------------------------- the rest of the place


def _holds(connection: Connection, holds: Sequence[Held]) -> Iterable[Open]:
    """Each with what was said of it by phone and not confirmed, and before whom it was brought without an answer."""
    named = [hold.version for hold in holds]
    said, confirmed = said_of(connection, named), confirmed_of(connection, named)
    for hold in holds:
        about: Row = {"scope": hold.scope or None, "cause": hold.cause, "goes": hold.goes, "reason": hold.reason}
        phoned = [str(each.said["goes"]) for each in unconfirmed(said[hold.version], confirmed[hold.version])]
        waits = {str(to): None for each in unanswered(said[hold.version]) for to in each.said["to"]}
        rest = {"note": hold.note, "at": hold.at, "person": hold.person, "phoned": phoned, "waits": list(waits)}
        yield Open("hold", hold.version, about | rest)


def _asked(connection: Connection) -> Iterable[Open]:
    """What people were asked to do themself and said nothing of yet. It is of no place: it stands on every board.

    What was drawn by chance is owed by nobody: no shift waits for it.
    """
    for each in asked_open(connection):
        if each.drawn is not None:
            continue
        about: Row = {"scope": each.scope, "what": each.what, "to": each.to, "reason": each.reason}
        yield Open("asked", each.entry, about | {"at": each.at, "person": each.person})


def _offers(connection: Connection, place: str) -> Iterable[Open]:
    """Scopes held out here that nobody has taken, and those of which two things are said."""
    for key, events in custody_events(connection, offered_at(connection, place)).items():
        custody = custody_of(events)
        if sort_of(custody) in ("offered", "disputed"):
            told = scope_row(custody, events, {})
            yield Open("offer", key, {"scope": key} | {name: told[name] for name in ("is", "holder", "to", "since_ms")})


def _tools(connection: Connection, place: str) -> Iterable[Open]:
    for tool in tools_known(connection):
        owes = tool.used_ms is not None and (tool.processed_ms is None or tool.processed_ms < tool.used_ms)
        if owes and tool.place == place:
            yield Open("tool", tool.tool, {"what": tool.what, "used_ms": tool.used_ms})


def _silent(connection: Connection, sources: Sources, stations: Sequence[Station], place: str) -> Iterable[Open]:
    """Stations of the place that were not heard from lately, with the last entry the server has of each."""
    now = sources.now_ms()
    silent = [
        each for each in stations
        if each.place == place and not each.revoked
        and (each.heard_at is None or now - ms_of(each.heard_at) > SILENT_MS)
    ]  # fmt: skip
    heads = sources.heads(connection, [chain for each in silent for chain in each.chains])
    for each in silent:
        last = max(((heads[chain], chain) for chain in each.chains if chain in heads), key=_came, default=None)
        head = None if last is None else {"chain": last[1], "seq": last[0][0], "hash": last[0][1], "at": last[0][2]}
        yield Open("station", each.id, {"name": each.name, "heard_at": each.heard_at, "head": head})


def _came(each: tuple[tuple[int, str, str], str]) -> str:
    return each[0][2]


def _still_not_looked(connection: Connection, before: Mapping[Key, Carried], looked: frozenset[str]) -> Iterable[Open]:
    """Scopes that came over as not looked at, and that nobody began to look at since that shift was closed."""
    keys = {of: each for (sort, of), each in before.items() if sort == "received" and of not in looked}
    for of, each in keys.items():
        closing = closing_of(connection, each.closing)
        since = closing.begins_ms if closing else NEVER
        if of not in looked_since(connection, [of], since):
            yield Open("received", of, {"scope": of, "at_ms": None, "step": "received"})


def _late(connection: Connection, place: str, before: Mapping[Key, Carried]) -> Iterable[Open]:
    """Shifts of the place that something was added to since the last closing here, or that came over as such."""
    last = last_closing(connection, place, NEVER)
    if last is None:
        return
    touched = touched_since(connection, place, last.changed)
    for version in dict.fromkeys([*touched, *(of for sort, of in before if sort == "late")]):
        closing = closing_of(connection, version)
        late = late_of(connection, closing) if closing else []
        if closing and late:
            yield Open("late", version, {"shift": closing.shift, "entries": len(late), "at": late[-1].at})
