"""Custody cards: who has each scope, in as few events as say so, for a tablet to build on without a network."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import Connection

from loupebook.repairs.tables import custody_events, in_short
from loupebook.rules.custody import Event, custody_of

SHORT = 16
"""Characters of a hash that a card says of each word it took in: a tablet then leaves out its own of them."""


def custody_cards(connection: Connection, keys: Sequence[str]) -> list[dict[str, object]]:
    """One row for each scope that was ever handed over."""
    found = custody_events(connection, keys)
    return [
        {
            "scope": key,
            "events": [msgspec.to_builtins(event) for event in in_short(events)],
            "counted": [entry[:SHORT] for entry in _taken_in(events)],
        }
        for key, events in found.items()
        if events
    ]


def _taken_in(events: Sequence[Event]) -> list[str]:
    """Words that `events` of a card already speak of. What waits for its basis is not: its tablet goes on saying it."""
    waiting = set(custody_of(events).waiting)
    return [event.entry for event in events if event.entry not in waiting]
