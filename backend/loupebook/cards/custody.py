"""Custody cards: who has each scope, in as few events as say so, for a tablet to build on without a network."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import Connection

from loupebook.repairs.tables import custody_events, in_short

SHORT = 16
"""Characters of a hash that a card says of each word it took in: a tablet then leaves out its own of them."""


def custody_cards(connection: Connection, keys: Sequence[str]) -> list[dict[str, object]]:
    """One row for each scope that was ever handed over."""
    found = custody_events(connection, keys)
    return [
        {
            "scope": key,
            "events": [msgspec.to_builtins(event) for event in in_short(events)],
            "counted": [event.entry[:SHORT] for event in events],
        }
        for key, events in found.items()
        if events
    ]
