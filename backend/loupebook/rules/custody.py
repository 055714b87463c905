"""Who has a scope, as all that is known of it says: one holder, an offer that waits, or a dispute. Pure.

The same as `frontend/src/rules/custody.ts`; `shared/vectors/custody.json` holds the two together. It is doubled because
two people hand a scope over without a network, and the server must come to the same answer from what both wrote.

Each event names the one it builds on (`basis` of its entry). Known events therefore form a tree, in which those that
build on the same and say the same are one: its tip says who has the scope. Several tips: disputed, whoever arrived
first, until a lead settles it by naming them. No clock decides anything, and the order of arrival changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

What = Literal["offered", "accepted", "declined", "returned", "taken_back", "settled"]
"""offered: the giver holds it out. accepted: the taker has it. declined: it stays with the giver.
returned: it came back from somebody outside the house. taken_back: the event it builds on is undone.
settled: a lead says who has it, over the tips that differed."""

Why = Literal["two_on_one", "not_the_holder", "nothing_offered", "same_person", "not_outside"]
"""two_on_one: two that exclude each other build on one. not_the_holder: somebody gave what another has.
nothing_offered: taken or declined, where no offer stood. same_person: one person gave and took.
not_outside: it is said to have come back, and somebody in the house has it."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has it: a person of the house, a place of the house, or somebody outside (a courier, a repairer).

    `house` with an empty name is the house itself: nothing was ever handed over.
    """

    kind: Literal["house", "person", "place", "outside"]
    name: str = ""


HOUSE = Holder("house")


@dataclass(frozen=True, slots=True)
class Event:
    """One word about who has a scope. `person` wrote it; `basis` is what it builds on, '' where it knew of nothing."""

    entry: str
    what: What
    basis: str
    person: str
    at_ms: int
    holder: Holder = HOUSE
    """offered: for whom (`house`: whoever takes it). accepted, returned, settled: who has it now."""
    over: tuple[str, ...] = ()
    """settled: the tips it ends."""
    offer: Event | None = None
    """accepted, declined: the offer it builds on, as the giver's screen showed it. It stands in for the offer's own
    entry until that is known, so that what was taken without a network is not lost with the giver's tablet."""


@dataclass(frozen=True, slots=True)
class Custody:
    """What is so now. `tips` are the entries that say it; what comes next names the first of them as its basis."""

    state: Literal["held", "offered", "disputed"]
    holder: Holder | None
    """Nobody can be named while it is disputed. While it is offered, the giver."""
    to: Holder | None = None
    since_ms: int = 0
    tips: tuple[str, ...] = ()
    why: Why | None = None
    waiting: tuple[str, ...] = ()
    """Entries whose basis is not known here: they say nothing yet."""


def custody_of(events: Iterable[Event]) -> Custody:
    """Who has a scope after these events; each counted once, in whatever order they are given."""
    given = {event.entry: event for event in events}
    known = _shown(given) | given
    tree = _Tree()
    left = sorted(known.values(), key=lambda event: event.entry)
    while left:
        ready = [event for event in left if tree.knows(_parents(event))]
        if not ready:
            break
        for event in ready:
            tree.add(event)
        left = [event for event in left if event not in ready]
    return replace(tree.told(), waiting=tuple(event.entry for event in left if event.entry in given))


def unseen(events: Iterable[Event]) -> list[Event]:
    """Offers that somebody took or declined off the giver's screen, and whose own entries have not come."""
    given = {event.entry: event for event in events}
    return [offer for entry, offer in _shown(given).items() if entry not in given]


def _shown(given: dict[str, Event]) -> dict[str, Event]:
    """Offers as screens showed them. Where two say different things of one, that of the lowest entry."""
    shown: dict[str, Event] = {}
    for entry in sorted(given):
        offer = given[entry].offer
        if offer is not None:
            shown.setdefault(offer.entry, offer)
    return shown


_HOUSE_HAS_IT = Custody("held", HOUSE)
_Says = tuple[str, Holder | None, Holder | None, Why | None]


def may_take(custody: Custody, person: str) -> bool:
    """Whether this person may take or decline what is offered now: not the giver, and meant for them or for anybody."""
    if custody.state != "offered" or custody.to is None or custody.holder == Holder("person", person):
        return False
    return custody.to.kind != "person" or custody.to.name == person


@dataclass(slots=True)
class _Node:
    """One or more events that build on the same and say the same: scanned twice, or written by both who were there."""

    custody: Custody
    before: Custody
    entries: set[str]
    passed: bool = False
    """Something builds on it."""


class _Tree:
    """Nodes by what they build on and what they say; events come after those that they build on."""

    def __init__(self) -> None:
        self._nodes: dict[tuple[frozenset[int], _Says], _Node] = {}
        self._of: dict[str, _Node] = {}

    def knows(self, entries: Iterable[str]) -> bool:
        return all(entry in self._of for entry in entries)

    def add(self, event: Event) -> None:
        parents = [self._of[entry] for entry in _parents(event)]
        before = parents[0].custody if parents else _HOUSE_HAS_IT
        after = _undone(parents, event) if event.what == "taken_back" else _after(before, event)
        key = (frozenset(map(id, parents)), (after.state, after.holder, after.to, after.why))
        node = self._nodes.setdefault(key, _Node(after, before, set()))
        node.custody = replace(node.custody, since_ms=min(node.custody.since_ms, after.since_ms))
        node.entries.add(event.entry)
        self._of[event.entry] = node
        for parent in parents:
            parent.passed = True

    def told(self) -> Custody:
        tips = [node for node in self._nodes.values() if not node.passed]
        entries = tuple(sorted(entry for node in tips for entry in node.entries))
        if not tips:
            return _HOUSE_HAS_IT
        if len(tips) == 1:
            return replace(tips[0].custody, tips=entries)
        return Custody("disputed", None, None, max(tip.custody.since_ms for tip in tips), entries, "two_on_one")


def _parents(event: Event) -> tuple[str, ...]:
    if event.what == "settled":
        return event.over
    return (event.basis,) if event.basis else ()


def _undone(parents: list[_Node], event: Event) -> Custody:
    """What was so before the event that is taken back; nothing, for an event that names none."""
    return parents[0].before if parents else _HOUSE_HAS_IT


def _after(before: Custody, event: Event) -> Custody:
    """What is so after this event, if nothing but its own line is looked at."""
    if event.what == "settled":
        return Custody("held", event.holder, since_ms=event.at_ms)
    return before if before.state == "disputed" else _OF[event.what](before, event)


def _disputed(event: Event, why: Why) -> Custody:
    return Custody("disputed", None, since_ms=event.at_ms, why=why)


def _offered(before: Custody, event: Event) -> Custody:
    """What lies in the house anybody may give; what a person has, only they. A second offer stands for the first."""
    giver = Holder("person", event.person)
    if before.holder is not None and before.holder.kind in ("person", "outside") and before.holder != giver:
        return _disputed(event, "not_the_holder")
    return Custody("offered", giver, event.holder, event.at_ms)


def _accepted(before: Custody, event: Event) -> Custody:
    if before.state != "offered":
        return _disputed(event, "nothing_offered")
    if event.holder.kind != "outside" and before.holder == Holder("person", event.person):
        return _disputed(event, "same_person")
    return Custody("held", event.holder, since_ms=event.at_ms)


def _declined(before: Custody, event: Event) -> Custody:
    if before.state != "offered":
        return _disputed(event, "nothing_offered")
    return Custody("held", before.holder, since_ms=event.at_ms)


def _returned(before: Custody, event: Event) -> Custody:
    if before.holder is not None and before.holder.kind in ("person", "place") and before.holder != event.holder:
        return _disputed(event, "not_outside")
    return Custody("held", event.holder, since_ms=event.at_ms)


_OF = {"offered": _offered, "accepted": _accepted, "declined": _declined, "returned": _returned}
