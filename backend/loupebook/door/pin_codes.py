"""Codes that set a PIN: for a person's first sign-in, given by a lead, and for a lead who lost theirs, kept on paper.

Of a code only its hash is kept; it is said once and works once. A first code is 60 bits and good for two weeks;
a recovery code lies in a drawer for years, so it is 100 bits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, delete, insert, select, update

from loupebook.door import codes, words
from loupebook.door.door import Door, log
from loupebook.door.people import checked_pin, keep_pin
from loupebook.door.rights import roles_of
from loupebook.door.sessions import SignedIn, end_sessions, new_ticket, open_session
from loupebook.door.tables import Person, PersonName, PinCode
from loupebook.door.tries import forget_tries
from loupebook.door.who import PersonHere, StationHere
from loupebook.log.declared import table_of
from loupebook.record.kinds import About, PersonChanged, Proof

Why = Literal["first", "recovery"]

FIRST_MS = 14 * 24 * 3600 * 1000
"""A printed first code is good for two weeks, so that a holiday does not outlive it (product rule)."""
RECOVERY_SIGNS = 20

_code = table_of(PinCode)
_person = table_of(Person)
_name = table_of(PersonName)


@dataclass(frozen=True)
class Given:
    """A code as it is printed for one person; said this one time. `until_ms`: nothing for a recovery code."""

    person: str
    name: str
    code: str
    until_ms: int | None


def keep_recovery(write: Connection, person: str, now_ms: int) -> str:
    """A new recovery code of a lead, in the caller's transaction; an earlier one no longer works."""
    return _keep(write, person, "recovery", now_ms, None, person)


def new_recovery(door: Door, lead: PersonHere) -> str:
    """The same for a lead who asks for it; blocking."""
    with door.log.writing() as write:
        code = keep_recovery(write, lead.person, door.now_ms())
    log.info("new recovery code person=%s", lead.person)
    return code


def first_codes(door: Door, lead: PersonHere, people: Sequence[str]) -> list[Given]:
    """A new first code for each of these people, in the order asked for; earlier ones no longer work. Blocking.

    Trouble `no_such_person` where one is not there or switched off; then none is made.
    """
    now = door.now_ms()
    with door.log.writing() as write:
        rows = write.execute(
            select(_person.c.person, _name.c.name)
            .join(_name, _name.c.person == _person.c.person)
            .where(_person.c.active == 1)
        )
        names = {row.person: row.name for row in rows}
        wanted = list(dict.fromkeys(people))
        if any(person not in names for person in wanted):
            raise words.no_such_person()
        given = [
            Given(
                person, names[person], _keep(write, person, "first", now, now + FIRST_MS, lead.person), now + FIRST_MS
            )
            for person in wanted
        ]
    log.info("first codes people=%d by=%s", len(given), lead.person)
    return given


def _keep(write: Connection, person: str, why: Why, now_ms: int, until_ms: int | None, by: str) -> str:
    code = codes.new_code(RECOVERY_SIGNS if why == "recovery" else codes.LENGTH)
    earlier = (_code.c.person == person) & (_code.c.why == why) & _code.c.used_ms.is_(None)
    write.execute(delete(_code).where(earlier))
    write.execute(
        insert(_code).values(
            code_hash=codes.code_hash(code), person=person, why=why, made_ms=now_ms, until_ms=until_ms, by_person=by
        )
    )
    return code


def sign_in_by_code(door: Door, station: StationHere, person: str, code: str, pin: str) -> SignedIn:
    """The person sets their own PIN by a code, and is signed in at this station. Blocking.

    All their other sessions end and stopped tries are open again. A recovery code leaves an entry in the record,
    which every other lead is told of; a first code leaves none, as a changed PIN does not.
    """
    hashed = door.hasher.make(checked_pin(pin))
    key = codes.code_hash(code)
    with door.log.reading() as read:
        kept = read.execute(select(_code).where(_code.c.code_hash == key)).one_or_none()
        found = read.execute(select(_person).where(_person.c.person == person)).one_or_none()
    if kept is None or kept.person != person or found is None:
        raise words.wrong_code()
    if kept.used_ms is not None:
        raise words.pin_code_used()
    roles = roles_of(found.roles)
    if (kept.until_ms is not None and kept.until_ms <= door.now_ms()) or (
        kept.why == "recovery" and "lead" not in roles
    ):
        raise words.code_over()
    if not found.active:
        raise words.person_off()
    opened: list[SignedIn] = []

    def set_pin(write: Connection) -> None:
        now = door.now_ms()
        unused = (_code.c.code_hash == key) & _code.c.used_ms.is_(None)
        if write.execute(update(_code).where(unused).values(used_ms=now)).rowcount != 1:
            raise words.pin_code_used()
        keep_pin(write, person, hashed, now, by_lead=False)
        forget_tries(write, person)
        end_sessions(write, person=person)
        opened.append(open_session(write, station.station, person, roles, now, new_ticket()))

    if kept.why == "recovery":
        body = PersonChanged(person, list(roles), True, "recovery_code", station.station)
        door.log.append_server("person.changed", About(), body, person, Proof(how="named", where="online"), set_pin)
        log.warning("came back by recovery code person=%s station=%s", person, station.station)
    else:
        with door.log.writing() as write:
            set_pin(write)
        log.info("set a first PIN person=%s station=%s", person, station.station)
    return opened[-1]
