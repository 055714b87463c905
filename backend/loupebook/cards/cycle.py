"""Cycle cards: the newest steps and looks of each scope, enough for any tablet to tell where it stands."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from loupebook.inspections.tables.cycle import cycle_events, event_shown


def cycle_cards(connection: Connection, keys: Sequence[str]) -> list[dict[str, object]]:
    """One row a scope, also where nothing stands any more: the tablet then forgets what it knew."""
    events = cycle_events(connection, keys)
    return [{"scope": key, "events": [event_shown(event) for event in events[key]]} for key in keys]
