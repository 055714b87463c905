"""Finding inspections by scope, person, finding, date, point and place, newest first, a page at a time.

One index is walked, that of the narrowest thing asked for, and what else was asked is looked up beside it: so the cost
grows with what is found of the narrowest, never with the log.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from sqlalchemy import Connection, TextClause, text

from loupebook.inspections.tables.stands import STANDS, inspections
from loupebook.log.asking import ask
from loupebook.reading.find import find_scopes, found_keys
from loupebook.reading.port import Sources
from loupebook.reading.shift import outcome_of
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.scopes.tables.known import scopes_known

Row = dict[str, Any]
PAGE = 40
EVER = 2**62


@dataclass(frozen=True)
class Wanted:
    """What is looked for; what is '' was not asked. `words` are a tag, serial number or code; dates are ISO days."""

    words: str = ""
    person: str = ""
    finding: str = ""
    point: str = ""
    place: str = ""
    since: str = ""
    until: str = ""
    before: int = EVER
    most: int = PAGE


_HEAD = "JOIN acts a ON a.version = d.version"
_PART = f"d.root = d.begun AND d.practice = 0 AND {STANDS}"
_FOUND = (
    "EXISTS (SELECT 1 FROM findings f JOIN acts b ON b.version = f.version WHERE f.begun = d.begun "
    "AND +f.finding = :finding AND b.replaced_by IS NULL AND b.withdrawn_by IS NULL)"
)
_FROM = {
    "scope": f"inspection_parts d INDEXED BY inspection_parts_newest CROSS {_HEAD}",
    "finding": "findings g CROSS JOIN acts c ON c.version = g.version AND c.replaced_by IS NULL "
    f"AND c.withdrawn_by IS NULL CROSS JOIN inspection_parts d ON d.begun = g.begun {_HEAD}",
    "person": "acts a CROSS JOIN inspection_parts d ON d.begun = a.begun AND d.version = a.version",
    "place": f"inspection_parts d INDEXED BY inspection_parts_at CROSS {_HEAD}",
    "point": f"inspection_parts d INDEXED BY inspection_parts_point CROSS {_HEAD}",
    "when": f"inspection_parts d INDEXED BY inspection_parts_when CROSS {_HEAD}",
}
"""From the narrowest: what is walked first is written first, and CROSS keeps SQLite at it (sqlite.org, optoverview)."""
_ORDER = {"finding": "g.when_ms", "person": "a.when_ms"}


_EACH = (
    "SELECT x.value ->> 0, x.value ->> 1 AS at_ms FROM json_each(:scopes) w, json_each((SELECT "
    "json_group_array(json_array(l.root, l.at_ms)) FROM ({page}) l)) x ORDER BY 2 DESC LIMIT :most"
)
"""A page of each scope that the words name, then the newest of them."""


def statement_of(wanted: Wanted, scopes: bool) -> TextClause:
    """The one question; its plan is held in a test."""
    return _statement(scopes, bool(wanted.finding), bool(wanted.person), bool(wanted.place), bool(wanted.point))


@cache
def _statement(scopes: bool, finding: bool, person: bool, place: bool, point: bool) -> TextClause:
    """The same, by which of its words are given."""
    asked = {"scope": scopes, "finding": finding, "person": person, "place": place, "point": point, "when": True}
    by = next(name for name, given in asked.items() if given)
    when = _ORDER.get(by, "d.when_ms")
    where = [_PART, f"{when} < :before", f"{when} >= :since"]
    if finding:
        where.append("g.finding = :finding" if by == "finding" else _FOUND)
    if person:
        where.append("a.kind = 'inspection.begun' AND a.person = :person")
    if place:
        where.append("d.place = :place")
    if point:
        where.append("d.point = :point")
    if by == "scope":
        where.append("d.scope = w.value")
    page = (
        f"SELECT d.root AS root, {when} AS at_ms FROM {_FROM[by]} WHERE {' AND '.join(where)} "
        f"ORDER BY {when} DESC LIMIT :most"
    )
    return text(page if by != "scope" else _EACH.format(page=page))


def find_looks(connection: Connection, sources: Sources, wanted: Wanted) -> Row:
    """The whole answer of `GET /lead/find`: scopes that the words name, and a page of inspections."""
    keys = found_keys(connection, wanted.words)[:PAGE] if wanted.words.strip() else []
    nobody = bool(wanted.words.strip()) and not keys
    zone = ZoneInfo(sources.facility().zone)
    since, until = _day(wanted.since, zone, 0) or 0, _day(wanted.until, zone, 1) or EVER
    values = {
        "scopes": msgspec.json.encode(keys).decode(), "person": wanted.person, "finding": wanted.finding,
        "point": wanted.point, "place": wanted.place, "since": since, "before": min(until, wanted.before),
        "most": wanted.most + 1,
    }  # fmt: skip
    found = [] if nobody else ask(connection, statement_of(wanted, bool(keys)), values)
    shown, follows = page_of([(str(root), int(at_ms)) for root, at_ms in found], wanted.most)
    roots = list(dict.fromkeys(root for root, _ in shown))
    told = inspections(connection, roots)
    here = sources.photos_here(connection, sorted({photo.sha256 for one in told for photo in one.photos}))
    outcomes = [outcome_of(one, sources, here) for one in told]
    known = scopes_known(connection, sorted({each.one.parts[0].scope for each in outcomes}))
    return {
        "position": sources.position(connection),
        "scopes": find_scopes(connection, wanted.words)["scopes"] if wanted.words.strip() else [],
        "looks": [
            {
                "root": each.one.root,
                "scope": scope_shown(known[each.one.parts[0].scope]),
                "at_ms": each.one.parts[0].when_ms,
                "point": each.one.parts[0].point,
                "shift": each.one.parts[0].shift,
                "person": each.one.parts[0].person,
                "state": each.state,
                "first": each.first,
                "goes": each.goes,
                "out_of_use": each.out_of_use,
                "findings": [
                    {"part": row.part, "finding": row.finding, "grade": row.grade} for row in each.one.findings
                ],
            }
            for each in outcomes
        ],
        "next": follows,
        "people": [person_shown(person) for person in sources.people(connection)],
        "places": [place.name for place in sources.facility().places],
    }


def page_of(found: Sequence[tuple[str, int]], most: int) -> tuple[Sequence[tuple[str, int]], int | None]:
    """At most `most` rows (what, moment in ms UTC; newest first), and the moment before which the next page begins.

    The next begins before a moment, so rows of one moment are not parted: those that would be wait for the next page.
    Only where one moment fills a whole page are they cut.
    """
    if len(found) <= most:
        return found, None
    whole = [row for row in found[:most] if row[1] > found[most][1]]
    shown = whole or found[:most]
    return shown, shown[-1][1]


def _day(day: str, zone: ZoneInfo, after: int) -> int | None:
    """The beginning of an ISO day in the facility's time, or of the one after it, ms UTC; nothing where it is none."""
    try:
        on = datetime.fromisoformat(day).date() if day else None
    except ValueError:
        return None
    if on is None:
        return None
    return round(datetime.combine(on + timedelta(days=after), time(), zone).timestamp() * 1000)
