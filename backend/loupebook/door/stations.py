"""Stations: the first one, those a lead invites, a new chain for one that lost its own, and withdrawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from msgspec import UNSET
from sqlalchemy import Connection, insert, select, update

from loupebook.door import codes, words
from loupebook.door.door import Door, log, new_id
from loupebook.door.facility import FacilityWords, Side, checked
from loupebook.door.keys import spki_of
from loupebook.door.people import checked_pin, is_anybody, keep_person, proof_of
from loupebook.door.pin_codes import keep_recovery
from loupebook.door.rights import Role
from loupebook.door.sessions import SignedIn, end_sessions, new_ticket, open_session
from loupebook.door.tables import Chain, ChainKey, Invite, Station, StationToken
from loupebook.door.who import PersonHere, StationHere, new_token, token_hash
from loupebook.log.declared import table_of
from loupebook.record.hashes import chain_id
from loupebook.record.kinds import (
    About,
    PersonAdded,
    Point,
    Proof,
    StationChained,
    StationEnrolled,
    StationRevoked,
)

INVITE_MS = 8 * 3600 * 1000
"""A lead's code is good for a shift: eight hours (product rule; ASVS 5.0.0 6.4.1 asks for a short life)."""

Why = Literal["wiped", "forked", "server_ahead", "rolled_back", "cloned", "refused"]

POINTS: dict[Side, tuple[Point, ...]] = {
    "dirty": ("at_leak_test", "after_cleaning", "acceptance"),
    "clean": ("after_drying", "before_use", "acceptance"),
    "both": ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance"),
}
"""Points of the first station, by its side; later ones are told theirs. Common practice, no source."""

_station = table_of(Station)
_chain = table_of(Chain)
_key = table_of(ChainKey)
_token = table_of(StationToken)
_invite = table_of(Invite)


@dataclass(frozen=True)
class Place:
    """What a station is called, where it stands, and what may be looked at there."""

    name: str
    place: str
    side: Side
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Enrolled:
    """What a browser keeps once it is a station. `token` is said this one time."""

    station: str
    chain: str
    token: str


def first_code(door: Door) -> str | None:
    """A new one-time code for the first person while there is nobody, else None. For the one who starts the server."""
    with door.log.reading() as read:
        if is_anybody(read):
            return None
    return door.first.draw()


@dataclass(frozen=True)
class Begun:
    """The first station and its lead, signed in; `recovery` is said this one time."""

    enrolled: Enrolled
    signed_in: SignedIn
    recovery: str


def first(
    door: Door, code: str, name: str, pin: str, place: Place, public_key: str, facility: FacilityWords | None = None
) -> Begun:
    """The first person, as lead, and the first station, by the code printed at start. Blocking.

    The facility's words come first, then the station's entry: cut off anywhere before the person's, there is still
    nobody, a new code can be drawn, and all of it is said again.
    """
    claimed = door.first.claim(code)
    try:
        with door.log.reading() as read:
            if is_anybody(read):
                raise words.first_is_over()
        hashed = door.hasher.make(checked_pin(pin))
        spki = spki_of(public_key)
        person, ticket = new_id("p"), new_ticket()
        if facility is not None and door.keep_facility is not None:
            door.keep_facility(checked(facility))
        proof = Proof(how="pin", where="online", ticket=ticket)
        enrolled = _enrol(door, place, spki, person, proof)
        begun = _first_person(door, person, name, hashed, enrolled, proof, ticket)
    except BaseException:
        door.first.give_back(claimed)
        raise
    log.info("first person=%s station=%s", person, enrolled.station)
    return begun


def _first_person(
    door: Door, person: str, name: str, pin_hash: str, enrolled: Enrolled, proof: Proof, ticket: str
) -> Begun:
    begun: list[Begun] = []
    roles: tuple[Role, ...] = ("lead",)

    def check(write: Connection) -> None:
        if is_anybody(write):
            raise words.first_is_over()
        keep_person(write, person, name, pin_hash, door.now_ms(), by_lead=False)
        signed_in = open_session(write, enrolled.station, person, roles, door.now_ms(), ticket)
        begun.append(Begun(enrolled, signed_in, keep_recovery(write, person, door.now_ms())))

    door.log.append_server("person.added", About(), PersonAdded(person, list(roles)), person, proof, check)
    return begun[-1]


def invite(door: Door, lead: PersonHere, place: Place) -> tuple[str, int]:
    """A one-time code for one station, and until when it is good (ms UTC). Blocking."""
    code, now = codes.new_code(), door.now_ms()
    with door.log.writing() as write:
        write.execute(
            insert(_invite).values(
                code_hash=codes.code_hash(code), name=place.name, place=place.place, side=place.side,
                points=" ".join(place.points), by_person=lead.person, by_ticket=lead.ticket,
                until_ms=now + INVITE_MS,
            )
        )  # fmt: skip
    log.info("invited a station by=%s", lead.person)
    return code, now + INVITE_MS


def enrol(door: Door, code: str, public_key: str) -> Enrolled:
    """A browser becomes a station by a lead's code; the code is spent in the same transaction. Blocking."""
    spki = spki_of(public_key)
    hashed = codes.code_hash(code)
    with door.log.reading() as read:
        asked = read.execute(select(_invite).where(_invite.c.code_hash == hashed)).one_or_none()
    if asked is None:
        raise words.wrong_code()
    if asked.used_ms is not None:
        raise words.code_used()
    if asked.until_ms <= door.now_ms():
        raise words.code_over()

    def spend(write: Connection) -> None:
        unused = (_invite.c.code_hash == hashed) & _invite.c.used_ms.is_(None)
        if write.execute(update(_invite).where(unused).values(used_ms=door.now_ms())).rowcount != 1:
            raise words.code_used()

    place = Place(asked.name, asked.place, asked.side, tuple(asked.points.split()))
    # A code made at the server machine has no ticket: nobody gave a PIN for it.
    by_pin = Proof(how="pin", where="online", ticket=asked.by_ticket)
    proof = by_pin if asked.by_ticket else Proof(how="named", where="online")
    enrolled = _enrol(door, place, spki, asked.by_person, proof, spend)
    log.info("enrolled station=%s by=%s", enrolled.station, asked.by_person)
    return enrolled


def _enrol(
    door: Door, place: Place, spki: bytes, person: str, proof: Proof, spend: Callable[[Connection], None] | None = None
) -> Enrolled:
    station, chain, token = new_id("s"), chain_id(spki), new_token()

    def check(write: Connection) -> None:
        if spend is not None:
            spend(write)
        _keep_key(write, chain, spki)
        write.execute(insert(_token).values(token_hash=token_hash(token), station=station, issued_ms=door.now_ms()))

    body = StationEnrolled(station, chain, place.name, place.place, place.side, list(place.points))
    door.log.append_server("station.enrolled", About(), body, person, proof, check)
    return Enrolled(station, chain, token)


def new_chain(door: Door, station: StationHere, public_key: str, old: tuple[str, int, str | None], why: Why) -> str:
    """The station goes on in a new chain that names the old one's head; gives the new chain. Blocking.

    Asked again with the same key (the answer was lost), it says the same and writes nothing.
    The station itself acts: the entry's person is the station's id, named and not proved.
    """
    spki = spki_of(public_key)
    chain = chain_id(spki)
    old_chain, old_seq, old_hash = old
    with door.log.reading() as read:
        rows = read.execute(select(_chain.c.chain).where(_chain.c.station == station.station))
        mine = {row.chain for row in rows}
    if chain in mine:
        return chain
    if old_chain not in mine:
        raise words.not_this_chain()

    def check(write: Connection) -> None:
        _keep_key(write, chain, spki)

    body = StationChained(station.station, chain, old_chain, old_seq, UNSET if old_hash is None else old_hash, why)
    proof = Proof(how="named", where="online")
    door.log.append_server("station.chained", About(), body, station.station, proof, check)
    log.warning("new chain station=%s why=%s", station.station, why)
    return chain


def revoke(door: Door, lead: PersonHere, station: str, reason: str) -> None:
    """Withdraws a station: it sees nothing more, may still send, and all of that is put aside. Blocking.

    A station already withdrawn stays so; nothing is written twice.
    """
    with door.log.reading() as read:
        row = read.execute(select(_station.c.revoked).where(_station.c.station == station)).one_or_none()
    if row is None:
        raise words.no_such_station()
    if row.revoked:
        return

    def check(write: Connection) -> None:
        end_sessions(write, station=station)

    body = StationRevoked(station, reason)
    door.log.append_server("station.revoked", About(), body, lead.person, proof_of(lead), check)
    log.warning("withdrawn station=%s by=%s", station, lead.person)


def _keep_key(write: Connection, chain: str, spki: bytes) -> None:
    if write.execute(select(_key.c.chain).where(_key.c.chain == chain)).first() is not None:
        raise words.key_known()
    write.execute(insert(_key).values(chain=chain, spki=spki))


def chains_of(read: Connection, station: str) -> Sequence[str]:
    """Every chain this station writes or wrote."""
    rows = read.execute(select(_chain.c.chain).where(_chain.c.station == station).order_by(_chain.c.chain))
    return [row.chain for row in rows]
