"""A week at Harrow Lake: which scope goes round when, and the few times that something was seen.

The share of findings is invented: about one inspection in ten has one, most of them wear or soil; two leak tests
fail, one a week ago and one today.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

from loupebook.record.kinds import Goes

from demo_seed.house import BENCH_4, ROOM_3, SINK_1, WASHERS, Spot
from demo_seed.looks import Found, Look
from demo_seed.scopes import BY_TAG, Scope

WEEK = (
    "C-14", "G-01", "B-09", "N-01", "D-02", "C-11", "G-02", "T-01", "C-09", "U-01", "R-01", "K-01", "B-11",
    "C-07", "G-05", "D-02", "B-05", "G-02", "Y-02", "U-02", "R-02", "C-14", "E-01", "C-11", "N-03", "C-09",
)  # fmt: skip
"""Scopes in the order they were used on the six days before today; a weekend day sees one.

Y-01 was away for repair and N-02 hung all that time: neither went round.
"""
FOUND: dict[tuple[str, int], tuple[str, Found]] = {
    ("C-14", 1): ("after_cleaning", Found("tube_2", "scratch", "minor", "new", 620)),
    ("N-01", 1): ("after_cleaning", Found("insertion_tube", "worn_marks", "minor", "new", 120)),
    ("G-02", 1): ("after_drying", Found("suction_cylinder", "droplets")),
    ("D-02", 2): ("after_cleaning", Found("elevator_lowered", "soil")),
    ("B-05", 1): ("after_cleaning", Found("eyepiece", "black_dots", "minor")),
    ("C-14", 2): ("after_cleaning", Found("tube_2", "scratch", "minor", "same", 620)),
    ("R-02", 1): ("after_cleaning", Found("insertion_tube", "kink", "present", "new", 240)),
    ("E-01", 1): ("after_cleaning", Found("ch_instrument", "scratch", "minor")),
    ("C-09", 2): ("after_cleaning", Found("tube_2", "peeling_coat", "moderate", "new", 410)),
}
"""(tag, which of its rounds) -> point and finding."""
COULD_NOT = {
    ("G-01", 1): ("after_cleaning", "contacts", "cap_on"),
    ("K-01", 1): ("after_cleaning", "ch_instrument", "no_tool"),
}


@dataclass(frozen=True)
class Decided:
    """What the lead decides of the hold that an act brought about, so long after it began."""

    after: timedelta
    goes: Goes
    reason: str


DECIDED = {
    ("B-05", 1): Decided(
        timedelta(minutes=55), "on", "Two dark fibres at the edge; the picture is clear. Looked at again in 30 days."
    ),
    ("R-02", 1): Decided(timedelta(minutes=48), "repair", "To the workshop in its own case, tag on it."),
}
"""Scopes that waited and the lead has decided of since: one goes on, one is away for repair."""
CABINET = "Cabinet 1"
HELD = ("B-05", "C-09", "R-02")
"""After what was found on these nothing more is done with the scope in this round."""
SILENT_AT = timedelta(hours=13, minutes=40)
"""When Room 3 was last heard from, yesterday."""
BEGINS = timedelta(hours=6, minutes=50)
APART = timedelta(minutes=57)


@dataclass(frozen=True)
class Act:
    """Something at a station at a moment: an inspection, or a step of the cycle (`body`)."""

    at: datetime
    spot: Spot
    scope: Scope
    person: str
    look: Look | None = None
    kind: str = ""
    body: dict[str, object] = field(default_factory=dict)
    decided: tuple[Decided, ...] = ()
    name: str = ""
    """What a later act may build on."""
    builds_on: str = ""
    case: bool = False
    """Whether a photo shows the packed case in somebody's hands."""
    plate: bool = False
    """Whether a photo shows the serial number, outside an inspection."""
    repair: str = ""
    """The act that opened the repair of which this is a step."""
    over: tuple[str, ...] = ()
    """The steps of the trip that this one ends."""


@dataclass(frozen=True)
class LeadSaid:
    """What the lead says of all that stands of a scope's repair then: opened, or closed as done."""

    at: datetime
    scope: Scope
    what: Literal["opened", "closed"]
    reason: str


def story(now: datetime) -> list[Act]:
    """Everything of the week, in order of time."""
    acts = [*_week(now), *_today(now), *_loaner(now), *_hung_long(now), *_repair(now), *_handed_over(now)]
    return sorted(acts, key=lambda act: (act.at, act.spot.name, act.scope.tag))


def leads_words(now: datetime) -> list[LeadSaid]:
    """Of repairs, in order of time."""
    yesterday = _midnight(now) - timedelta(days=1)
    opened, released = yesterday + timedelta(hours=7, minutes=40), yesterday + timedelta(hours=14)
    return [
        LeadSaid(opened, BY_TAG["D-02"], "opened", "To the workshop today; a loan is on its way."),
        LeadSaid(released, BY_TAG["Y-01"], "closed", "Back with a new bending cover, looked at whole and processed."),
    ]


def _midnight(now: datetime) -> datetime:
    return now.replace(hour=0, minute=0, second=0, microsecond=0)


def _week(now: datetime) -> Iterator[Act]:
    days = [_midnight(now) - timedelta(days=ago) for ago in range(6, 0, -1)]
    weights = [1 if day.weekday() >= 5 else 6 for day in days]
    ends = [round(len(WEEK) * sum(weights[: index + 1]) / sum(weights)) for index in range(len(days))]
    rounds: dict[str, int] = {}
    for day, begin, end in zip(days, [0, *ends], ends, strict=False):
        for slot, tag in enumerate(WEEK[begin:end]):
            rounds[tag] = rounds.get(tag, 0) + 1
            yield from _round(
                day + BEGINS + slot * APART, tag, rounds[tag], _midnight(now) - timedelta(days=1) + SILENT_AT
            )


def _round(start: datetime, tag: str, nth: int, silent_at: datetime) -> Iterator[Act]:
    """One scope from the end of a procedure to the room again: two looks at the sink, one dried, one before use."""
    scope, found, could_not = BY_TAG[tag], FOUND.get((tag, nth)), COULD_NOT.get((tag, nth))
    washer = ("ila.venn", "rin.oake")[start.toordinal() % 2]

    def at(minutes: int) -> datetime:
        return start + timedelta(minutes=minutes)

    def look(point: str, person: str, **more: object) -> Look:
        seen = (found[1],) if found and found[0] == point else ()
        not_seen = {could_not[1]: could_not[2]} if could_not and could_not[0] == point else {}
        return Look(scope, person, point, seen, not_seen, **more)  # type: ignore[arg-type]

    yield _received(at(0), scope, at(-14))
    yield Act(at(6), SINK_1, scope, washer, look("at_leak_test", washer))
    first = look("after_cleaning", washer, baseline=nth == 1, channels_due=nth == 1 or scope.kind == "duodenoscope")
    held = found is not None and tag in HELD
    decided = DECIDED.get((tag, nth))
    yield Act(at(22), SINK_1, scope, washer, first, decided=(decided,) if decided else ())
    if held:
        return
    if found is not None and found[1].finding == "soil":
        yield Act(at(52), SINK_1, scope, washer, Look(scope, washer, "after_cleaning", continues_cycle=1))
    yield _processed(at(80), scope, washer, start)
    bench = ("nia.brook", "moira.keld")[nth % 2]
    yield Act(at(128), BENCH_4, scope, bench, look("after_drying", bench))
    if found is not None and found[0] == "after_drying":
        yield Act(at(158), BENCH_4, scope, bench, Look(scope, bench, "after_drying"))
    yield _hung(at(176), scope, bench)
    if at(190) < silent_at:
        yield Act(at(186), ROOM_3, scope, "nia.brook", kind="scope.taken", body={"place": ROOM_3.name})
        yield Act(at(190), ROOM_3, scope, "nia.brook", look("before_use", "nia.brook"))


def _hung(at: datetime, scope: Scope, person: str) -> Act:
    return Act(at, BENCH_4, scope, person, kind="scope.hung", body={"place": CABINET})


def _received(at: datetime, scope: Scope, ended: datetime) -> Act:
    body = {"place": SINK_1.name, "procedure_end": ended.isoformat(timespec="milliseconds"), "pre_clean": "yes"}
    return Act(at, SINK_1, scope, "tobin.sarr", kind="scope.received", body=body)


def _processed(at: datetime, scope: Scope, person: str, start: datetime) -> Act:
    body = {"place": "Washer room", "machine": WASHERS[start.hour % 2], "cycle": f"{start:%d%H%M}"}
    return Act(at, SINK_1, scope, person, kind="scope.processed", body=body)


def _loaner(now: datetime) -> Iterator[Act]:
    """D-07 came on loan yesterday: registered on the spot, accepted with its baseline photos, processed before use.

    It stands in for D-02, which left an hour before. Y-02 has stood in for Y-01 since that failed; it is due back.
    """
    scope, morning = BY_TAG["D-07"], _midnight(now) - timedelta(days=1) + timedelta(hours=9, minutes=40)
    yield from _elevator_sticks(now, morning)
    yield Act(morning, BENCH_4, scope, "nia.brook", kind="scope.registered")
    until = now + timedelta(days=12)
    yield _on_loan(morning, scope, "tobin.sarr", "Alder loan pool", until, "D-02", {"elevator cap": 1, "biopsy cap": 2})
    yield Act(morning, BENCH_4, scope, "nia.brook", Look(scope, "nia.brook", "acceptance", baseline=True))
    yield _processed(morning + timedelta(minutes=70), scope, "rin.oake", morning)
    silent = _midnight(now) - timedelta(days=1) + SILENT_AT - timedelta(minutes=4)
    look = Look(BY_TAG["G-05"], "nia.brook", "before_use", baseline=True, only=3)
    yield Act(silent, ROOM_3, BY_TAG["G-05"], "nia.brook", look)
    fibre, came = BY_TAG["Y-02"], _midnight(now) - timedelta(days=6) + timedelta(hours=15, minutes=30)
    until = now - timedelta(days=1)
    yield _on_loan(came, fibre, "tobin.sarr", "Far Bank Day Clinic", until, "Y-01", {"light adapter": 1})
    first = Look(fibre, "moira.keld", "acceptance")
    yield Act(came + timedelta(minutes=8), BENCH_4, fibre, "moira.keld", first)
    yield _processed(came + timedelta(minutes=75), fibre, "ila.venn", came)


def _on_loan(
    at: datetime, scope: Scope, person: str, owner: str, until: datetime, instead_of: str, came_with: dict[str, int]
) -> Act:
    body: dict[str, object] = {
        "place": BENCH_4.name, "owner": owner, "until": f"{until:%Y-%m-%d}", "instructions": True, "fits": "yes",
        "stands_for": BY_TAG[instead_of].key,
        "accessories": [{"what": what, "count": count} for what, count in came_with.items()],
    }  # fmt: skip
    return Act(at, BENCH_4, scope, person, kind="loaner.received", body=body, plate=True)


def _elevator_sticks(now: datetime, loan_came: datetime) -> Iterator[Act]:
    """D-02 was asked for, opened, made ready and sent to the workshop before its loan came."""

    def step(minutes: int, kind: str, person: str, body: dict[str, object], **more: object) -> Act:
        at = loan_came - timedelta(minutes=minutes)
        return Act(at, BENCH_4, BY_TAG["D-02"], person, kind=kind, body=body, **more)  # type: ignore[arg-type]

    words = "The elevator sticks half way up."
    yield step(140, "repair.asked", "nia.brook", {"words": words, "inspections": []}, name="D-02 asked")
    cleaned: dict[str, object] = {
        "done": [{"what": "cleaned", "how": "as its instructions say"}, {"what": "disinfected", "how": "W-2"}],
        "not_done": [], "processed_by": "rin.oake", "label_on": True, "contaminated": [],
        "processed_at": (loan_came - timedelta(minutes=130)).isoformat(timespec="milliseconds"),
    }  # fmt: skip
    yield step(95, "repair.decontaminated", "rin.oake", cleaned, repair="D-02 asked")
    packed: dict[str, object] = {
        "accessories": [{"what": "vent cap", "count": 1}], "contact": "Moira Keld, extension 204",
        "return_address": "Harrow Lake, dock, east door",
    }  # fmt: skip
    yield step(80, "repair.packed", "tobin.sarr", packed, repair="D-02 asked", case=True, name="D-02 packed")
    left: dict[str, object] = {
        "carrier": "Kestrel Couriers", "number": "KC 4471 0038", "to": "Alder workshop",
        "expected_back": f"{now + timedelta(days=9):%Y-%m-%d}",
    }  # fmt: skip
    yield step(60, "repair.shipped", "tobin.sarr", left, repair="D-02 asked")


def _hung_long(now: datetime) -> Iterator[Act]:
    """N-02 was last processed more than a week ago and has hung since: past the policy's limit for hanging."""
    scope, at = BY_TAG["N-02"], _midnight(now) - timedelta(days=8) + timedelta(hours=9)
    yield _processed(at, scope, "rin.oake", at)
    yield _hung(at + timedelta(minutes=70), scope, "nia.brook")


def _repair(now: datetime) -> Iterator[Act]:
    """Y-01 failed its leak test six days ago, was sent away, and came back yesterday: looked at as on delivery."""
    scope, away = BY_TAG["Y-01"], _midnight(now) - timedelta(days=6) + timedelta(hours=14, minutes=5)
    back = _midnight(now) - timedelta(days=1) + timedelta(hours=10, minutes=25)
    yield _received(away, scope, away - timedelta(minutes=18))
    sent = Decided(timedelta(minutes=40), "repair", "Bubbles from the bending cover. To the workshop in its own case.")
    fit = Decided(
        back - away + timedelta(minutes=35), "on", "Back with a new bending cover. Looked at whole; its leak test held."
    )
    look = Look(scope, "ila.venn", "at_leak_test", leaks_at="bending_cover")
    yield Act(away + timedelta(minutes=7), SINK_1, scope, "ila.venn", look, decided=(sent, fit), name="Y-01 failed")
    left: dict[str, object] = {"carrier": "Kestrel Couriers", "number": "KC 4470 9917", "to": "Alder workshop"}
    yield Act(
        away + timedelta(minutes=65), BENCH_4, scope, "tobin.sarr", kind="repair.shipped", body=left,
        name="Y-01 left", repair="Y-01 failed",
    )  # fmt: skip
    here: dict[str, object] = {"place": BENCH_4.name, "serial": "yes", "papers": True, "accessories": []}
    yield Act(
        back - timedelta(minutes=10), BENCH_4, scope, "tobin.sarr", kind="repair.returned", body=here, plate=True,
        repair="Y-01 failed", over=("Y-01 left",),
    )  # fmt: skip
    yield Act(back, BENCH_4, scope, "moira.keld", Look(scope, "moira.keld", "acceptance"))
    yield _processed(back + timedelta(minutes=80), scope, "rin.oake", back)
    yield _hung(back + timedelta(minutes=150), scope, "moira.keld")


COURIER = {"kind": "outside", "name": "P. Lund", "firm": "Kestrel Couriers", "waybill": "KC 4471 0092"}


def _handed_over(now: datetime) -> Iterator[Act]:
    """R-02 went out with a courier, a runner carries B-05, and N-03 is held out to whoever comes for it."""

    def ago(minutes: int, tag: str, word: str, person: str, **more: object) -> Act:
        name, on = f"{tag} {word}", f"{tag} offered" if word == "accepted" else ""
        body = {"place": BENCH_4.name, **more.pop("body", {})}  # type: ignore[dict-item]
        at, kind = now - timedelta(minutes=minutes), f"custody.{word}"
        return Act(at, BENCH_4, BY_TAG[tag], person, kind=kind, body=body, name=name, builds_on=on, **more)  # type: ignore[arg-type]

    def to(person: str) -> dict[str, object]:
        return {"kind": "person", "name": person}

    yield ago(188, "R-02", "offered", "tobin.sarr", body={"to": COURIER, "note": "Tag on it, inside not processed."})
    yield ago(186, "R-02", "accepted", "tobin.sarr", body={"holder": COURIER}, case=True)
    yield ago(33, "B-05", "offered", "nia.brook", body={"to": to("tobin.sarr")})
    yield ago(31, "B-05", "accepted", "tobin.sarr", body={"holder": to("tobin.sarr")})
    yield ago(12, "N-03", "offered", "nia.brook", body={"note": "For Room 1."})


def _today(now: datetime) -> Iterator[Act]:
    """Counted back from now, so that something is under way at whatever hour the demo begins."""

    def ago(minutes: int) -> datetime:
        return now - timedelta(minutes=minutes)

    def sink(minutes: int, tag: str, point: str, person: str, **more: object) -> Act:
        return Act(ago(minutes), SINK_1, BY_TAG[tag], person, Look(BY_TAG[tag], person, point, **more))  # type: ignore[arg-type]

    yield _received(ago(205), BY_TAG["B-09"], ago(222))
    yield sink(196, "B-09", "at_leak_test", "rin.oake", leaks_at="bending_cover")
    yield _received(ago(178), BY_TAG["G-01"], ago(190))
    yield sink(170, "G-01", "at_leak_test", "ila.venn")
    yield sink(156, "G-01", "after_cleaning", "ila.venn", found=(Found("biopsy_port", "debris"),), channels_due=False)
    yield sink(120, "G-01", "after_cleaning", "ila.venn", channels_due=False, continues_cycle=1)
    yield _processed(ago(98), BY_TAG["G-01"], "ila.venn", now)
    yield _received(ago(94), BY_TAG["C-11"], ago(108))
    yield sink(86, "C-11", "at_leak_test", "rin.oake")
    yield sink(64, "C-11", "after_cleaning", "rin.oake", channels_due=False)
    yield Act(ago(52), BENCH_4, BY_TAG["G-01"], "nia.brook", Look(BY_TAG["G-01"], "nia.brook", "after_drying"))
    yield _hung(ago(45), BY_TAG["G-01"], "nia.brook")
    yield _received(ago(44), BY_TAG["C-07"], ago(60))
    yield Act(ago(40), BENCH_4, BY_TAG["U-02"], "nia.brook", kind="scope.taken", body={"place": "Room 1"})
    yield sink(36, "C-07", "at_leak_test", "ila.venn")
    yield _received(ago(22), BY_TAG["E-01"], ago(35))
    yield _received(ago(20), BY_TAG["Y-02"], ago(95))
    yield sink(15, "C-07", "after_cleaning", "ila.venn", channels_due=False, only=12)
