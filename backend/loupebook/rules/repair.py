"""Whether a scope is for repair, and what its packet still lacks, as all that is known of it says. Pure.

The same as `frontend/src/rules/repair.ts`; `shared/vectors/repair.json` holds the two together. It is doubled because
a scope is asked for, packed and handed over without a network.

One scope has at most one repair that stands: all that asked for it or opened it and that no lead has closed. So two who
ask on two tablets meet by themselves, whichever came first; no clock decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from loupebook.rules.conditions import Fact

What = Literal[
    "asked", "concluded", "by_phone", "leak_test", "decided", "opened", "closed", "decontaminated", "packed",
    "shipped", "noted", "approved", "returned", "test_held", "loaner_in", "loaner_noted", "loaner_out",
]  # fmt: skip
"""asked: in somebody's words. concluded: an inspection whose decision asks for repair. by_phone: asked, and a lead said
yes by phone. leak_test: it failed. decided: a lead decided a hold so. opened, closed: by a lead. decontaminated: the
statement of what was done and what was not. packed: the case is packed. shipped: it left. noted: what the repairer
says of it, an estimate among it; approved: a lead's answer to that. returned: it is here again. test_held: a later test
of the sort that failed. loaner_in, loaner_noted, loaner_out: a scope on loan came, more is known of it, it left; they
say nothing of a repair."""

ASKS: frozenset[What] = frozenset({"asked", "concluded"})
OPENS: frozenset[What] = frozenset({"by_phone", "leak_test", "decided", "opened"})
STEPS: frozenset[What] = frozenset({"decontaminated", "packed", "shipped", "noted", "returned"})

INSIDE = "inside"
"""The whole inside and all channels, in a list of what stays contaminated."""
ALL = "all"
"""The whole scope: nobody has said what was done to it."""

Item = Literal["opened", "serial_photo", "words", "decontaminated", "label", "contents", "contact", "case_photo"]
ITEMS: tuple[Item, ...] = get_args(Item)
"""What a packet must have before it is called complete. That the statement and the label are among them: 29 CFR
1910.1030(d)(2)(xiv). The rest is common practice, no source."""


Stage = Literal["asked", "open", "out", "back", "accepted", "ready"]
"""asked: a lead decides whether it is opened. open: it is made ready to leave. out: it left. back: it is here and not
accepted. accepted: it is not processed since. ready: a lead may release it."""

Due = Literal["back", "serial", "accepted", "processed"]
DUES: tuple[Due, ...] = get_args(Due)
"""What a repaired scope owes before it is released. A full look and a full processing after repair: ESGE-ESGENA
position statement, 2018 (from memory); ports above all: ICHE 2012, two scopes came back with loose biopsy ports."""


@dataclass(frozen=True, slots=True)
class Look:
    """An acceptance inspection that was concluded (`goes` as decided), or one processing. Moments as in the cycle."""

    entry: str
    what: Literal["acceptance", "processed"]
    at_ms: int
    goes: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """One word about a repair. `repair` names one that asked for it or opened it, '' for those themselves.

    `basis` is the step that a newer one stands in the place of; `over` what a lead confirms, answers or closes, and of
    a return the steps of the trip that it ends.
    `said` is the body as written, and `photos` how many photos show the packed case. `undone`: taken back since.
    """

    entry: str
    what: What
    person: str
    at_ms: int
    repair: str = ""
    basis: str = ""
    over: tuple[str, ...] = ()
    undone: bool = False
    said: Mapping[str, Any] = field(default_factory=dict)
    photos: int = 0


@dataclass(frozen=True, slots=True)
class Repair:
    """The repair of a scope that stands now.

    `state`: asked = a lead decides whether it is opened. `openers`: what asked for it or opened it and stands, oldest
    first; the first names it. `unconfirmed`: opened by phone, and no lead has said so yet. `statements` and `packings`
    are the newest; several where tablets did not know of each other. `contaminated` adds up over all statements.
    `shipments`: of the trip that is not ended by a return. `undecided`: estimates that no lead answered. `bounces`: how
    often acceptance sent it back again. `owes`: what must be so before it is released.
    """

    state: Literal["asked", "open"]
    openers: tuple[str, ...]
    since_ms: int
    leak_failed: bool
    unconfirmed: tuple[str, ...]
    statements: tuple[str, ...]
    packings: tuple[str, ...]
    contaminated: tuple[str, ...]
    missing: tuple[Item, ...]
    stage: Stage
    shipments: tuple[str, ...]
    returns: tuple[str, ...]
    undecided: tuple[str, ...]
    bounces: int
    owes: tuple[Due, ...]


def repair_of(events: Iterable[Event], serial_photo: bool, looks: Iterable[Look] = ()) -> Repair | None:
    """What stands after these events, in whatever order they are given; nothing where none asked for a repair.

    `serial_photo`: a photo of the serial number that does not contradict is on record. `looks`: of this scope.
    """
    known = sorted({event.entry: event for event in events}.values(), key=lambda event: (event.at_ms, event.entry))
    standing = [event for event in known if not event.undone]
    closed = {entry for event in standing if event.what == "closed" for entry in event.over}
    steps = [event for event in standing if event.what in STEPS and event.repair not in closed]
    openers = [
        event
        for event in standing
        if event.what in ASKS | OPENS and event.entry not in closed and not _answered(event, standing, steps)
    ]
    if not openers:
        return None
    ended = {entry for event in steps if event.what == "returned" for entry in event.over}
    trip = [event for event in steps if event.entry not in ended]
    statements, packings, shipments = _newest(trip, "decontaminated"), _newest(trip, "packed"), _newest(trip, "shipped")
    returns = _newest(steps, "returned")
    leak_failed = any(event.what == "leak_test" for event in openers)
    confirmed = {entry for event in openers if event.what == "opened" for entry in event.over}
    has: dict[Item, bool] = {
        "opened": any(event.what in OPENS for event in openers),
        "serial_photo": serial_photo,
        "words": any(_text(event, "words") or _text(event, "reason") for event in openers),
        "decontaminated": bool(statements),
        "label": bool(statements) and all(event.said.get("label_on") is True for event in statements),
        "contents": bool(packings),
        "contact": any(_text(event, "contact") for event in packings),
        "case_photo": any(event.photos > 0 for event in packings),
    }
    back = _Back.of(returns, looks)
    stage: Stage = "out" if shipments else back.stage if returns and not statements + packings else "open"
    return Repair(
        state="open" if has["opened"] else "asked",
        openers=tuple(event.entry for event in openers),
        since_ms=openers[0].at_ms,
        leak_failed=leak_failed,
        unconfirmed=tuple(e.entry for e in openers if e.what == "by_phone" and e.entry not in confirmed),
        statements=tuple(event.entry for event in statements),
        packings=tuple(event.entry for event in packings),
        contaminated=tuple(contaminated_of(leak_failed, statements)),
        missing=tuple(item for item, is_there in has.items() if not is_there),
        stage=stage if has["opened"] else "asked",
        shipments=tuple(event.entry for event in shipments),
        returns=tuple(event.entry for event in returns),
        undecided=_undecided(steps, standing),
        bounces=back.bounces,
        owes=back.owes(bool(shipments)),
    )


@dataclass(frozen=True, slots=True)
class _Back:
    """What is known since it came back last: the newest acceptance, and a processing after that."""

    returned: bool
    serial: bool
    goes: str
    processed: bool
    bounces: int

    @classmethod
    def of(cls, returns: Sequence[Event], looks: Iterable[Look]) -> _Back:
        known = sorted({look.entry: look for look in looks}.values(), key=lambda look: (look.at_ms, look.entry))
        since = max((event.at_ms for event in returns), default=None)
        began = min((event.at_ms for event in returns), default=None)
        seen = [look for look in known if look.what == "acceptance" and since is not None and look.at_ms >= since]
        ended = seen[-1] if seen else None
        return cls(
            returned=bool(returns),
            serial=all(event.said.get("serial") != "no" for event in returns if event.at_ms == since),
            goes=ended.goes if ended else "",
            processed=any(look.what == "processed" and ended and look.at_ms >= ended.at_ms for look in known),
            bounces=sum(
                look.what == "acceptance" and look.goes == "repair" and began is not None and look.at_ms >= began
                for look in known
            ),
        )

    @property
    def stage(self) -> Stage:
        if self.goes == "repair":
            return "open"
        return "back" if self.goes != "on" else "ready" if self.processed else "accepted"

    def owes(self, out: bool) -> tuple[Due, ...]:
        has: dict[Due, bool] = {
            "back": self.returned and not out,
            "serial": self.returned and self.serial,
            "accepted": self.goes == "on" and not out,
            "processed": self.goes == "on" and self.processed and not out,
        }
        return tuple(due for due, is_so in has.items() if not is_so)


def _answered(opener: Event, standing: Sequence[Event], steps: Sequence[Event]) -> bool:
    """Whether a failed test is answered by a later one of its sort that held, before anything was built on it."""
    if opener.what != "leak_test" or steps or any(opener.entry in event.over for event in standing):
        return False
    return any(
        event.what == "test_held" and event.said.get("what") == opener.said.get("what") and event.at_ms > opener.at_ms
        for event in standing
    )


def _undecided(steps: Sequence[Event], standing: Sequence[Event]) -> tuple[str, ...]:
    answered = {entry for event in standing if event.what == "approved" for entry in event.over}
    notes = _newest(steps, "noted")
    return tuple(e.entry for e in notes if e.said.get("estimate") is True and e.entry not in answered)


def contaminated_of(leak_failed: bool, statements: Sequence[Event]) -> list[str]:
    """Parts and channels that count as contaminated, `inside` and `all` as they stand above.

    Without a statement the whole scope does. After a failed leak test fluid may have come anywhere: the whole inside
    does too, until whoever processed it says otherwise (common practice, no source).
    """
    if not statements:
        return [ALL]
    named: dict[str, None] = {}
    for event in statements:
        if leak_failed and event.person != event.said.get("processed_by"):
            named[INSIDE] = None
        named |= dict.fromkeys(event.said.get("contaminated", ()))
    return sorted(named, key=lambda each: (each != INSIDE, each))


def _newest(steps: Sequence[Event], what: What) -> list[Event]:
    of_kind = [event for event in steps if event.what == what]
    replaced = {event.basis for event in of_kind}
    return [event for event in of_kind if event.entry not in replaced]


def _text(event: Event, name: str) -> str:
    return str(event.said.get(name) or "").strip()


LoanDue = Literal["instructions", "fits", "accepted", "processed"]
LOAN_DUES: tuple[LoanDue, ...] = get_args(LoanDue)
"""What a scope on loan owes before it may serve: its instructions at hand, connectors and brushes that fit it, an
acceptance inspection that let it on, a processing after that. Loaners are inside the programme and are processed
before use: HICPAC 2016, ESGE-ESGENA position statement, 2018 (from memory); the rest is common practice, no source."""


@dataclass(frozen=True, slots=True)
class Loaner:
    """A scope that is here on loan. `since_ms`: when it came. `came`: the words that said so, newest of each.

    `stage`: came = not accepted; accepted = not processed since; processed = both, and `owes` something else; service =
    it may be used. `owes`: what it lacks before that. `said`: owner, until, instructions, fits, accessories, as the
    newest word of each says. `stands_for`: the scope it stands in for by its own words, '' for none, and `tied_ms` when
    that was said.
    """

    stage: Literal["came", "accepted", "processed", "service"]
    since_ms: int
    came: tuple[str, ...]
    owes: tuple[LoanDue, ...]
    said: Mapping[str, Any]
    stands_for: str
    tied_ms: int


def loaner_of(events: Iterable[Event], looks: Iterable[Look] = ()) -> Loaner | None:
    """The loan that stands; nothing where none came, or it left. A newer word that it came names the one before."""
    standing = sorted(
        (event for event in {event.entry: event for event in events}.values() if not event.undone),
        key=lambda event: (event.at_ms, event.entry),
    )
    left = {entry for event in standing if event.what == "loaner_out" for entry in event.over}
    came = [event for event in _newest(standing, "loaner_in") if event.entry not in left]
    if not came:
        return None
    known = sorted({look.entry: look for look in looks}.values(), key=lambda look: (look.at_ms, look.entry))
    seen = [look for look in known if look.what == "acceptance" and look.at_ms >= came[0].at_ms]
    accepted = bool(seen) and seen[-1].goes == "on"
    processed = accepted and any(look.what == "processed" and look.at_ms >= seen[-1].at_ms for look in known)
    said, tied_ms = _known_of_loan(came, standing)
    has: dict[LoanDue, bool] = {
        "instructions": said.get("instructions") is True,
        "fits": said.get("fits") == "yes",
        "accepted": accepted,
        "processed": processed,
    }
    owes = tuple(due for due, is_so in has.items() if not is_so)
    return Loaner(
        stage="came" if not accepted else "accepted" if not processed else "processed" if owes else "service",
        since_ms=came[0].at_ms,
        came=tuple(event.entry for event in came),
        owes=owes,
        said=said,
        stands_for=str(said.get("stands_for") or ""),
        tied_ms=tied_ms,
    )


def _known_of_loan(came: Sequence[Event], standing: Sequence[Event]) -> tuple[dict[str, Any], int]:
    """What the words of a loan say, each later one in the place of the earlier; when `stands_for` was said last."""
    newest = {event.entry for event in came}
    of_it = set(newest)
    before = {event.entry: event.basis for event in standing if event.what == "loaner_in"}
    for event in came:
        basis = event.basis
        while basis and basis not in of_it:
            of_it.add(basis)
            basis = before.get(basis, "")
    said: dict[str, Any] = {}
    tied_ms = 0
    for event in standing:
        if event.entry in newest or (event.what == "loaner_noted" and event.basis in of_it):
            said |= event.said
            tied_ms = event.at_ms if "stands_for" in event.said else tied_ms
    return said, tied_ms


@dataclass(frozen=True, slots=True)
class Tie:
    """The scope that a loan stands in for, and since when (ms) that is said."""

    scope: str
    since_ms: int


def tie_of(key: str, loaner: Loaner, shipped: Iterable[tuple[str, Event]]) -> Tie | None:
    """The scope a loan stands in for: what its own words say, or a shipment that names it, whichever is said last.

    `key`: the loan's own. `shipped`: scopes with words of how they left; one that a newer one replaces says nothing.
    """
    ties = [(loaner.tied_ms, "", loaner.stands_for)] if loaner.tied_ms else []
    words = list(shipped)
    replaced = {event.basis for _, event in words}
    ties += [
        (event.at_ms, event.entry, scope)
        for scope, event in words
        if event.what == "shipped" and not event.undone and event.entry not in replaced
        and event.said.get("loaner") == key and event.at_ms >= loaner.since_ms
    ]  # fmt: skip
    newest = max(ties, default=(0, "", ""))
    return Tie(newest[2], newest[0]) if newest[2] else None


def released_ms(events: Iterable[Event]) -> int:
    """When a lead closed a repair of this scope as done last: it was released then (ms); 0 where none was."""
    return max(
        (e.at_ms for e in events if e.what == "closed" and not e.undone and e.said.get("outcome") == "done"), default=0
    )


def may_go_back(tie: Tie, repair: Repair | None, released_ms: int) -> bool:
    """Whether the scope that a loan stands in for is back and released since the two were tied.

    A word for whoever sees the loan; it bars nothing (common practice, no source).
    """
    return repair is None and released_ms >= tie.since_ms


Stop = Literal["repair", "loan"]
"""Why a scope is not let go before use: a repair of it stands, or it is on loan and owes something before it serves."""


def stops_use(repair: Repair | None, loaner: Loaner | None) -> Stop | None:
    """Nothing where it may be used. A repair ends only when a lead closes it; a loan is in service once it owes nothing
    of `LOAN_DUES`. A loaned or repaired scope is processed before use: ESGE-ESGENA position statement, 2018 (from
    memory)."""
    if repair is not None:
        return "repair"
    return "loan" if loaner is not None and loaner.stage != "service" else None


MINUTE_MS = 60_000


def out_fact(left_ms: int, scope_kind: str, now_ms: int) -> Fact:
    """How long it is out by now, as the policy table reads it; without `minutes` where a clock must be wrong."""
    gone = now_ms - left_ms
    known = {"minutes": gone // MINUTE_MS} if gone >= 0 else {}
    return {"what": "span", "span": "repair", "scope_kind": scope_kind, "place": "", **known}


def differs(left: Mapping[str, Any], came: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What came back otherwise than it left: bodies of the packing and of the return.

    The serial number; each accessory with how many left and how many came; parts that look swapped, in words.
    """
    found: list[dict[str, Any]] = []
    if came.get("serial") == "no":
        found.append({"what": "serial", "read": str(came.get("read") or "")})
    before, now = _counts(left), _counts(came)
    for name in sorted(before | now):
        if before.get(name, 0) != now.get(name, 0):
            found.append({"what": "accessories", "of": name, "left": before.get(name, 0), "came": now.get(name, 0)})
    return found + [{"what": "swapped", "of": str(words)} for words in came.get("swapped", ())]


def _counts(said: Mapping[str, Any]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for each in said.get("accessories", ()):
        counts[str(each["what"])] = counts.get(str(each["what"]), 0) + int(each["count"])
    return counts
