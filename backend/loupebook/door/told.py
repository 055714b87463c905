"""What a lead is told once about a sign-in: another's was opened by a recovery code, or one was made at the server."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select

from loupebook.door.door import Door, moment
from loupebook.door.tables import PersonName, Recovered, RecoveredSeen, Station
from loupebook.door.who import PersonHere
from loupebook.log.declared import table_of

TOLD_FOR_MS = 90 * 24 * 3600 * 1000
"""A lead who was away for a season is still told; one added later is not told of what is long past (product rule)."""

_recovered = table_of(Recovered)
_seen = table_of(RecoveredSeen)
_name = table_of(PersonName)
_station = table_of(Station)


def told_to(read: Connection, lead: PersonHere, now_ms: int) -> list[dict[str, object]]:
    """Each recovery that this lead has not said to have seen, newest first.

    Their own recovery code they used themselves; a code made at the server in their name they may know nothing of.
    """
    if "lead" not in lead.roles:
        return []
    rows = read.execute(
        select(_recovered, _name.c.name, _station.c.name.label("at_station"))
        .outerjoin(_name, _name.c.person == _recovered.c.person)
        .outerjoin(_station, _station.c.station == _recovered.c.station)
        .outerjoin(_seen, (_seen.c.entry == _recovered.c.entry) & (_seen.c.person == lead.person))
        .where(
            (_recovered.c.person != lead.person) | (_recovered.c.by == "server_machine"),
            _recovered.c.at >= moment(now_ms - TOLD_FOR_MS),
            _seen.c.entry.is_(None),
        )
        .order_by(_recovered.c.at.desc())
    )
    return [
        {
            "entry": row.entry,
            "person": row.person,
            "name": row.name,
            "station": row.at_station,
            "at": row.at,
            "by": row.by,
        }
        for row in rows
    ]


def seen_by(door: Door, lead: PersonHere, entry: str) -> None:
    """This lead has seen it; said twice is the same. Blocking."""
    with door.log.writing() as write:
        mine = (_seen.c.entry == entry) & (_seen.c.person == lead.person)
        there = write.execute(select(_recovered.c.entry).where(_recovered.c.entry == entry)).first()
        if there is not None and write.execute(select(_seen.c.entry).where(mine)).first() is None:
            write.execute(insert(_seen).values(entry=entry, person=lead.person))
