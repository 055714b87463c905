"""A way back where PIN, recovery code and every tablet are lost: made at the server machine, and told to every lead.

Whoever holds the server machine holds the record; so this proves no person, and says so in the entry.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, insert, select

from loupebook.door import codes
from loupebook.door.door import Door, log
from loupebook.door.pin_codes import keep_recovery
from loupebook.door.rights import roles_of
from loupebook.door.stations import POINTS
from loupebook.door.tables import Invite, Person, PersonName, Station
from loupebook.log.declared import table_of
from loupebook.record.kinds import About, PersonChanged, Proof

GOOD_MS = 3600 * 1000
"""An hour for a browser to become a station by it (product rule; ASVS 5.0.0 6.4.1 asks for a short life)."""
NOBODY = "server"
"""Who writes the entry: the server itself, no person."""

_person = table_of(Person)
_name = table_of(PersonName)
_station = table_of(Station)


@dataclass(frozen=True)
class Lead:
    """Somebody who may be let back in."""

    person: str
    name: str


@dataclass(frozen=True)
class WayBack:
    """Both said this one time: the code of a station to be, and the recovery code that sets the lead's PIN."""

    station_code: str
    recovery: str


def leads_of(read: Connection) -> list[Lead]:
    """Every lead who is not switched off, by name."""
    rows = read.execute(
        select(_person.c.person, _person.c.roles, _name.c.name)
        .join(_name, _name.c.person == _person.c.person)
        .where(_person.c.active == 1)
        .order_by(_name.c.name)
    )
    return [Lead(row.person, row.name) for row in rows if "lead" in roles_of(row.roles)]


def make_way_back(door: Door, lead: Lead, place: str) -> WayBack:
    """Both codes and the entry that every lead is told of, in one transaction; earlier recovery codes of theirs end."""
    station_code = codes.new_code()
    made: list[WayBack] = []
    with door.log.reading() as read:
        roles = roles_of(read.execute(select(_person.c.roles).where(_person.c.person == lead.person)).scalar_one())

    def check(write: Connection) -> None:
        now = door.now_ms()
        write.execute(
            insert(table_of(Invite)).values(
                code_hash=codes.code_hash(station_code), name="Way back", place=place, side="both",
                points=" ".join(POINTS["both"]), by_person=lead.person, by_ticket="", until_ms=now + GOOD_MS,
            )
        )  # fmt: skip
        made.append(WayBack(station_code, keep_recovery(write, lead.person, now)))

    body = PersonChanged(lead.person, list(roles), True, "server_machine")
    door.log.append_server("person.changed", About(), body, NOBODY, Proof(how="named", where="online"), check)
    log.warning("way back made at the server machine person=%s", lead.person)
    return made[-1]


def usual_place(read: Connection, places: list[str], otherwise: str) -> str:
    """Where the new station stands: the newest station's place, else the facility's first, else its name."""
    newest = read.execute(select(_station.c.place).order_by(_station.c.enrolled_at.desc()).limit(1)).scalar()
    return str(newest or (places or [otherwise])[0])
