"""The whole answer of `GET /cards`: what this tablet carries away, of what changed since a position."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from sqlalchemy import Connection, text

from loupebook.cards.asked import asked_cards
from loupebook.cards.custody import custody_cards
from loupebook.cards.cycle import cycle_cards
from loupebook.cards.holds import hold_cards
from loupebook.cards.port import TEXTS, InForce, Sources
from loupebook.cards.repairs import repair_cards
from loupebook.cards.scopes import scope_cards, wanted
from loupebook.inspections.rules import mark_of, marks_of
from loupebook.inspections.tables.examples import carried, examples
from loupebook.inspections.tables.hidden import touched
from loupebook.inspections.tables.laid import laid_over, shown_over
from loupebook.inspections.tables.stands import STANDS, Inspection, inspections, texts
from loupebook.scopes.tables.known import Facility, Person, Station
from loupebook.tools.tables import ToolKnown, tools_known

OPEN_FOR_MS = 7 * 24 * 3600 * 1000
"""An inspection begun longer ago is not offered for taking over."""

OPEN = text(
    "SELECT DISTINCT d.root FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.is_open = 1 AND d.place = :place AND d.when_ms >= :since AND {STANDS}"
)


def cards(connection: Connection, sources: Sources, place: str, since: int, epoch_id: str) -> dict[str, object]:
    """Rows changed since a position; whole when the epoch is another or the position is ahead of the log.

    People, what is asked of them, open inspections, stations, tools, examples and the facility always come whole: they
    are few. Holds come whole for each scope in the answer: the tablet drops those of these scopes before it keeps
    them. So does `cycle`: the newest steps and looks of each, for a scope goes from one side to the other. `hidden`
    are the photos about whose hiding something changed: the tablet keeps those rows, and shows none that is hidden.
    """
    epoch, position = sources.epoch(), sources.position(connection)
    whole = epoch_id != epoch.id or since <= 0 or since > position
    after = 0 if whole else since
    now_ms = sources.now_ms()
    which = wanted(connection, place, after, now_ms)
    stations = sources.stations(connection)
    return {
        "epoch": {"n": epoch.n, "id": epoch.id},
        "position": position,
        "whole": whole,
        "people": [_person(person) for person in sources.people(connection)],
        "scopes": scope_cards(connection, sources, which),
        "cycle": cycle_cards(connection, which.all),
        "custody": custody_cards(connection, which.all),
        "repairs": repair_cards(connection, which.all),
        "holds": hold_cards(connection, sources, which.all),
        "asked": asked_cards(connection),
        "open": _open(connection, place, now_ms, stations),
        "stations": [_station(station) for station in stations if not station.revoked],
        **{name: _text(sources.in_force(connection, name), after) for name in TEXTS},
        "tools": [_tool(tool) for tool in tools_known(connection)],
        "hidden": touched(connection, after),
        "examples": _examples(connection),
        "facility": _facility(sources.facility()),
    }


def _text(in_force: InForce | None, after: int) -> dict[str, object] | None:
    """The pin always, the text only when it was set since."""
    if in_force is None:
        return None
    return {"sha256": in_force.sha256, "text": in_force.text if after == 0 or in_force.changed > after else None}


def _person(person: Person) -> dict[str, object]:
    return {"id": person.id, "name": person.name, "initials": person.initials, "roles": list(person.roles)}


def _station(station: Station) -> dict[str, object]:
    return {
        "id": station.id,
        "name": station.name,
        "place": station.place,
        "side": station.side,
        "heard_at": station.heard_at,
        **({"points": list(station.points)} if station.points else {}),
    }


def _tool(tool: ToolKnown) -> dict[str, object]:
    return asdict(tool) | {"codes": list(tool.codes)}


def _examples(connection: Connection) -> list[dict[str, object]]:
    names = ("example", "photo", "finding", "grade", "note", "at")
    chosen = carried(examples(connection))
    over = laid_over(connection, (each.photo for each in chosen))
    return [{name: getattr(each, name) for name in names} | shown_over(over, each.photo) for each in chosen]


def _facility(facility: Facility) -> dict[str, object]:
    shifts = [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in facility.shifts]
    places = [{"name": each.name, "side": each.side, "points": list(each.points)} for each in facility.places]
    return {"name": facility.name, "zone": facility.zone, "shifts": shifts, "places": places}


def _open(connection: Connection, place: str, now_ms: int, stations: Sequence[Station]) -> list[dict[str, object]]:
    """Inspections with a part that has no end, with what every part has marked: enough to take one over."""
    names = {chain: station.name for station in stations for chain in station.chains}
    given = {"place": place, "since": now_ms - OPEN_FOR_MS}
    found = inspections(connection, sorted(connection.execute(OPEN, given).scalars()))
    return [_open_card(one, names) for one in found if not any(end.ended == "concluded" for end in one.endings)]


def _open_card(one: Inspection, names: dict[str, str]) -> dict[str, object]:
    head = one.parts[0]
    rows = marks_of(one)
    return {
        "root": one.root,
        "scope": head.scope,
        "scope_kind": head.scope_kind,
        "point": head.point,
        "shift": head.shift,
        "catalogue": head.catalogue,
        "policy": head.policy,
        "parts": [
            {
                "begun": part.begun,
                "chain": part.chain,
                "station": names.get(part.chain),
                "person": part.person,
                "at": part.at,
                "none_here": texts(part.none_here),
                "not_due": texts(part.not_due),
                "ended": any(end.begun == part.begun for end in one.endings),
                "marks": [
                    {"part": row.part, "mark": mark_of(row), "entry": row.entry}
                    for row in rows
                    if row.begun == part.begun
                ],
            }
            for part in one.parts
        ],
    }
