"""What the lead sees of people and stations. One query a list."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sqlalchemy import Connection, func, select

from loupebook.door.door import moment
from loupebook.door.rights import roles_of
from loupebook.door.tables import Person, PersonName, Pin, PinTry, Station, StationSeen
from loupebook.door.tries import STOP_AT
from loupebook.log.declared import table_of
from loupebook.log.port import Head

_person = table_of(Person)
_name = table_of(PersonName)
_pin = table_of(Pin)
_try = table_of(PinTry)
_station = table_of(Station)
_seen = table_of(StationSeen)


def stations_list(read: Connection, head: Callable[[str], Head]) -> list[Mapping[str, object]]:
    """Every station, withdrawn ones last: what it is, when it was last heard from, what the server last had of it."""
    rows = read.execute(
        select(_station, _seen.c.seen_ms)
        .outerjoin(_seen, _seen.c.station == _station.c.station)
        .order_by(_station.c.revoked, _station.c.name, _station.c.station)
    )
    listed: list[Mapping[str, object]] = []
    for row in rows.all():
        last = head(row.chain)
        listed.append(
            {
                "station": row.station,
                "name": row.name,
                "place": row.place,
                "side": row.side,
                "points": row.points.split(),
                "revoked": bool(row.revoked),
                "enrolled_at": row.enrolled_at,
                "seen_at": None if row.seen_ms is None else moment(row.seen_ms),
                "chain": row.chain,
                "head": {"seq": last.seq, "hash": last.hash, "received_at": last.received_at},
                "build": last.build,
            }
        )
    return listed


def people_list(read: Connection) -> list[Mapping[str, object]]:
    """Everybody: name, roles, whether switched off, whether the PIN is still the lead's, where tries are stopped."""
    stopped: dict[str, list[str]] = {}
    for row in read.execute(select(_try.c.person, _try.c.station).where(_try.c.wrong >= STOP_AT)):
        stopped.setdefault(row.person, []).append(row.station)
    rows = read.execute(
        select(
            _person,
            _name.c.name,
            _name.c.initials,
            func.coalesce(_pin.c.by_lead, 0).label("by_lead"),
            _pin.c.person.is_not(None).label("has_pin"),
        )
        .outerjoin(_name, _name.c.person == _person.c.person)
        .outerjoin(_pin, _pin.c.person == _person.c.person)
        .order_by(_person.c.active.desc(), _name.c.name, _person.c.person)
    )
    return [
        {
            "person": row.person,
            "name": row.name,
            "initials": row.initials,
            "roles": list(roles_of(row.roles)),
            "active": bool(row.active),
            "pin_by_lead": bool(row.by_lead),
            "has_pin": bool(row.has_pin),
            "stopped_at": sorted(stopped.get(row.person, [])),
        }
        for row in rows
    ]


def named(read: Connection, person: str) -> tuple[str, str, bool]:
    """A person's name, initials, and whether their PIN is still the lead's."""
    row = read.execute(
        select(_name.c.name, _name.c.initials, func.coalesce(_pin.c.by_lead, 0).label("by_lead"))
        .outerjoin(_pin, _pin.c.person == _name.c.person)
        .where(_name.c.person == person)
    ).one_or_none()
    return (row.name, row.initials, bool(row.by_lead)) if row else ("", "", False)
