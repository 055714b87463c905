"""Repair cards: what is asked for, opened and packed of each scope, for a tablet to go on with without a network."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import Connection

from loupebook.cards.custody import SHORT
from loupebook.repairs.tables.repairs import in_hand, repair_words, serials_seen
from loupebook.rules.repair import released_ms


def repair_cards(connection: Connection, keys: Sequence[str]) -> list[dict[str, object]]:
    """One row for each scope that a repair was ever asked for; what is closed has left its `events`.

    `released_ms`: when a lead closed one as done last, 0 where none was. `counted`: the beginnings of the hashes of all
    that was taken in, so that a tablet leaves out its own of them.
    """
    found = {key: words for key, words in repair_words(connection, keys).items() if words}
    seen = serials_seen(connection, list(found))
    return [
        {
            "scope": key,
            "serial_photo": key in seen,
            "events": [
                {**msgspec.to_builtins(word.event), "inspections": list(word.inspections), "case": list(word.photos)}
                for word in in_hand(words)
            ],
            "released_ms": released_ms(word.event for word in words),
            "counted": [word.event.entry[:SHORT] for word in words],
        }
        for key, words in found.items()
    ]
