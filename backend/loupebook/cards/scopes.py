"""Scope cards: what a tablet knows of each scope before it is in anybody's hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import msgspec
from sqlalchemy import Connection, TextClause, bindparam, text

from loupebook.cards.port import Sources
from loupebook.inspections.rules import cleanings_of
from loupebook.inspections.tables.stands import STANDS
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

SEEN_FOR_MS = 90 * 24 * 3600 * 1000
MOST_NEAR = 300
"""Scopes of a station's place seen in 90 days travel whole; of all others only one line, enough for a name."""

# The oldest moment among the 300 newest of a place; a place with fewer has none, and 90 days decide.
OLDEST_NEAR = text("SELECT seen_ms FROM scope_seen WHERE place = :place ORDER BY seen_ms DESC LIMIT 1 OFFSET :most")
TOUCHED = text(
    "SELECT t.scope, coalesce(s.seen_ms, -1) FROM scope_touched t "
    "LEFT JOIN scope_seen s ON s.place = :place AND s.scope = t.scope WHERE t.changed > :since ORDER BY t.changed"
)


def _newest_each(select: str, table: str, where: str = "") -> str:
    """The newest row that stands for one (scope, part): a step from the end of an index."""
    return (
        f"(SELECT {select} FROM {table} d JOIN acts a ON a.version = d.version "
        f"WHERE d.scope = w.value AND d.part = p.value AND {STANDS}{where} ORDER BY d.when_ms DESC, d.version LIMIT 1)"
    )


_NOT_HIDDEN = (
    " AND NOT EXISTS (SELECT 1 FROM photos_restricted r JOIN acts h ON h.version = r.version "
    "WHERE r.photo = d.sha256 AND h.withdrawn_by IS NULL)"
)
# Every wished scope times every part: each cell is a step in an index, so the cost is the answer's size.
PARTS = text(
    "SELECT w.value AS scope, p.value AS part, "
    + ", ".join(
        _newest_each("d.version", table, where)
        for table, where in (("part_marks", ""), ("findings", ""), ("photos_of", _NOT_HIDDEN))
    )
    + " FROM json_each(:scopes) w, json_each(:parts) p"
)


def _of_scopes(statement: str) -> TextClause:
    return text(statement).bindparams(bindparam("scopes", expanding=True))


def _in(statement: str) -> TextClause:
    return text(statement).bindparams(bindparam("versions", expanding=True))


MARKS = _in("SELECT version, part, mark, when_ms FROM part_marks WHERE version IN :versions")
FINDINGS = _in(
    "SELECT version, part, finding, grade, since, place_mm, place_end, when_ms FROM findings WHERE version IN :versions"
)
PHOTOS = _in("SELECT version, part, sha256, type, bytes, when_ms FROM photos_of WHERE version IN :versions")


def _last(table: str, where: str, most: int) -> str:
    """The newest rows of one wished scope that stand: steps from the end of an index."""
    return (
        f"(SELECT d.version FROM {table} d JOIN acts a ON a.version = d.version "
        f"WHERE d.scope = w.value AND {STANDS}{where} ORDER BY d.when_ms DESC, d.version LIMIT {most})"
    )


SERIALS = text(
    "SELECT w.value AS scope, d.serial_where, p.sha256, p.type, p.bytes, d.when_ms, a.at FROM json_each(:scopes) w "
    "JOIN serial_photos d ON d.version = "
    + _last("serial_photos", " AND d.agrees <> 'no'", 1)
    + " JOIN acts a ON a.version = d.version JOIN photos_of p ON p.version = d.version AND p.shows = 'serial' "
    "WHERE NOT EXISTS (SELECT 1 FROM photos_restricted r JOIN acts h ON h.version = r.version "
    "WHERE r.photo = p.sha256 AND h.withdrawn_by IS NULL)"
)
LAST = text(
    "SELECT w.value AS scope, p.root, p.point, d.ended, d.first, d.goes, a.person, a.at, d.when_ms "
    "FROM json_each(:scopes) w JOIN endings d ON d.version IN "
    + _last("endings", " AND d.ended = 'concluded'", 9)
    + " JOIN acts a ON a.version = d.version JOIN inspection_parts p ON p.version = d.begun "
    "ORDER BY w.value, d.when_ms DESC, d.version"
)


@dataclass
class Wanted:
    """Which scopes an answer carries: those near whole, all others as a line."""

    near: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)

    @property
    def all(self) -> list[str]:
        return [*self.near, *self.others]


def wanted(connection: Connection, place: str, since: int, now_ms: int) -> Wanted:
    """The scopes that changed after a position, parted by whether this place saw them of late."""
    oldest = connection.execute(OLDEST_NEAR, {"place": place, "most": MOST_NEAR - 1}).scalar()
    least = max(now_ms - SEEN_FOR_MS, oldest or 0)
    found = Wanted()
    for scope, seen_ms in connection.execute(TOUCHED, {"place": place, "since": since}):
        (found.near if seen_ms >= least else found.others).append(scope)
    return found


def scope_cards(connection: Connection, sources: Sources, which: Wanted) -> list[dict[str, object]]:
    """One card a scope."""
    known = scopes_known(connection, which.all)
    lines = {key: _line(scope) for key, scope in known.items()}
    near = _near(connection, sources, which.near, known)
    return [lines[key] | near.get(key, {"near": False}) for key in which.all]


def _line(scope: ScopeKnown) -> dict[str, object]:
    """Enough to show a scanned scope's name."""
    return {
        "scope": scope.key,
        "on_record": scope.on_record,
        "kind": scope.scope_kind,
        "serial": scope.serial,
        "di": scope.di,
        "maker": scope.maker,
        "model": scope.model,
        "tag": scope.tag,
        "codes": list(scope.codes),
    }


def json_of(values: Iterable[str]) -> str:
    return msgspec.json.encode(list(values)).decode()


def _near(
    connection: Connection, sources: Sources, keys: Sequence[str], known: Mapping[str, ScopeKnown]
) -> dict[str, dict[str, object]]:
    if not keys:
        return {}
    given = {"scopes": json_of(keys)}
    endings: dict[str, list[Mapping[str, object]]] = {}
    for row in connection.execute(LAST, given).mappings():
        endings.setdefault(row["scope"], []).append(dict(row))
    serials = {row["scope"]: _serial(dict(row)) for row in connection.execute(SERIALS, given).mappings()}
    parts = _parts(connection, sources, keys)
    return {
        key: {
            "near": True,
            "none_here": list(known[key].none_here),
            "tube_mm": known[key].tube_mm,
            "serial_where": known[key].serial_where,
            "last": _last_of(endings.get(key, ())),
            "cleanings": cleanings_of((str(e["point"]), _text(e["first"])) for e in endings.get(key, ())),
            "serial_photo": serials.get(key),
            "parts": parts.get(key, []),
        }
        for key in keys
    }


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _serial(row: Mapping[str, object]) -> dict[str, object]:
    return {
        "photo": row["sha256"],
        "type": row["type"],
        "bytes": row["bytes"],
        "where": row["serial_where"],
        "at": row["at"],
    }


def _last_of(endings: Sequence[Mapping[str, object]]) -> dict[str, object] | None:
    """The last inspection that was concluded."""
    return {name: endings[0][name] for name in ("root", "point", "first", "goes", "person", "at")} if endings else None


def _parts(connection: Connection, sources: Sources, keys: Sequence[str]) -> dict[str, list[dict[str, object]]]:
    """Per scope its parts ever looked at: the newest mark, when, the findings of that look, the newest photo."""
    catalogue = sources.in_force(connection, "catalogue")
    ids = _part_ids(sources, catalogue.sha256 if catalogue else "")
    cells = list(connection.execute(PARTS, {"scopes": json_of(keys), "parts": json_of(ids)}))
    versions = {"versions": sorted({version for cell in cells for version in cell[2:] if version})}
    if not versions["versions"]:
        return {}
    marks = {(v, part): (mark, at) for v, part, mark, at in connection.execute(MARKS, versions)}
    findings = {row[0]: row for row in connection.execute(FINDINGS, versions)}
    photos = {(row[0], row[1]): row for row in connection.execute(PHOTOS, versions)}
    found: dict[str, list[dict[str, object]]] = {}
    for scope, part, marked, seen, shot in cells:
        mark, finding, photo = marks.get((marked, part)), findings.get(seen), photos.get((shot, part))
        if mark is None and finding is None and photo is None:
            continue
        newest = finding is not None and (mark is None or finding[7] >= mark[1])
        found.setdefault(scope, []).append(
            {
                "part": part,
                "mark": "finding" if newest else mark[0] if mark else None,
                "looked_ms": max(
                    (at for at in (mark[1] if mark else None, finding[7] if finding else None) if at), default=None
                ),
                "finding": None
                if finding is None
                else dict(
                    zip(
                        ("entry", "part", "finding", "grade", "since", "place_mm", "place_end", "when_ms"),
                        finding,
                        strict=True,
                    )
                ),
                "photo": None
                if photo is None
                else dict(zip(("sha256", "type", "bytes", "when_ms"), photo[2:], strict=True)),
            }
        )
    return found


def _part_ids(sources: Sources, sha256: str) -> list[str]:
    """Every part and channel of every kind in the catalogue in force."""
    kinds = (sources.pin(sha256) or {}).get("kinds", {})
    ids = {each["id"]: None for kind in kinds.values() for each in (*kind["parts"], *kind["channels"])}
    return list(ids)
