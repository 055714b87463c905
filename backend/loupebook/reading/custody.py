"""Who has a scope, since when, and what was said where that is in doubt, as the desk shows it."""

from __future__ import annotations

from collections.abc import Sequence

from loupebook.rules.custody import HOUSE, Custody, Event, Holder, unseen

Row = dict[str, object]


def sort_of(custody: Custody) -> str:
    """Under which heading a scope stands."""
    return custody.state if custody.state != "held" else (custody.holder or HOUSE).kind


def scope_row(custody: Custody, events: Sequence[Event], words: dict[str, Row]) -> Row:
    by_entry = {event.entry: event for event in events}
    return {
        "is": sort_of(custody),
        "holder": holder_shown(custody.holder),
        "to": holder_shown(custody.to),
        "since_ms": custody.since_ms,
        "why": custody.why,
        "waiting": len(custody.waiting),
        "unseen": [{"giver": offer.person, "at_ms": offer.at_ms} for offer in unseen(events)],
        "tips": [
            {"entry": tip, "what": by_entry[tip].what, "person": by_entry[tip].person, "at_ms": by_entry[tip].at_ms}
            | {"holder": holder_shown(by_entry[tip].holder), **words.get(tip, {})}
            for tip in custody.tips
        ],
    }


def holder_shown(holder: Holder | None) -> Row | None:
    return {"kind": holder.kind, "name": holder.name} if holder else None
