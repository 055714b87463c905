"""Where a scope stands in its cycle, and for how long: from the steps and looks that are known of it. Pure.

The same as `frontend/src/rules/cycle.ts`; `shared/vectors/cycle.json` holds the two together. It is doubled because
the tablet prompts without a network from what it knows, and the server raises open points from what all chains say.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, get_args

from loupebook.record.kinds import Point
from loupebook.rules.conditions import Fact

Step = Literal["received", "processed", "hung", "taken"]
STEPS: tuple[Step, ...] = get_args(Step)
POINTS: tuple[Point, ...] = get_args(Point)

Phase = Literal[
    "none", "received", "cleaning", "at_leak_test", "after_cleaning", "processed", "after_drying", "hung", "taken",
    "before_use", "acceptance",
]  # fmt: skip
"""The last thing that is known to have happened. `cleaning`: received, and its cleaning was begun."""

SpanName = Literal["delay", "out", "hung"]
"""delay: from the end of the procedure (or the receipt) until cleaning is begun.
out: outside a cabinet, from the machine or from being taken out until it hangs or is given out for use.
hung: since it was first hung after its last processing; taking it out and hanging it back does not start anew."""

MINUTE_MS = 60_000


@dataclass(frozen=True)
class Event:
    """One step, or one look that was concluded. Moments are ms UTC since 1970 by the server's clock as far as known."""

    entry: str
    """The hash it has for ever."""
    what: str
    """A step, or the point of the look."""
    at_ms: int
    chain: str
    seq: int
    place: str = ""
    first: str | None = None
    goes: str | None = None
    procedure_end_ms: int | None = None
    cleaning_ms: int | None = None
    of: str | None = None
    """The receipt that a later word about it belongs to."""
    pre_clean: str | None = None
    machine: str | None = None
    cycle: str | None = None


@dataclass(frozen=True)
class Span:
    """A time that a limit may be set for; it still runs where `to_ms` is nothing."""

    span: SpanName
    from_ms: int
    to_ms: int | None = None


@dataclass(frozen=True)
class Stand:
    """Where the scope stands now."""

    phase: Phase = "none"
    since_ms: int = 0
    last: Event | None = None
    received: Event | None = None
    """The receipt of this cycle."""
    disinfected: Event | None = None
    """The processing that nothing known since has undone."""
    stored_ms: int | None = None
    out_ms: int | None = None
    delay: Span | None = None

    @property
    def spans(self) -> tuple[Span, ...]:
        """The times that run or that a limit may still be asked of, in a fixed order."""
        out = Span("out", self.out_ms) if self.out_ms is not None else None
        hung = Span("hung", self.stored_ms) if self.stored_ms is not None else None
        return tuple(span for span in (self.delay, out, hung) if span is not None)


def in_order(events: Iterable[Event], now_ms: int) -> list[Event]:
    """Events of several chains in the order they happened, as far as that can be told.

    Nothing happened later than now, and of one chain nothing before what stands earlier in it: a clock that was
    wrong moves its own events together and never turns them round. Equal moments go by chain and place in it.
    """
    latest: dict[str, int] = {}
    placed = []
    for event in sorted(events, key=lambda each: (each.chain, each.seq)):
        at_ms = min(event.at_ms, now_ms)
        latest[event.chain] = at_ms = max(at_ms, latest.get(event.chain, at_ms))
        placed.append(replace(event, at_ms=at_ms))
    return sorted(placed, key=lambda each: (each.at_ms, each.chain, each.seq))


def stand_of(events: Iterable[Event], now_ms: int) -> Stand:
    """Where a scope stands after these events; each counted once, in whatever order they are given."""
    once = {event.entry: event for event in events}
    stand = Stand()
    for event in in_order(once.values(), now_ms):
        stand = _after(stand, event)
    return stand


def _after(stand: Stand, event: Event) -> Stand:
    if event.what == "received":
        return _said_later(stand, event) if event.of is not None else _received(event)
    if event.what not in (*STEPS, *POINTS):
        return stand
    moved = replace(stand, phase=event.what, since_ms=event.at_ms, last=event)
    if event.what == "processed":
        fresh = {"disinfected": event, "stored_ms": None, "out_ms": event.at_ms, "delay": None}
        return replace(moved, **fresh)  # type: ignore[arg-type]
    if event.what == "hung":
        stored_ms = event.at_ms if stand.stored_ms is None else stand.stored_ms
        return replace(moved, stored_ms=stored_ms, out_ms=None)
    if event.what == "taken":
        return replace(moved, out_ms=event.at_ms)
    if event.what in ("after_drying", "before_use"):
        used = event.what == "before_use" and event.goes == "on" and event.first == "nothing"
        undone = event.first in ("clean", "whole")
        return replace(moved, disinfected=None, stored_ms=None, out_ms=None) if used or undone else moved
    delay = stand.delay if event.what == "at_leak_test" or (stand.delay and stand.delay.to_ms is not None) else None
    return replace(moved, disinfected=None, stored_ms=None, out_ms=None, delay=delay)


def _received(event: Event) -> Stand:
    begun = event.cleaning_ms
    came = event.at_ms if event.procedure_end_ms is None else event.procedure_end_ms
    return Stand(
        phase="received" if begun is None else "cleaning",
        since_ms=event.at_ms if begun is None else begun,
        last=event,
        received=event,
        delay=Span("delay", came, begun),
    )


def _said_later(stand: Stand, event: Event) -> Stand:
    """What was left out at the receipt; said of an older receipt it changes nothing."""
    if stand.received is None or event.of != stand.received.entry or stand.delay is None:
        return stand
    came = stand.delay.from_ms if event.procedure_end_ms is None else event.procedure_end_ms
    begun = stand.delay.to_ms if event.cleaning_ms is None else event.cleaning_ms
    told = replace(stand, delay=Span("delay", came, begun))
    if stand.phase != "received" or begun is None:
        return told
    return replace(told, phase="cleaning", since_ms=begun, last=event)


def minutes_of(span: Span, now_ms: int) -> int | None:
    """Whole minutes that have gone by; nothing where a clock must be wrong, since they would be fewer than none."""
    gone = (now_ms if span.to_ms is None else span.to_ms) - span.from_ms
    return gone // MINUTE_MS if gone >= 0 else None


def span_facts(stand: Stand, scope_kind: str, now_ms: int) -> list[Fact]:
    """One fact a span, as the policy table reads it; without `minutes` where they cannot be told."""
    place = stand.last.place if stand.last is not None else ""
    facts: list[Fact] = []
    for span in stand.spans:
        minutes = minutes_of(span, now_ms)
        known = {} if minutes is None else {"minutes": minutes}
        facts.append({"what": "span", "span": span.span, "scope_kind": scope_kind, "place": place, **known})
    return facts
