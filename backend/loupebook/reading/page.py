"""One inspection's page: everything its record holds, with who, when, how proved, where, and what is not there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain as joined

import msgspec
from sqlalchemy import Connection

from loupebook.inspections.rules import FAILED, Standing, disputed
from loupebook.inspections.tables.hidden import stories
from loupebook.inspections.tables.stands import Inspection, Row, Seen, TakenBack, Version, inspections, versions
from loupebook.reading.cycle import before_use
from loupebook.reading.port import Sources
from loupebook.reading.proofs import claims_of
from loupebook.reading.shown import (
    Names,
    finding_shown,
    hold_shown,
    laid_shown,
    names_of,
    person_shown,
    photo_shown,
    point_shown,
    row_shown,
    scope_shown,
    stop_shown,
    suggested_shown,
)
from loupebook.reading.then import then_photos
from loupebook.reading.today import judged
from loupebook.record.kinds import Left
from loupebook.record.lines import parse_line
from loupebook.scopes.tables.known import Station, scopes_known
from loupebook.scopes.tables.values import ms_of


def page(connection: Connection, sources: Sources, root: str) -> dict[str, object] | None:
    """The whole answer of `GET /lead/inspections/{root}`; nothing when there is no such inspection."""
    found = inspections(connection, [root])
    if not found:
        return None
    one = found[0]
    head = one.parts[0]
    made, former, taken_back = versions(connection, one)
    stations = sources.stations(connection)
    names = names_of(connection, sources, stations, joined(claims_of(one), former))
    reasons = _reasons(connection, sources, [*(each.version for each in made), *(each.by for each in taken_back)])
    standing = judged(connection, sources, one, names)
    catalogue, policy = sources.pin(head.catalogue), sources.pin(head.policy)
    shown = sorted({photo.sha256 for photo in one.photos})
    here, hiding = sources.photos_here(connection, shown), stories(connection, shown)
    hid = {act.person for acts in hiding.values() for act in acts}
    epoch = sources.epoch()
    return {
        "epoch": {"n": epoch.n, "id": epoch.id},
        "position": sources.position(connection),
        "root": root,
        "facility": sources.facility().name,
        "scope": scope_shown(scopes_known(connection, [head.scope])[head.scope]),
        "point": head.point,
        "state": standing.state,
        "first": standing.first,
        "goes": standing.goes,
        "disinfection": before_use(connection, sources, one)[0],
        "suggested": suggested_shown(standing, policy),
        "counts": dict(standing.counts),
        "total": len(standing.stops),
        "parts": [row_shown(part, names) for part in one.parts],
        "serials": [row_shown(row, names) for row in one.serials],
        "serial_readings": [row_shown(row, names) for row in one.serial_readings],
        "route": [stop_shown(stop, names) for stop in standing.stops],
        "findings": [row_shown(row, names) | finding_shown(row, catalogue) for row in one.findings],
        "readings": [row_shown(row, names) | {"failed": row.result in FAILED} for row in one.readings],
        "channels": [row_shown(row, names) for row in one.runs],
        "photos": [photo_shown(photo, here, one.restricted, hiding, names) for photo in one.photos],
        "laid": [laid_shown(row, names) for row in one.laid],
        "then": then_photos(connection, sources, one),
        "decisions": [row_shown(end, names) for end in one.endings],
        "holds": [hold_shown(hold, names) for hold in one.holds],
        "not_seen": _not_seen(standing, one),
        "points": [point_shown(point) for point in standing.points],
        "corrections": _corrections(made, former, names, reasons),
        "disputed": disputed((each.version, each.builds_on) for each in made),
        "taken_back": [_taken_back(each, names, reasons) for each in taken_back],
        "stations": _stations(stations, one),
        "people": [person_shown(p) for p in sources.people(connection) if p.id in _named(one, made, taken_back) | hid],
    }


def _not_seen(standing: Standing, one: Inspection) -> list[dict[str, object]]:
    """Parts nobody saw, each with the reasons given: at the part, or when the inspection ended early."""
    left = left_of(one)
    return [
        {
            "part": stop.id,
            "mark": stop.mark,
            "reasons": [
                *(row.reason for row in stop.marks if not isinstance(row, Seen) and row.reason),
                *left.get(stop.id, ()),
            ],
        }
        for stop in standing.stops
        if stop.mark in ("not_looked", "could_not_look")
    ]


def left_of(one: Inspection) -> dict[str, list[str]]:
    """Why parts were left when an inspection ended, by part."""
    reasons: dict[str, list[str]] = {}
    for end in one.endings:
        for each in msgspec.json.decode(end.left_out, type=list[Left]):
            reasons.setdefault(each.part, []).append(each.reason)
    return reasons


def _corrections(
    made: Sequence[Version], former: Sequence[Row], names: Names, reasons: Mapping[str, str]
) -> list[dict[str, object]]:
    """Each correction with the rows as they stood in the version it built on."""
    return [
        {
            "entry": each.entry,
            "version": each.version,
            "builds_on": each.builds_on,
            "kind": each.kind,
            "person": each.person,
            "station": names.station(each.chain),
            "at": each.at,
            "before": [row_shown(row, names) for row in former if row.version == each.builds_on],
            "reason": reasons.get(each.version),
        }
        for each in made
    ]


def _taken_back(each: TakenBack, names: Names, reasons: Mapping[str, str]) -> dict[str, object]:
    return {
        "entry": each.entry,
        "kind": each.kind,
        "at": each.at,
        "station": names.station(each.chain),
        "person": each.person,
        "taken_back_at": each.taken_back_at,
        "reason": reasons.get(each.by),
    }


def _reasons(connection: Connection, sources: Sources, hashes: Sequence[str]) -> Mapping[str, str]:
    """Why entries were corrected or taken back, by the hash of the entry that says so."""
    if not hashes:
        return {}
    bodies = {name: parse_line(line).body for name, line in sources.lines(connection, hashes).items()}
    reasons = {name: getattr(body, "reason", None) for name, body in bodies.items()}
    return {name: reason for name, reason in reasons.items() if isinstance(reason, str)}


def _stations(stations: Sequence[Station], one: Inspection) -> list[dict[str, object]]:
    """Stations not heard from since the last entry of this inspection: more of it, or a hold, may be there."""
    newest = max(row.when_ms for row in joined(one.parts, one.marks, one.findings, one.endings))
    return [
        {"name": station.name, "place": station.place, "heard_at": station.heard_at}
        for station in stations
        if not station.revoked and (station.heard_at is None or ms_of(station.heard_at) < newest)
    ]


def _named(one: Inspection, made: Sequence[Version], taken_back: Sequence[TakenBack]) -> set[str]:
    rows = joined(one.parts, one.serials, one.marks, one.findings, one.readings, one.runs, one.endings, one.photos)
    return {row.person for row in rows} | {each.person for each in made} | {each.person for each in taken_back}
