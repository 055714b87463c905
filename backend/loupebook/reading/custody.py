"""Where scopes are now: who has each, since when, and what is said where that is in doubt. The desk's list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sqlalchemy import Connection, text

from loupebook.reading.find import found_keys
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.repairs.tables import custody_events, words_of
from loupebook.rules.custody import HOUSE, Custody, Event, Holder, custody_of
from loupebook.scopes.tables.known import scopes_known

Row = dict[str, object]
MOST = 200
ORDER = ("disputed", "offered", "outside", "person", "place", "house")
"""What a lead must see first: who has it is in doubt, nobody has taken it yet, it has left the house."""
HANDED = text("SELECT DISTINCT scope FROM custody_steps")


def whereabouts(connection: Connection, sources: Sources, wanted: str = "") -> Row:
    """Every scope that was ever handed over, or those found by what is printed or stuck on them; at most 200.

    Those that need somebody come first, of each sort the longest there first. `counts` are of all, not of the 200.
    """
    handed = connection.execute(HANDED).scalars
    keys = found_keys(connection, wanted) if wanted.strip() else [str(key) for key in handed()]
    events = custody_events(connection, keys)
    told = {key: custody_of(of_scope) for key, of_scope in events.items()}
    order = sorted(told, key=lambda key: (ORDER.index(sort_of(told[key])), told[key].since_ms, key))
    known = scopes_known(connection, order[:MOST])
    doubted = [tip for key in order[:MOST] if told[key].state == "disputed" for tip in told[key].tips]
    words = words_of(connection, doubted)
    return {
        "rows": [{"scope": scope_shown(known[key])} | scope_row(told[key], events[key], words) for key in order[:MOST]],
        "counts": dict(Counter(sort_of(each) for each in told.values())),
        "more": len(order) > MOST,
        "people": [person_shown(person) for person in sources.people(connection)],
        "places": [place.name for place in sources.facility().places],
    }


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
        "tips": [
            {"entry": tip, "what": by_entry[tip].what, "person": by_entry[tip].person, "at_ms": by_entry[tip].at_ms}
            | {"holder": holder_shown(by_entry[tip].holder), **words.get(tip, {})}
            for tip in custody.tips
        ],
    }


def holder_shown(holder: Holder | None) -> Row | None:
    return {"kind": holder.kind, "name": holder.name} if holder else None
