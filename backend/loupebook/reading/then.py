"""The photos of before that a finding is held against: of the last inspection, of the last acceptance, the first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.laid import laid_over, shown_over
from loupebook.inspections.tables.stands import STANDS, Inspection
from loupebook.log.asking import ask
from loupebook.reading.port import Sources

_HIDDEN = f" AND NOT {hidden_now('d.sha256')}"


def _one(order: str) -> str:
    """A step from one end of the index of a scope's photos of a part, before this inspection."""
    return (
        "(SELECT json_array(d.sha256, d.when_ms) FROM photos_of d JOIN acts a ON a.version = d.version "
        f"WHERE d.scope = :scope AND d.part = w.value AND d.when_ms < :before AND {STANDS}{_HIDDEN} "
        f"ORDER BY d.when_ms {order}, d.version LIMIT 1)"
    )


BEFORE = text(f"SELECT w.value, {_one('DESC')}, {_one('ASC')} FROM json_each(:parts) w")
# As many rows as that acceptance has photos.
ACCEPTED = text(
    "SELECT d.part, json_array(d.sha256, d.when_ms) FROM photos_of d JOIN acts a ON a.version = d.version "
    "WHERE d.begun = (SELECT i.begun FROM inspection_parts i JOIN acts a ON a.version = i.version "
    f"WHERE i.scope = :scope AND i.point = 'acceptance' AND i.is_open = 0 AND i.when_ms < :before AND {STANDS} "
    f"ORDER BY i.when_ms DESC, i.begun LIMIT 1) AND d.part <> '' AND {STANDS}{_HIDDEN} ORDER BY d.when_ms, d.version"
)


def then_photos(connection: Connection, sources: Sources, one: Inspection) -> dict[str, list[dict[str, object]]]:
    """By part with a finding: `{of: last|acceptance|first, sha256, when_ms, here, laid?}`, each photo once."""
    head = one.parts[0]
    parts = sorted({row.part for row in one.findings})
    if not parts:
        return {}
    about = {"scope": head.scope, "before": head.when_ms}
    accepted: dict[str, str] = {part: photo for part, photo in ask(connection, ACCEPTED, about)}  # noqa: C416
    found: dict[str, list[dict[str, object]]] = {}
    for part, last, first in ask(connection, BEFORE, about | {"parts": msgspec.json.encode(parts).decode()}):
        found[part] = _each_once((("last", last), ("acceptance", accepted.get(part)), ("first", first)))
    names = sorted({str(each["sha256"]) for each in _all(found.values())})
    here, over = sources.photos_here(connection, names), laid_over(connection, names)

    def row(each: dict[str, object]) -> dict[str, object]:
        return each | {"here": each["sha256"] in here} | shown_over(over, each["sha256"])

    return {part: list(map(row, rows)) for part, rows in found.items()}


def _each_once(named: Iterable[tuple[str, str | None]]) -> list[dict[str, object]]:
    rows: dict[str, dict[str, object]] = {}
    for of, photo in named:
        if photo is None:
            continue
        sha256, when_ms = msgspec.json.decode(photo, type=tuple[str, int])
        rows.setdefault(sha256, {"of": of, "sha256": sha256, "when_ms": when_ms})
    return list(rows.values())


def _all(lists: Iterable[Sequence[dict[str, object]]]) -> list[dict[str, object]]:
    return [each for rows in lists for each in rows]
