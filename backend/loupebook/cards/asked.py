"""What leads ask people to do themself, for tablets. Of a second opinion nothing that was said before."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.scopes.tables.asked import asked_open

SHOWN = text(f"SELECT w.value FROM json_each(:photos) w WHERE NOT {hidden_now('w.value')}")


def asked_cards(connection: Connection) -> list[dict[str, object]]:
    """Everything that is open, the longest first; of its photos those that are not hidden now."""
    found = asked_open(connection)
    named = msgspec.json.encode(sorted({photo for each in found for photo in each.photos})).decode()
    shown = set(connection.execute(SHOWN, {"photos": named}).scalars())
    return [
        {
            "asked": each.entry,
            "what": each.what,
            "scope": each.scope,
            "of": None if each.what == "second_opinion" else each.of,
            "to": each.to,
            "not_by": each.not_by,
            "parts": each.parts,
            "photos": [photo for photo in each.photos if photo in shown],
            "reason": each.reason,
            "drawn": each.drawn is not None,
            "person": each.person,
            "at": each.at,
        }
        for each in found
    ]
