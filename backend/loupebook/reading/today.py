"""The lead's list of one shift: every inspection with its state, counts, findings, and what keeps it open."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, cast

from sqlalchemy import Connection, bindparam, text

from loupebook.inspections.rules import (
    FAILED,
    OpenPoint,
    Pin,
    Rounds,
    Standing,
    cleanings_of,
    dryings_of,
    recleans_days,
    standing_of,
)
from loupebook.inspections.tables.erased import Waiting, erasures_waiting
from loupebook.inspections.tables.sent_back import sent_back
from loupebook.inspections.tables.stands import STANDS, Held, Inspection, Mark, inspections
from loupebook.log.asking import ask, ask_value
from loupebook.reading.cycle import before_use, waiting
from loupebook.reading.port import Sources
from loupebook.reading.proofs import claims_of
from loupebook.reading.repairs import overdue
from loupebook.reading.shown import (
    Names,
    facility_shown,
    finding_shown,
    hold_shown,
    names_of,
    person_shown,
    point_shown,
    scope_shown,
)
from loupebook.rules.again import DAY_MS, sent_back_within
from loupebook.scopes.tables.asked import confirmed_of, said_of, unanswered, unconfirmed
from loupebook.scopes.tables.known import Person, ScopeKnown, Station, scopes_known
from loupebook.shifts.rules import after_closing
from loupebook.shifts.tables import changed_after

ROOTS = text(
    f"SELECT d.root, min(d.when_ms) FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.shift IN :shifts AND {STANDS} GROUP BY d.root ORDER BY 2, 1"
).bindparams(bindparam("shifts", expanding=True))
BEFORE = text(
    f"SELECT d.shift FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.when_ms < :first AND d.shift NOT IN :shifts AND {STANDS} ORDER BY d.when_ms DESC LIMIT 1"
).bindparams(bindparam("shifts", expanding=True))
BEFORE_AT = text(
    f"SELECT d.shift FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.place = :place AND d.when_ms < :first AND d.shift NOT IN :shifts AND {STANDS} "
    "ORDER BY d.when_ms DESC LIMIT 1"
).bindparams(bindparam("shifts", expanding=True))
STANDING_HOLDS = text(
    "SELECT d.version, a.entry, d.scope, d.begun, d.cause, d.goes, d.reason, d.tag_on, d.note, d.decided, d.standing, "
    f"a.person, a.chain, a.how, a.proved, a.ticket, a.at, a.when_ms FROM holds d JOIN acts a ON a.version = d.version "
    f"WHERE d.standing = 1 AND {STANDS} ORDER BY a.when_ms, d.version"
)
EARLIER = text(
    "SELECT p.point, d.first FROM endings d JOIN acts a ON a.version = d.version "
    "JOIN inspection_parts p ON p.begun = d.begun AND p.version = d.begun "
    f"WHERE d.scope = :scope AND d.when_ms < :before AND d.ended = 'concluded' AND {STANDS} "
    "ORDER BY d.when_ms DESC LIMIT 9"
)
"""Nine are enough: the policy asks whether there were two."""


def roots_of(connection: Connection, shifts: Sequence[str]) -> list[str]:
    """The inspections with a part in these shifts, in the order they were begun."""
    return [root for root, _ in ask(connection, ROOTS, {"shifts": list(shifts)})]


def sent_back_before(connection: Connection, pin: Pin, one: Inspection) -> Rounds:
    """How often the scope was sent back before this inspection was begun; the days are those of the policy it pins."""
    head = one.parts[0]
    rows = ask(connection, EARLIER, {"scope": head.scope, "before": head.when_ms})
    ended = [(point, first) for point, first in rows]
    days = recleans_days(pin(head.policy))
    if days is None:
        return Rounds(cleanings_of(ended), dryings_of(ended))
    back = sent_back(connection, [head.scope], head.when_ms - days * DAY_MS, pin(head.catalogue))[head.scope]
    within = sent_back_within(back, one.root, head.when_ms, days)
    return Rounds(cleanings_of(ended), dryings_of(ended), within)


def judged(connection: Connection, sources: Sources, one: Inspection, names: Names) -> Standing:
    """An inspection as it stands now."""
    rounds = sent_back_before(connection, sources.pin, one)
    standing = standing_of(one, sources.pin, rounds, unproved=names.tickets.unknown(one))
    _, points = before_use(connection, sources, one)
    points = [*points, *_after_closing(connection, sources, one)]
    return replace(standing, points=(*standing.points, *points)) if points else standing


def _after_closing(connection: Connection, sources: Sources, one: Inspection) -> list[OpenPoint]:
    """What its authors changed although the shift was closed."""
    changes = changed_after(connection, one.root)
    if not changes:
        return []
    leads = (person.id for person in sources.people(connection) if "lead" in person.roles)
    late = after_closing(changes, leads)
    return [OpenPoint("after_closing", one.root, {"entries": late})] if late else []


def standing_holds(connection: Connection) -> list[Held]:
    """Every hold no lead has decided to lift."""
    return [Held(*row) for row in ask(connection, STANDING_HOLDS)]


def shifts_running(stations: Sequence[Station], shift_now: Callable[[str], str]) -> list[str]:
    """The shift that runs now at each place that has a station."""
    return [shift_now(place) for place in dict.fromkeys(station.place for station in stations)]


def same_turn(stations: Sequence[Station], shift: str) -> list[str]:
    """The shift of that date and name at every place that has a station, the one named first."""
    _, *turn = shift.rsplit("/", 2)
    return list(dict.fromkeys([shift, *("/".join([station.place, *turn]) for station in stations)]))


def shift_before(
    connection: Connection, shifts: Sequence[str], found: Sequence[Inspection], until_ms: int, place: str | None = None
) -> str | None:
    """The last shift before these in which an inspection was begun; nothing where these are the first.

    `until_ms`: where none was begun in these, what was begun up to then is before them. `place`: only there.
    """
    first = min((part.when_ms for one in found for part in one.parts if part.shift in shifts), default=until_ms + 1)
    asked = {"first": first, "shifts": list(shifts)}
    if place is not None:
        return cast(str | None, ask_value(connection, BEFORE_AT, asked | {"place": place}))
    return cast(str | None, ask_value(connection, BEFORE, asked))


def today(connection: Connection, sources: Sources, shift: str = "") -> dict[str, object]:
    """The whole answer of `GET /lead/today`: of this shift at each place, or of those that run now."""
    stations, people, facility = sources.stations(connection), sources.people(connection), sources.facility()
    running = shifts_running(stations, sources.shift_now)
    shifts = same_turn(stations, shift) if shift else running
    found = inspections(connection, roots_of(connection, shifts))
    holds, erasing = standing_holds(connection), erasures_waiting(connection)
    named = [*(hold.scope for hold in holds), *(each.scope for each in erasing)]
    scopes = scopes_known(connection, [*(one.parts[0].scope for one in found), *(key for key in named if key)])
    names = names_of(connection, sources, stations, (claim for one in found for claim in claims_of(one)))
    here = sources.photos_here(connection, sorted({p.sha256 for one in found for p in one.photos}))
    phoned = _phoned(connection, holds)
    epoch = sources.epoch()
    return {
        "epoch": {"n": epoch.n, "id": epoch.id},
        "position": sources.position(connection),
        "shifts": shifts,
        "runs": shifts == running,
        "before": shift_before(connection, shifts, found, sources.now_ms() if shifts == running else 0),
        "facility": facility_shown(facility),
        "inspections": [
            _line(one, standing, scopes, names, here, sources.pin(one.parts[0].catalogue))
            | {"disinfection": before_use(connection, sources, one)[0]}
            for one, standing in ((one, judged(connection, sources, one, names)) for one in found)
        ],
        "cycle": waiting(connection, sources),
        "overdue": overdue(connection, sources),
        "holds": [
            hold_shown(hold, names)
            | phoned[hold.version]
            | {"scope": scope_shown(scopes[hold.scope]) if hold.scope else None}
            for hold in holds
        ],
        "erasures": [_erasure(each, scopes) for each in erasing],
        "aside": len(sources.asides(connection)),
        "stations": [_station(station) for station in stations if not station.revoked],
        "people": _people(people, found, holds, erasing),
    }


def _line(
    one: Inspection,
    standing: Standing,
    scopes: Mapping[str, ScopeKnown],
    names: Names,
    here: set[str],
    catalogue: Mapping[str, Any] | None,
) -> dict[str, object]:
    head, last = one.parts[0], max(one.endings, key=lambda end: end.when_ms, default=None)
    suggested = standing.suggested
    photos = {photo.sha256 for photo in one.photos}
    ended = {end.begun for end in one.endings}
    return {
        "root": one.root,
        "scope": scope_shown(scopes[head.scope]),
        "point": head.point,
        "practice": bool(head.practice),
        "begun_at": head.at,
        "ended_at": last.at if last else None,
        "people": list(dict.fromkeys(part.person for part in one.parts)),
        "stations": list(dict.fromkeys(names.station(part.chain) for part in one.parts)),
        "state": standing.state,
        "open_parts": sum(part.begun not in ended for part in one.parts),
        "first": standing.first,
        "goes": standing.goes,
        "suggested": {"first": suggested.first, "goes": suggested.goes} if suggested else None,
        "counts": dict(standing.counts),
        "total": len(standing.stops),
        "stops": [{"id": stop.id, "mark": stop.mark, "out_of_use": stop.out_of_use} for stop in standing.stops],
        "findings": [finding_shown(row, catalogue) for row in one.findings],
        "failed_test": any(fact.get("result") in FAILED for fact in standing.facts),
        "photos": {"all": len(photos), "waiting": len(photos - here)},
        "marked": _pace(one.marks),
        "points": [point_shown(point) for point in standing.points],
    }


def _phoned(connection: Connection, holds: Sequence[Held]) -> dict[str, dict[str, object]]:
    """Of each hold, what was said by phone and waits to be confirmed, and who was asked and did not answer."""
    named = [hold.version for hold in holds]
    said, confirmed = said_of(connection, named), confirmed_of(connection, named)
    return {
        hold: {
            "phoned": [str(each.said["goes"]) for each in unconfirmed(said[hold], confirmed[hold])],
            "waits": list(dict.fromkeys(str(to) for each in unanswered(said[hold]) for to in each.said["to"])),
        }
        for hold in named
    }


def _erasure(asked: Waiting, scopes: Mapping[str, ScopeKnown]) -> dict[str, object]:
    return {
        "asked": asked.version,
        "photo": asked.photo,
        "person": asked.person,
        "at": asked.at,
        "root": asked.root,
        "scope": scope_shown(scopes[asked.scope]) if asked.scope else None,
    }


def _pace(marks: Sequence[Mark]) -> dict[str, object]:
    """How many parts were marked by hand in how many seconds, and how many of them as a zone."""
    moments = [mark.when_ms for mark in marks]
    return {
        "parts": len({mark.part for mark in marks}),
        "as_zone": len({mark.part for mark in marks if mark.zone}),
        "seconds": (max(moments) - min(moments)) // 1000 if moments else 0,
    }


def _station(station: Station) -> dict[str, object]:
    return {"name": station.name, "place": station.place, "side": station.side, "heard_at": station.heard_at}


def _people(
    people: Sequence[Person], found: Sequence[Inspection], holds: Sequence[Held], erasing: Sequence[Waiting]
) -> list[dict[str, object]]:
    """Those named in the answer."""
    named = {part.person for one in found for part in one.parts} | {hold.person for hold in holds}
    named |= {each.person for each in erasing}
    return [person_shown(person) for person in people if person.id in named]
