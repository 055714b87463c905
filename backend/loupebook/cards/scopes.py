"""Scope cards: what a tablet knows of each scope before it is in anybody's hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import msgspec
from sqlalchemy import Connection, text

from loupebook.cards.port import Sources
from loupebook.inspections.rules import cleanings_of, dryings_of, recleans_days
from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.laid import laid_over, shown_over
from loupebook.inspections.tables.sent_back import sent_back
from loupebook.inspections.tables.stands import STANDS
from loupebook.rules.again import DAY_MS, SentBack
from loupebook.scopes.tables.known import ScopeKnown, described, scopes_known

SEEN_FOR_MS = 90 * 24 * 3600 * 1000
MOST_NEAR = 300
"""Scopes of a station's place seen in 90 days travel whole; of all others only one line, enough for a name."""

# The oldest moment among the 300 newest of a place; a place with fewer has none, and 90 days decide.
OLDEST_NEAR = text("SELECT seen_ms FROM scope_seen WHERE place = :place ORDER BY seen_ms DESC LIMIT 1 OFFSET :most")
TOUCHED = text(
    "SELECT t.scope, coalesce(s.seen_ms, -1) FROM scope_touched t "
    "LEFT JOIN scope_seen s ON s.place = :place AND s.scope = t.scope WHERE t.changed > :since ORDER BY t.changed"
)


def _newest_each(columns: str, table: str, where: str = "", order: str = "DESC") -> str:
    """The newest row (or the oldest) that stands for one scope and part, as a JSON list: a step from an index's end."""
    return (
        f"(SELECT json_array({columns}) FROM {table} d JOIN acts a ON a.version = d.version "
        f"WHERE d.scope = w.value AND d.part = p.value AND {STANDS}{where} "
        f"ORDER BY d.when_ms {order}, d.version LIMIT 1)"
    )


def _not_hidden(photo: str) -> str:
    return f" AND NOT {hidden_now(f'{photo}.sha256')}"


# While an inspection is open its own photos are no photos of before: not even of the tablet that goes on with it.
ENDED_PART = " AND NOT EXISTS (SELECT 1 FROM inspection_parts o WHERE o.begun = d.begun AND o.is_open = 1)"
FINDING = ("part", "finding", "grade", "since", "place_mm", "place_end", "when_ms")
PHOTO = ("sha256", "type", "bytes", "when_ms")
OF_PART = ("photo", "acceptance", "first")
ENDED = ("root", "point", "first", "goes", "person", "at")
SERIAL = ("photo", "type", "bytes", "where", "at")
# Every wished scope times every part: each cell is a step in an index, so the cost is the answer's size.
PARTS = text(
    "SELECT w.value, p.value, "
    + _newest_each("d.mark, d.when_ms", "part_marks")
    + ", "
    + _newest_each("a.entry, " + ", ".join(f"d.{name}" for name in FINDING), "findings")
    + ", "
    + _newest_each(", ".join(f"d.{name}" for name in PHOTO), "photos_of", _not_hidden("d") + ENDED_PART)
    + ", "
    + _newest_each(", ".join(f"d.{name}" for name in PHOTO), "photos_of", _not_hidden("d") + ENDED_PART, "ASC")
    + " FROM json_each(:scopes) w, json_each(:parts) p"
)
# The newest acceptance that was ended, and its photos: as many rows as that acceptance has photos.
ACCEPTED = text(
    f"SELECT w.value, d.part, json_array({', '.join(f'd.{name}' for name in PHOTO)}) FROM json_each(:scopes) w "
    "JOIN photos_of d ON d.begun = (SELECT i.begun FROM inspection_parts i JOIN acts a ON a.version = i.version "
    f"WHERE i.scope = w.value AND i.point = 'acceptance' AND i.is_open = 0 AND {STANDS} "
    "ORDER BY i.when_ms DESC, i.begun LIMIT 1) "
    f"JOIN acts a ON a.version = d.version WHERE d.part <> '' AND {STANDS}{_not_hidden('d')} "
    "ORDER BY d.when_ms, d.version"
)
SERIALS = text(
    "SELECT w.value, (SELECT json_array(p.sha256, p.type, p.bytes, d.serial_where, a.at) FROM serial_photos d "
    "JOIN acts a ON a.version = d.version "
    "JOIN photos_of p ON p.begun = d.begun AND p.version = d.version AND p.shows = 'serial' "
    f"WHERE d.scope = w.value AND d.agrees <> 'no' AND {STANDS}{_not_hidden('p')} "
    "AND NOT EXISTS (SELECT 1 FROM serial_readings s WHERE s.begun = p.begun AND s.photo = p.sha256) "
    "ORDER BY d.when_ms DESC, d.version LIMIT 1) FROM json_each(:scopes) w"
)
LAST = text(
    "SELECT w.value, (SELECT json_group_array(json(l.ended)) FROM ("
    "SELECT json_array(p.root, p.point, d.first, d.goes, a.person, a.at) AS ended FROM endings d "
    "JOIN acts a ON a.version = d.version JOIN inspection_parts p ON p.begun = d.begun AND p.version = d.begun "
    f"WHERE d.scope = w.value AND d.ended = 'concluded' AND {STANDS} ORDER BY d.when_ms DESC, d.version LIMIT 9"
    ") l) FROM json_each(:scopes) w"
)
"""The last nine decisions of each scope, newest first: enough to count how often in a row it was sent back."""
CYCLES = text(
    "SELECT w.value, p.value, (SELECT json_group_array(l.when_ms) FROM (SELECT d.when_ms FROM endings d "
    "JOIN acts a ON a.version = d.version JOIN inspection_parts i ON i.begun = d.begun AND i.version = d.begun "
    f"WHERE d.scope = w.value AND i.point = p.value AND d.ended = 'concluded' AND {STANDS} "
    "ORDER BY d.when_ms DESC, d.version LIMIT :most) l) FROM json_each(:scopes) w, json_each(:points) p"
)
"""When each scope was last concluded at a point, newest first. An inspection concluded on two tablets counts twice:
what is counted in cycles then falls due earlier, never later."""


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
    near = _near(connection, sources, which.near)
    return [lines[key] | near.get(key, {"near": False}) for key in which.all]


def _line(scope: ScopeKnown) -> dict[str, object]:
    """Enough to show a scanned scope's name and to begin: what it has none of holds wherever it is."""
    return {
        "scope": scope.key,
        "on_record": scope.on_record,
        "kind": scope.scope_kind,
        "serial": scope.serial,
        "di": scope.di,
        "maker": scope.maker,
        "model": scope.model,
        "tag": scope.tag,
        **described(scope),
    }


def json_of(values: Iterable[str]) -> str:
    return msgspec.json.encode(list(values)).decode()


def _near(connection: Connection, sources: Sources, keys: Sequence[str]) -> dict[str, dict[str, object]]:
    if not keys:
        return {}
    ended = last_ended(connection, keys)
    serials = {scope: found for scope, found in connection.execute(SERIALS, {"scopes": json_of(keys)})}  # noqa: C416
    parts = _parts(connection, sources, keys)
    cycles = _cycles(connection, sources, keys)
    back = _back(connection, sources, keys)
    return {
        key: {
            "near": True,
            "last": ended[key][0] if ended[key] else None,
            "cleanings": cleanings_of(_sent_back(ended[key])),
            "dryings": dryings_of(_sent_back(ended[key])),
            "sent_back": [msgspec.to_builtins(each) for each in back.get(key, ())],
            "cycles_ms": cycles.get(key, {}),
            "serial_photo": _named(SERIAL, serials[key]),
            "parts": parts.get(key, []),
        }
        for key in keys
    }


def _sent_back(ended: Iterable[Mapping[str, object]]) -> list[tuple[str, str | None]]:
    return [(str(each["point"]), _text(each["first"])) for each in ended]


def _back(connection: Connection, sources: Sources, keys: Sequence[str]) -> Mapping[str, Sequence[SentBack]]:
    """Per scope the looks that sent it back to cleaning, over the days of the policy in force; none where it has none.

    From a day earlier on: an inspection that was begun yesterday counts back from yesterday.
    """
    policy, catalogue = (sources.in_force(connection, name) for name in ("policy", "catalogue"))
    days = recleans_days(sources.pin(policy.sha256)) if policy else None
    if days is None:
        return {}
    since = sources.now_ms() - (days + 1) * DAY_MS
    return sent_back(connection, keys, since, sources.pin(catalogue.sha256) if catalogue else None)


def last_ended(connection: Connection, keys: Sequence[str]) -> dict[str, list[dict[str, object]]]:
    """The last concluded inspections of each scope, newest first, nine at most."""
    return {
        scope: [dict(zip(ENDED, each, strict=True)) for each in msgspec.json.decode(ended, type=list[list[object]])]
        for scope, ended in connection.execute(LAST, {"scopes": json_of(keys)})
    }


def _cycles(connection: Connection, sources: Sources, keys: Sequence[str]) -> dict[str, dict[str, list[int]]]:
    """Per scope and point: the moments of its last cycles, as many as the longest row counted in cycles asks for."""
    frequency = sources.in_force(connection, "frequency")
    rows = msgspec.json.decode(frequency.text)["rows"] if frequency else []
    counted = [row for row in rows if row.get("every_cycles", 1) > 1]
    if not counted:
        return {}
    points = dict.fromkeys(row["point"] for row in counted)
    most = max(row["every_cycles"] for row in counted)
    given = {"scopes": json_of(keys), "points": json_of(points), "most": most}
    found: dict[str, dict[str, list[int]]] = {}
    for scope, point, moments in connection.execute(CYCLES, given):
        found.setdefault(scope, {})[point] = msgspec.json.decode(moments, type=list[int])
    return found


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _named(names: Sequence[str], values: str | None) -> dict[str, object] | None:
    """A JSON list as a dictionary; nothing where there is none."""
    return dict(zip(names, msgspec.json.decode(values, type=list[object]), strict=True)) if values else None


def _parts(connection: Connection, sources: Sources, keys: Sequence[str]) -> dict[str, list[dict[str, object]]]:
    """Per scope its parts ever looked at: the newest mark and when, the newest finding, the newest photo."""
    catalogue = sources.in_force(connection, "catalogue")
    ids = _part_ids(sources, catalogue.sha256 if catalogue else "")
    found: dict[str, list[dict[str, object]]] = {}
    accepted = {(scope, part): shot for scope, part, shot in connection.execute(ACCEPTED, {"scopes": json_of(keys)})}
    given = {"scopes": json_of(keys), "parts": json_of(ids)}
    for scope, part, marked, seen, shot, first in connection.execute(PARTS, given):
        if marked or seen or shot:
            card = _part(part, marked, seen, shot, first, accepted.get((scope, part)))
            found.setdefault(scope, []).append(card)
    _lay_over(connection, [card[name] for cards in found.values() for card in cards for name in OF_PART])
    return found


def _lay_over(connection: Connection, photos: Iterable[object]) -> None:
    """Adds to each photo of a card what lies over it."""
    rows = [photo for photo in photos if isinstance(photo, dict)]
    over = laid_over(connection, (row["sha256"] for row in rows))
    for row in rows:
        row.update(shown_over(over, row["sha256"]))


def _part(
    part: str, marked: str | None, seen: str | None, shot: str | None, first: str | None, accepted: str | None
) -> dict[str, object]:
    """What is known of one part. A finding as new as the newest mark is the mark."""
    mark, marked_ms = msgspec.json.decode(marked, type=tuple[str, int]) if marked else (None, None)
    finding = _named(("entry", *FINDING), seen)
    seen_ms = finding["when_ms"] if finding else None
    assert seen_ms is None or isinstance(seen_ms, int)
    moments = [at for at in (marked_ms, seen_ms) if at is not None]
    return {
        "part": part,
        "mark": "finding" if seen_ms is not None and seen_ms >= (marked_ms or 0) else mark,
        "looked_ms": max(moments, default=None),
        "finding": finding,
        "photo": _named(PHOTO, shot),
        "acceptance": _named(PHOTO, accepted),
        "first": _named(PHOTO, first),
    }


def _part_ids(sources: Sources, sha256: str) -> list[str]:
    """Every part and channel of every kind in the catalogue in force."""
    kinds = (sources.pin(sha256) or {}).get("kinds", {})
    ids = {each["id"]: None for kind in kinds.values() for each in (*kind["parts"], *kind["channels"])}
    return list(ids)
