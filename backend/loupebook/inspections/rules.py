"""Board rules: what other chains or the clock did. Their answer may change; they raise open points, never an aside."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from msgspec.structs import replace

from loupebook.inspections.strict import FIRST, GOES, MARKS, stricter_first, stricter_goes, strictest
from loupebook.inspections.tables.stands import End, Inspection, Mark, Run, Seen, Test, texts
from loupebook.rules.limits import Level, level_of
from loupebook.rules.policy import Suggestion, suggest
from loupebook.rules.runs import Run as ToldRun
from loupebook.rules.runs import seen_of

Pin = Callable[[str], Mapping[str, Any] | None]
"""The parsed catalogue or policy of a plain SHA-256, or nothing."""

FAILED = ("bubbles", "pressure_dropped", "over_limit")
"""What a failed leak test, or a failed test of the leakage current, shows."""
TESTS = ("leak_test", "leakage_current")
"""Tests that a failure of takes a scope out of use."""

SIX = ("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here")


What = Literal[
    "two_marks",
    "suggested_stricter",
    "asked_laxer",
    "serial_differs",
    "leak_test_failed",
    "clock_off",
    "without_tag",
    "continued_twice",
    "relies_missing",
    "other_scope",
    "proof_unknown",
    "past_limit",
    "disinfection_undone",
    "use_stopped",
    "after_closing",
    "sent_back_often",
]
"""two_marks: parts of one inspection say different things of one part; the stricter counts.
suggested_stricter: what is known now asks for more than the decision; the scope is on hold.
asked_laxer: the person chose laxer than suggested; the stricter holds until a lead decides.
serial_differs: a photographed serial number contradicts the identity, as the tablet or the server read it; the scope
is on hold.
leak_test_failed: a failed leak test in an inspection that has no decision yet.
clock_off: a station's clock was off by 10 minutes or more.
without_tag: held without a tag on the scope.
continued_twice: two parts on other tablets went on with one inspection.
relies_missing: the decision relies on entries that do not stand here.
other_scope: a part that names another scope than the inspection it continues.
proof_unknown: entries that say somebody proved themself online, with a ticket the door never gave them there.
past_limit: let go before use although a time limit was past, by steps that were not known when it was decided.
disinfection_undone: the processing that a decision before use named does not hold by what is known now.
use_stopped: let go before use while a repair of the scope stood, or while it was on loan and not in service.
after_closing: its author corrected or took back something after the shift was closed; from then on a lead does.
sent_back_often: dirty now, and sent back to cleaning before as often as a row of the policy that tells the lead says;
over all cycles within the policy's days."""


@dataclass(frozen=True)
class OpenPoint:
    """Something a lead must look at. `about` holds only ids, hashes and numbers; words are made on the screen."""

    what: What
    root: str
    about: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Rounds:
    """How often a scope was sent back before an inspection: in a row to cleaning and to drying, as known then.

    `cleanings_days`: to cleaning within the days of the policy, in whatever cycle; None where it names none.
    """

    cleanings: int = 0
    dryings: int = 0
    cleanings_days: int | None = None

    @property
    def cleaned(self) -> dict[str, Any]:
        """Both counts of cleanings, as the fields of a fact."""
        days = {} if self.cleanings_days is None else {"cleanings_days": self.cleanings_days}
        return {"cleanings": self.cleanings} | days


@dataclass(frozen=True)
class Stop:
    """One part or channel of the route: the mark that counts, and every mark it comes from."""

    id: str
    mark: str
    out_of_use: bool
    marks: tuple[Mark | Seen, ...]


@dataclass(frozen=True)
class Standing:
    """An inspection as a whole: its route tip to plug, the six counts, its state, and what keeps it open."""

    root: str
    state: Literal["begun", "concluded", "abandoned"]
    first: str | None
    goes: str | None
    stops: tuple[Stop, ...]
    counts: Mapping[str, int]
    suggested: Suggestion | None
    facts: tuple[Mapping[str, Any], ...]
    entries: tuple[str | None, ...]
    """Of each fact the entry it comes from; the inspection as a whole is of none."""
    points: tuple[OpenPoint, ...]


def mark_of(row: Mark | Seen) -> str:
    """A finding marks its part by itself."""
    return "finding" if isinstance(row, Seen) else row.mark


def marks_of(one: Inspection) -> list[Mark | Seen]:
    """Every mark of every part. Runs of one part that meet from both ends of a channel are a look through it."""
    met = _met(one.runs)
    marks = [replace(row, mark="nothing_found") if row.entry in met else row for row in one.marks]
    return [*marks, *one.findings]


def _met(runs: Sequence[Run]) -> set[str]:
    """The entries of the runs that meet: only those that one station made in one part add up."""
    together: dict[tuple[str, str], list[Run]] = defaultdict(list)
    for row in runs:
        if row.outcome == "blocked":
            together[row.begun, row.channel].append(row)
    return {row.entry for rows in together.values() if seen_of(_told(rows)).why == "both_ends" for row in rows}


def _told(rows: Sequence[Run]) -> list[ToldRun]:
    return [ToldRun(row.outcome, row.way, row.reached_mm, row.known, row.length_mm) for row in rows]


def route_ids(catalogue: Mapping[str, Any] | None, scope_kind: str, point: str) -> list[str]:
    """Parts, then channels of a kind at a point, tip to plug; empty where the catalogue has none."""
    kind = (catalogue or {}).get("kinds", {}).get(scope_kind, {})
    at = kind.get("points", {}).get(point, {})
    ordered = [each["id"] for each in [*kind.get("parts", []), *kind.get("channels", [])]]
    due = {*at.get("parts", []), *at.get("channels", [])}
    return [each for each in ordered if each in due]


def stops_of(one: Inspection, catalogue: Mapping[str, Any] | None) -> tuple[Stop, ...]:
    """The route with the marks of all parts: the strictest counts.

    Not due, and none, only where every part of the inspection says so: what one of them was told to
    look at and did not, is not looked at. Marks off the route come last, so that no mark is hidden.
    """
    head = one.parts[0]
    marks: dict[str, list[Mark | Seen]] = defaultdict(list)
    for row in marks_of(one):
        marks[row.part].append(row)
    none_here = set.intersection(*(set(texts(part.none_here)) for part in one.parts))
    free = set.intersection(*(set(texts(part.none_here)) | set(texts(part.not_due)) for part in one.parts))
    route = route_ids(catalogue, head.scope_kind, head.point)
    ids = dict.fromkeys([*route, *sorted(marks)])
    return tuple(
        Stop(
            each,
            strictest(map(mark_of, marks[each]), MARKS)
            or ("none_here" if each in none_here else "not_due" if each in free else "not_looked"),
            any(isinstance(m, Seen) and urgency(catalogue, m.finding) == "stop" for m in marks[each]),
            tuple(marks[each]),
        )
        for each in ids
    )


def urgency(catalogue: Mapping[str, Any] | None, finding: str) -> str | None:
    """stop, cycle or plan, as the catalogue has it."""
    return _known(catalogue, finding).get("urgency")


def _known(catalogue: Mapping[str, Any] | None, finding: str) -> Mapping[str, Any]:
    known: Mapping[str, Any] = (catalogue or {}).get("findings", {}).get(finding, {})
    return known


def _class_and_urgency(catalogue: Mapping[str, Any] | None, finding: str) -> dict[str, Any]:
    known = _known(catalogue, finding)
    return {name: known[name] for name in ("class", "urgency") if name in known}


def mark_of_part(stop: Stop, begun: str) -> str | None:
    """What one part of the inspection says of a stop."""
    return strictest((mark_of(row) for row in stop.marks if row.begun == begun), MARKS)


def counts_of(stops: Iterable[Stop]) -> dict[str, int]:
    """The six counts; they add up to the number of stops."""
    counts = dict.fromkeys(SIX, 0)
    for stop in stops:
        counts[stop.mark] += 1
    return counts


def serial_of(one: Inspection) -> str:
    """How the serial photos that stand were held: one that contradicts outweighs the rest, whoever read it."""
    answers = {row.agrees for row in one.serials}
    return "no" if "no" in answers or one.serial_readings else "yes" if "yes" in answers else "unknown"


def facts_of(
    one: Inspection,
    catalogue: Mapping[str, Any] | None,
    counts: Mapping[str, int],
    sent_back: Rounds,
    limits: Sequence[Mapping[str, Any]] = (),
) -> list[tuple[str | None, dict[str, Any]]]:
    """The facts the policy table reads, over all parts, each with the entry it comes from.

    Findings, tests and functions tried, runs through channels, values measured, then one for the whole, which is of no
    entry. `limits`: those of the policy, which a measured value is held against.
    """
    head = one.parts[0]
    here = {"point": head.point, "scope_kind": head.scope_kind}
    rounds = sent_back.cleaned | {"dryings": sent_back.dryings}
    kind = (catalogue or {}).get("kinds", {}).get(head.scope_kind, {})
    zones = {part["id"]: {"zone": part["zone"]} for part in kind.get("parts", [])}
    findings = [
        {
            "what": "finding",
            "finding": row.finding,
            "grade": row.grade,
            "since": row.since,
            "part": row.part,
            **rounds,
            **_class_and_urgency(catalogue, row.finding),
            **zones.get(row.part, {}),
            **here,
        }
        for row in one.findings
    ]
    tests = [row for row in one.readings if row.what in (*TESTS, *(catalogue or {}).get("checks", []))]
    runs = [
        {"what": "channel", "channel": row.channel, "outcome": row.outcome, **sent_back.cleaned}
        | {name: value for name in ("flow", "reason") if (value := getattr(row, name)) is not None}
        | here
        for row in one.runs
    ]
    values: list[tuple[str | None, dict[str, Any]]] = [
        (row.entry, {"what": "reading", "reading": row.what, "level": level, **sent_back.cleaned, **here})
        for row in one.readings
        if (level := _level(row, limits)) is not None
    ]
    whole = {
        "what": "inspection",
        "serial": serial_of(one),
        "not_looked": counts["not_looked"],
        "could_not_look": counts["could_not_look"],
        **here,
    }
    return [
        *zip((row.entry for row in one.findings), findings, strict=True),
        *((row.entry, _test(row) | here) for row in tests),
        *zip((row.entry for row in one.runs), runs, strict=True),
        *values,
        (None, whole),
    ]


def _level(row: Test, limits: Sequence[Mapping[str, Any]]) -> Level | None:
    """What a measured value says against its limit; None for a reading that is no value."""
    if row.result != "value" or row.value_thousandths is None:
        return None
    return level_of(limits, row.what, row.value_thousandths, row.unit, row.limit_thousandths)


def _test(row: Test) -> dict[str, Any]:
    """A test by its own name; anything else that is tried is a function."""
    what = {"what": row.what} if row.what in TESTS else {"what": "function", "check": row.what}
    return what | {"result": row.result}


def ending_of(one: Inspection) -> tuple[Literal["begun", "concluded", "abandoned"], str | None, str | None]:
    """How an inspection ended, and the stricter of what its decisions say is done first, and of where it goes."""
    concluded = [end for end in one.endings if end.ended == "concluded"]
    first = strictest((end.first for end in concluded if end.first), FIRST)
    goes = strictest((end.goes for end in concluded if end.goes), GOES)
    return "concluded" if concluded else "abandoned" if one.endings else "begun", first, goes


def standing_of(one: Inspection, pin: Pin, sent_back: Rounds = Rounds(), unproved: Sequence[str] = ()) -> Standing:
    """An inspection judged on what all its parts say now. The catalogue and policy are those its first part pins.

    `unproved`: its entries whose online proof the door does not know.
    """
    head = one.parts[0]
    catalogue, policy = pin(head.catalogue), pin(head.policy)
    stops = stops_of(one, catalogue)
    counts = counts_of(stops)
    facts = facts_of(one, catalogue, counts, sent_back, (policy or {}).get("limits", ()))
    suggested = suggest(policy, [fact for _, fact in facts]) if policy is not None else None
    concluded = [end for end in one.endings if end.ended == "concluded"]
    state, first, goes = ending_of(one)
    return Standing(
        one.root,
        state,
        first,
        goes,
        stops,
        counts,
        suggested,
        tuple(fact for _, fact in facts),
        tuple(entry for entry, _ in facts),
        (
            *_points(one, stops, concluded, suggested, unproved),
            *_often(one, policy, suggested, sent_back),
        ),
    )


def _points(
    one: Inspection,
    stops: Sequence[Stop],
    concluded: Sequence[End],
    suggested: Suggestion | None,
    unproved: Sequence[str],
) -> Iterable[OpenPoint]:
    def point(what: What, **about: object) -> OpenPoint:
        return OpenPoint(what, one.root, about)

    for stop in stops:
        told = {row.begun: mark_of_part(stop, row.begun) for row in stop.marks}
        if len(set(told.values())) > 1:
            yield point("two_marks", part=stop.id, counts=stop.mark, marks=told)
    for end in concluded:
        if end.first and end.goes and end.suggested_first and end.suggested_goes:
            yield from _decision(point, one, end, suggested)
    yield from _of_serial(point, one)
    failed = [row.entry for row in one.readings if row.what in TESTS and row.result in FAILED]
    if failed and not one.endings:
        yield point("leak_test_failed", entries=failed)
    for begun, off_ms in one.clocks:
        yield point("clock_off", begun=begun, off_ms=off_ms)
    for hold in one.holds:
        if hold.tag_on == 0 and hold.standing:
            yield point("without_tag", hold=hold.version)
    others = [part.begun for part in one.parts if part.begun != one.root]
    if len(others) > 1:
        yield point("continued_twice", parts=others)
    if one.missing:
        yield point("relies_missing", entries=sorted(one.missing))
    scopes = sorted({part.scope for part in one.parts})
    if len(scopes) > 1:
        yield point("other_scope", scopes=scopes)
    if unproved:
        yield point("proof_unknown", entries=list(unproved))


def _decision(
    point: Callable[..., OpenPoint], one: Inspection, end: End, suggested: Suggestion | None
) -> Iterable[OpenPoint]:
    first, goes = str(end.first), str(end.goes)
    asked_first, asked_goes = str(end.suggested_first), str(end.suggested_goes)
    if stricter_first(first, asked_first) != first or stricter_goes(goes, asked_goes) != goes:
        yield point("asked_laxer", entry=end.entry, first=asked_first, goes=asked_goes)
    if suggested is None:
        return
    known_first, known_goes = stricter_first(first, asked_first), stricter_goes(goes, asked_goes)
    now_first, now_goes = stricter_first(known_first, suggested.first), stricter_goes(known_goes, suggested.goes)
    if (now_first, now_goes) != (known_first, known_goes):
        rows = [{"row": spoken.row, "fact": spoken.fact} for spoken in suggested.rows]
        yield point("suggested_stricter", entry=end.entry, first=suggested.first, goes=suggested.goes, rows=rows)


def _often(
    one: Inspection, policy: Mapping[str, Any] | None, suggested: Suggestion | None, sent_back: Rounds
) -> Iterable[OpenPoint]:
    """The first row that counts over cycles, speaks, and tells the lead: a word that waits for nobody's decision."""
    if policy is None or suggested is None:
        return
    spoken = {each.row for each in suggested.rows}
    for row in policy["rows"]:
        counts = any(each["field"] == "cleanings_days" for each in row["when"])
        if counts and row["id"] in spoken and "lead" in row.get("tell", ()):
            about = {"row": row["id"], "times": sent_back.cleanings_days, "days": recleans_days(policy)}
            yield OpenPoint("sent_back_often", one.root, about | {"source": row["source"]})
            return


def recleans_days(policy: Mapping[str, Any] | None) -> int | None:
    """Over how many days a policy counts cleanings; None where it does not."""
    days = (policy or {}).get("recleans", {}).get("days")
    return days if isinstance(days, int) else None


def _of_serial(point: Callable[..., OpenPoint], one: Inspection) -> Iterable[OpenPoint]:
    differing = [row.entry for row in one.serials if row.agrees == "no"]
    differing += [row.entry for row in one.serial_readings]
    if differing:
        yield point("serial_differs", entries=differing)


def held_by_suggestion(standing: Standing, decided: bool) -> bool:
    """Whether the scope is on hold because what is known now asks for more than its decision did."""
    return not decided and any(point.what == "suggested_stricter" for point in standing.points)


def fixed_rows(
    standing: Standing, policy: Mapping[str, Any] | None, answered: Callable[[Mapping[str, Any]], bool]
) -> list[str]:
    """The policy rows that spoke and that nobody may override, of facts that no newer look or test has answered.

    While there is one, a scope does not go on, whoever decides.
    """
    if policy is None or standing.suggested is None:
        return []
    fixed = {row["id"] for row in policy["rows"] if row["override"] is False and row.get("goes") in ("hold", "repair")}
    spoken = [each for each in standing.suggested.rows if each.row in fixed]
    return list(dict.fromkeys(each.row for each in spoken if not answered(standing.facts[each.fact])))


def disputed(made: Iterable[tuple[str, str]]) -> list[str]:
    """Versions that two corrections built on, from (version, builds_on): the second author had not seen the first."""
    seen: set[str] = set()
    twice: dict[str, None] = {}
    for _, builds_on in made:
        if builds_on in seen:
            twice[builds_on] = None
        seen.add(builds_on)
    return list(twice)


def cleanings_of(ended: Iterable[tuple[str, str | None]]) -> int:
    """How often in a row a scope was sent back to cleaning, from (point, first) of its endings, newest first.

    An ending that asks for nothing ends the row, and so does one of another cycle (after drying, before
    use, acceptance) that lets it go. Common practice, no source.
    """
    return _in_a_row(ended, ("clean", "whole"))


def dryings_of(ended: Iterable[tuple[str, str | None]]) -> int:
    """How often in a row a scope was sent back to drying, counted like `cleanings_of`. Common practice, no source."""
    return _in_a_row(ended, ("dry",))


def _in_a_row(ended: Iterable[tuple[str, str | None]], firsts: tuple[str, ...]) -> int:
    count = 0
    for _, first in ended:
        if first not in firsts:
            break
        count += 1
    return count
