"""Signing in and out: a PIN makes a ticket (kept for ever, entries name it) and a session (dies)."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, select

from loupebook.door import words
from loupebook.door.door import Door, log
from loupebook.door.rights import Role, roles_of
from loupebook.door.tables import Person, Pin, Session, Ticket
from loupebook.door.tries import STOP_AT, Go, Stopped, Wait, begin_try, forget_tries, wait_after
from loupebook.door.who import WHOLE_MS, PersonHere, StationHere, new_token, token_hash
from loupebook.log.declared import table_of

_person = table_of(Person)
_pin = table_of(Pin)
_ticket = table_of(Ticket)
_session = table_of(Session)


@dataclass(frozen=True)
class SignedIn:
    """What a sign-in gave. `token` goes into the cookie and nowhere else."""

    person: str
    roles: tuple[Role, ...]
    ticket: str
    token: str
    until_ms: int


@dataclass(frozen=True)
class TicketRow:
    """A ticket as issued: an entry that names it was proved online only if person and station agree."""

    person: str
    station: str
    how: str
    issued_ms: int


def new_ticket() -> str:
    """A ticket's id: 128 bits, not a secret, but not to be guessed by a station that never got it."""
    return f"t-{secrets.token_hex(16)}"


def sign_in(door: Door, station: StationHere, person: str, pin: str) -> SignedIn:
    """Proves a person by PIN at this station; blocking (some 20 ms of hashing). Trouble when it does not go.

    A new session each time; whoever was signed in at this station before is signed out by it.
    """
    check_pin(door, station.station, person, pin)
    now = door.now_ms()
    with door.log.writing() as write:
        found = write.execute(select(_person).where(_person.c.person == person)).one_or_none()
        if found is None:
            raise words.wrong_pin_unknown()
        if not found.active:
            raise words.person_off()
        forget_tries(write, person, station.station)
        signed_in = open_session(write, station.station, person, roles_of(found.roles), now, new_ticket())
    log.info("signed in person=%s station=%s ticket=%s", person, station.station, signed_in.ticket)
    return signed_in


def check_pin(door: Door, station: str, person: str, pin: str) -> None:
    """Trouble unless the PIN is this person's. The try is counted first; the caller forgets it when all went well."""
    with door.log.writing() as write:
        kept = write.execute(select(_pin.c.hash).where(_pin.c.person == person)).scalar_one_or_none()
        verdict = begin_try(write, person, station, door.now_ms()) if kept is not None else Go(0)
        known = kept is not None or write.execute(select(_person.c.person).where(_person.c.person == person)).first()
    match verdict:
        case Wait(wait_s):
            raise words.wait_for_pin(wait_s)
        case Stopped(everywhere):
            log.warning("PIN stopped person=%s station=%s", person, station)
            raise words.pin_stopped_everywhere() if everywhere else words.pin_stopped()
    if door.hasher.fits(kept, pin):
        return
    log.warning("wrong PIN person=%s station=%s wrong=%d", person, station, verdict.wrong)
    if kept is None:
        raise words.no_pin_yet() if known else words.wrong_pin_unknown()
    if verdict.wrong >= STOP_AT:
        raise words.pin_stopped()
    raise words.wrong_pin(STOP_AT - verdict.wrong, wait_after(verdict.wrong))


def open_session(
    write: Connection, station: str, person: str, roles: tuple[Role, ...], now_ms: int, ticket: str
) -> SignedIn:
    """Ticket and session rows in the caller's transaction; the station's earlier session ends."""
    token = new_token()
    write.execute(delete(_session).where(_session.c.station == station))
    write.execute(insert(_ticket).values(ticket=ticket, person=person, station=station, how="pin", issued_ms=now_ms))
    write.execute(
        insert(_session).values(
            token_hash=token_hash(token), person=person, station=station, ticket=ticket,
            proved_ms=now_ms, used_ms=now_ms, ends_ms=now_ms + WHOLE_MS,
        )
    )  # fmt: skip
    return SignedIn(person, roles, ticket, token, now_ms + WHOLE_MS)


def sign_out(door: Door, person: PersonHere) -> None:
    """Ends this session at once. What the tablet has not sent stays on it."""
    with door.log.writing() as write:
        write.execute(delete(_session).where(_session.c.token_hash == person.token_hash))
    log.info("signed out person=%s station=%s", person.person, person.station)


def end_sessions(write: Connection, *, person: str | None = None, station: str | None = None) -> None:
    """Ends all sessions of a person, or all at a station."""
    ended = delete(_session)
    if person is not None:
        write.execute(ended.where(_session.c.person == person))
    if station is not None:
        write.execute(ended.where(_session.c.station == station))


AT_ONCE = 500
"""Ids asked for in one statement."""


def tickets_of(read: Connection, tickets: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Those of these ids that this server issued, each with its person and its station."""
    found: dict[str, tuple[str, str]] = {}
    for start in range(0, len(tickets), AT_ONCE):
        wanted = _ticket.c.ticket.in_(tickets[start : start + AT_ONCE])
        for row in read.execute(select(_ticket.c.ticket, _ticket.c.person, _ticket.c.station).where(wanted)):
            found[row.ticket] = (row.person, row.station)
    return found


def ticket_of(read: Connection, ticket: str) -> TicketRow | None:
    """The ticket of this id, if this server issued it."""
    found = read.execute(select(_ticket).where(_ticket.c.ticket == ticket)).one_or_none()
    return TicketRow(found.person, found.station, found.how, found.issued_ms) if found else None
