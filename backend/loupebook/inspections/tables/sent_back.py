"""The concluded looks that sent a scope back to cleaning, as they stand. Judges nothing of how many are too many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.stands import STANDS
from loupebook.log.asking import ask
from loupebook.rules.again import SentBack

MOST = 50
"""The newest that are read of a scope. Common practice, no source: a policy row asks for some few."""

# The whole cycle is asked for by dirt, and by time, moisture or a loan that comes in as well: only dirt counts here.
BACK = text(
    "SELECT w.value, (SELECT json_group_array(json(l.back)) FROM ("
    "SELECT json_object('entry', a.entry, 'root', p.root, 'at_ms', d.when_ms) AS back FROM endings d "
    "JOIN acts a ON a.version = d.version JOIN inspection_parts p ON p.begun = d.begun AND p.version = d.begun "
    f"WHERE d.scope = w.value AND d.when_ms >= :since AND d.ended = 'concluded' AND p.practice = 0 AND {STANDS} "
    "AND d.first IN ('clean', 'whole') AND (d.first = 'clean' OR (d.first = 'whole' AND EXISTS ("
    "SELECT 1 FROM findings f JOIN acts b ON b.version = f.version WHERE f.begun = d.begun AND b.replaced_by IS NULL "
    "AND b.withdrawn_by IS NULL AND f.finding IN (SELECT w.value FROM json_each(:soil) w)))) "
    f"ORDER BY d.when_ms DESC, d.version LIMIT {MOST}) l) FROM json_each(:scopes) w"
)


def sent_back(
    connection: Connection, keys: Sequence[str], since_ms: int, catalogue: Mapping[str, Any] | None
) -> dict[str, list[SentBack]]:
    """Per scope the looks since a moment (ms UTC) that sent it to cleaning, or to the whole cycle because of dirt."""
    findings = (catalogue or {}).get("findings", {})
    soil = [name for name, known in findings.items() if known.get("class") == "soil"]
    given = {"scopes": _json(keys), "soil": _json(soil), "since": since_ms}
    rows = ask(connection, BACK, given) if keys else ()
    return {scope: msgspec.json.decode(back, type=list[SentBack]) for scope, back in rows}


def _json(values: Sequence[str]) -> str:
    return msgspec.json.encode(list(values)).decode()
