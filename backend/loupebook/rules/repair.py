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

What = Literal[
    "asked", "concluded", "by_phone", "leak_test", "decided", "opened", "closed", "decontaminated", "packed",
]  # fmt: skip
"""asked: in somebody's words. concluded: an inspection whose decision asks for repair. by_phone: asked, and a lead said
yes by phone. leak_test: it failed. decided: a lead decided a hold so. opened, closed: by a lead. decontaminated: the
statement of what was done and what was not. packed: the case is packed."""

ASKS: frozenset[What] = frozenset({"asked", "concluded"})
OPENS: frozenset[What] = frozenset({"by_phone", "leak_test", "decided", "opened"})
STEPS: frozenset[What] = frozenset({"decontaminated", "packed"})

INSIDE = "inside"
"""The whole inside and all channels, in a list of what stays contaminated."""
ALL = "all"
"""The whole scope: nobody has said what was done to it."""

Item = Literal["opened", "serial_photo", "words", "decontaminated", "label", "contents", "contact", "case_photo"]
ITEMS: tuple[Item, ...] = get_args(Item)
"""What a packet must have before it is called complete. That the statement and the label are among them: 29 CFR
1910.1030(d)(2)(xiv). The rest is common practice, no source."""


@dataclass(frozen=True, slots=True)
class Event:
    """One word about a repair. `repair` names one that asked for it or opened it, '' for those themselves.

    `basis` is the statement or packing that a newer one stands in the place of; `over` what a lead confirms or closes.
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


def repair_of(events: Iterable[Event], serial_photo: bool) -> Repair | None:
    """What stands after these events, in whatever order they are given; nothing where none asked for a repair.

    `serial_photo`: a photo of the serial number that does not contradict is on record.
    """
    known = sorted({event.entry: event for event in events}.values(), key=lambda event: (event.at_ms, event.entry))
    standing = [event for event in known if not event.undone]
    closed = {entry for event in standing if event.what == "closed" for entry in event.over}
    openers = [event for event in standing if event.what in ASKS | OPENS and event.entry not in closed]
    if not openers:
        return None
    steps = [event for event in standing if event.what in STEPS and event.repair not in closed]
    statements, packings = _newest(steps, "decontaminated"), _newest(steps, "packed")
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
    )


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
