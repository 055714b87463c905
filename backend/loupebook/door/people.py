"""A lead's acts on people, and a person's own PIN. Each writes its entry and the rows outside the log together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, select, update

from loupebook.door import words
from loupebook.door.door import Door, log, new_id
from loupebook.door.pins import weakness
from loupebook.door.rights import Role, roles_of
from loupebook.door.sessions import check_pin, end_sessions
from loupebook.door.tables import Person, PersonName, Pin, Session
from loupebook.door.tries import forget_tries
from loupebook.door.who import PersonHere
from loupebook.log.declared import table_of
from loupebook.record.kinds import About, PersonAdded, PersonChanged, Proof

_person = table_of(Person)
_name = table_of(PersonName)
_pin = table_of(Pin)
_session = table_of(Session)


@dataclass(frozen=True)
class Wish:
    """What a lead wants changed; None leaves it as it is (nothing is ever taken away by being left out)."""

    roles: Sequence[Role] | None = None
    active: bool | None = None
    name: str | None = None
    pin: str | None = None
    open_again: bool = False


def initials_of(name: str) -> str:
    """The first letters of the first and the last word: `Ila Venn` -> `IV`."""
    parts = name.split()
    return "".join(part[0] for part in (parts[:1] + parts[1:][-1:])).upper()


def proof_of(person: PersonHere) -> Proof:
    """How a server entry says its person was proved: PIN, online, by the ticket of this session."""
    return Proof(how="pin", where="online", ticket=person.ticket)


def add_person(door: Door, lead: PersonHere, name: str, roles: Sequence[Role], pin: str) -> str:
    """Adds a person with a first PIN set by the lead; gives the new id. Blocking."""
    hashed = _pin_hash(door, pin)
    person = new_id("p")

    def check(write: Connection) -> None:
        keep_person(write, person, name, hashed, door.now_ms(), by_lead=True)

    door.log.append_server(
        "person.added", About(), PersonAdded(person, list(roles)), lead.person, proof_of(lead), check
    )
    log.info("person added person=%s by=%s", person, lead.person)
    return person


def keep_name(write: Connection, person: str, name: str) -> None:
    """The name of a new person, in the transaction of their entry."""
    write.execute(insert(_name).values(person=person, name=name, initials=initials_of(name)))


def keep_person(write: Connection, person: str, name: str, pin_hash: str, now_ms: int, *, by_lead: bool) -> None:
    """Name and PIN of a new person, in the transaction of their entry."""
    keep_name(write, person, name)
    write.execute(insert(_pin).values(person=person, hash=pin_hash, by_lead=int(by_lead), set_ms=now_ms))


def change_person(door: Door, lead: PersonHere, person: str, wish: Wish) -> None:
    """Changes what the wish names. Switching off or a new PIN ends that person's sessions at once. Blocking.

    Trouble `changed_meanwhile` when another lead's change came between reading and writing, `last_lead` when
    nobody would be left to lead.
    """
    hashed = _pin_hash(door, wish.pin) if wish.pin is not None else None
    with door.log.reading() as read:
        seen = read.execute(select(_person).where(_person.c.person == person)).one_or_none()
    if seen is None:
        raise words.no_such_person()
    roles = list(roles_of(seen.roles) if wish.roles is None else wish.roles)
    active = bool(seen.active) if wish.active is None else wish.active

    def check(write: Connection) -> None:
        now = write.execute(select(_person.c.changed).where(_person.c.person == person)).scalar_one()
        if now != seen.changed:
            raise words.changed_meanwhile()
        if not (active and "lead" in roles) and not _another_lead(write, person):
            raise words.last_lead()
        if wish.name is not None:
            mine = update(_name).where(_name.c.person == person)
            write.execute(mine.values(name=wish.name, initials=initials_of(wish.name)))
        if hashed is not None:
            keep_pin(write, person, hashed, door.now_ms(), by_lead=True)
        if hashed is not None or wish.open_again:
            forget_tries(write, person)
        if hashed is not None or not active:
            end_sessions(write, person=person)

    body = PersonChanged(person, roles, active)
    door.log.append_server("person.changed", About(), body, lead.person, proof_of(lead), check)
    log.info("person changed person=%s by=%s", person, lead.person)


def change_own_pin(door: Door, person: PersonHere, old: str, new: str) -> None:
    """A person's own new PIN, proved by the old one; their other sessions end. No entry: nothing of it is record."""
    hashed = _pin_hash(door, new)
    check_pin(door, person.station, person.person, old)
    with door.log.writing() as write:
        forget_tries(write, person.person, person.station)
        keep_pin(write, person.person, hashed, door.now_ms(), by_lead=False)
        others = (_session.c.person == person.person) & (_session.c.token_hash != person.token_hash)
        write.execute(delete(_session).where(others))
    log.info("PIN changed person=%s station=%s", person.person, person.station)


def is_anybody(read: Connection) -> bool:
    """Whether there is any person at all, switched off ones too."""
    return read.execute(select(_person.c.person).limit(1)).first() is not None


def checked_pin(pin: str) -> str:
    """The PIN, or Trouble `weak_pin`."""
    reason = weakness(pin)
    if reason is not None:
        raise words.weak_pin(reason)
    return pin


def _pin_hash(door: Door, pin: str) -> str:
    return door.hasher.make(checked_pin(pin))


def keep_pin(write: Connection, person: str, hashed: str, now_ms: int, *, by_lead: bool) -> None:
    """The person's PIN from now on, in the caller's transaction."""
    values = {"hash": hashed, "by_lead": int(by_lead), "set_ms": now_ms}
    if write.execute(update(_pin).where(_pin.c.person == person).values(**values)).rowcount == 0:
        write.execute(insert(_pin).values(person=person, **values))


def _another_lead(read: Connection, person: str) -> bool:
    rows = read.execute(select(_person.c.roles).where(_person.c.person != person, _person.c.active == 1))
    return any("lead" in roles_of(row.roles) for row in rows)
