"""Repairs that stand: what asks for a lead's word first, then what is opened, each with all that was said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec
from sqlalchemy import Connection, text

from loupebook.reading.custody import holder_shown, sort_of
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.repairs.tables import custodies
from loupebook.repairs.tables.repairs import Said, in_hand, repair_words, serials_seen
from loupebook.rules.custody import Custody
from loupebook.rules.repair import Event, Repair, repair_of
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

Row = dict[str, object]
SPOKEN = text("SELECT DISTINCT scope FROM repair_words WHERE scope <> ''")


def repairs(connection: Connection, sources: Sources) -> Row:
    """Every repair that stands: those a lead must say something of first, of each sort the longest there first."""
    keys = [str(key) for key in connection.execute(SPOKEN).scalars()]
    words, seen = repair_words(connection, keys), serials_seen(connection, keys)
    stands = {key: repair for key in keys if (repair := repair_of(_events(words[key]), key in seen)) is not None}
    known, holders = scopes_known(connection, list(stands)), custodies(connection, list(stands))
    order = sorted(stands, key=lambda key: (_turn(stands[key]), stands[key].since_ms, key))
    return {
        "rows": [repair_row(known[key], stands[key], words[key], holders[key]) for key in order],
        "people": [person_shown(person) for person in sources.people(connection)],
    }


def repair_row(scope: ScopeKnown, repair: Repair, words: Sequence[Said], custody: Custody) -> Row:
    """One repair with its words in order, and who has the scope now."""
    shown: Mapping[str, object] = msgspec.to_builtins(repair)
    ordered = sorted(in_hand(words), key=lambda word: (word.event.at_ms, word.event.entry))
    return {
        "scope": scope_shown(scope),
        **shown,
        "words": [
            {**msgspec.to_builtins(word.event), "inspections": list(word.inspections), "case": list(word.photos)}
            for word in ordered
        ],
        "is": sort_of(custody),
        "holder": holder_shown(custody.holder),
    }


def _turn(repair: Repair) -> int:
    return 0 if repair.state == "asked" else 1 if repair.unconfirmed else 2


def _events(words: Sequence[Said]) -> list[Event]:
    return [word.event for word in words]
