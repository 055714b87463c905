"""The door itself: what all its acts share, and who is standing there."""

from __future__ import annotations

import logging
import secrets
from datetime import UTC, datetime

from sqlalchemy import Connection, insert, update

from loupebook.door.facility import KeepFacility
from loupebook.door.first import FirstCode
from loupebook.door.pins import PinHasher
from loupebook.door.port import Clock, Facility, utc_now
from loupebook.door.rate import Rates
from loupebook.door.tables import Session, StationSeen
from loupebook.door.who import (
    PersonHere,
    StationHere,
    person_by_session,
    station_by_token,
    token_hash,
)
from loupebook.log.declared import table_of
from loupebook.log.log import Log
from loupebook.log.trouble import LogRefusal

log = logging.getLogger("loupebook.door")
"""Who, where, when (ids only). Never a name, a PIN, a code or a token."""

TOUCH_MS = 60_000
"""A session's last use and a station's last sign of life are written once a minute, not at each request."""

_session = table_of(Session)
_seen = table_of(StationSeen)


class Door:
    """One a server. `hosts`: names the server goes by besides loopback, lower case, without port.

    `address`: the https address of all tablets, where there is one. `keep_facility`: where the facility's words go.
    """

    def __init__(
        self,
        log: Log,
        *,
        facility: Facility,
        keep_facility: KeepFacility | None = None,
        hosts: frozenset[str] = frozenset(),
        address: str | None = None,
        clock: Clock = utc_now,
        hasher: PinHasher | None = None,
    ) -> None:
        self.log = log
        self.facility = facility
        self.keep_facility = keep_facility
        self.hosts = hosts
        self.address = address
        self.clock = clock
        self.hasher = hasher or PinHasher()
        self.rates = Rates(clock)
        self.first = FirstCode(clock)
        self._seen: dict[str, int] = {}
        self._remembered: tuple[object, dict[str, StationHere]] = (None, {})

    def now_ms(self) -> int:
        """Milliseconds UTC since 1970."""
        return int(self.clock().timestamp() * 1000)

    def recognise(
        self, station_token: str | None, session_token: str | None, *, wakes: bool = True
    ) -> tuple[StationHere | None, PersonHere | None]:
        """The station and the person behind what a request shows; blocking. `wakes`: this counts as use of the desk."""
        now, state = self.now_ms(), self.log.door_state
        with self.log.reading() as read:
            station = station_by_token(read, station_token) if station_token else None
            person = person_by_session(read, token_hash(session_token), now) if session_token else None
        seen = station if station and now - self._seen.get(station.station, 0) >= TOUCH_MS else None
        used = person if person and wakes and now - person.used_ms >= TOUCH_MS else None
        if seen or used:
            self._touch(seen, used, now)
        elif station and station_token:
            self._remember(station_token, station, state)
        return station, person

    def remembered(self, station_token: str) -> StationHere | None:
        """The station of this token, where it was read under the state of now and need not be noted as seen.

        Never blocks: for what tablets send many times a second. A withdrawal, once answered, is seen by the next.
        """
        state, stations = self._remembered
        station = stations.get(token_hash(station_token)) if state is self.log.door_state else None
        if station is None or self.now_ms() - self._seen.get(station.station, 0) >= TOUCH_MS:
            return None
        return station

    def _remember(self, station_token: str, station: StationHere, state: object) -> None:
        """Keeps what was read under `state`; what was read under another one goes."""
        kept, stations = self._remembered
        if kept is not state:
            self._remembered = (state, stations := {})
        stations[token_hash(station_token)] = station

    def _touch(self, station: StationHere | None, person: PersonHere | None, now: int) -> None:
        """Keeps that they were here. A disk that takes no more must not stop anybody from reading."""
        try:
            with self.log.writing() as write:
                if station is not None:
                    touch_station(write, station.station, now)
                if person is not None:
                    mine = _session.c.token_hash == person.token_hash
                    write.execute(update(_session).where(mine).values(used_ms=now))
        except LogRefusal as refused:
            log.warning("not kept who was here: %s", refused.code)
            return
        if station is not None:
            self._seen[station.station] = now

    def still_signed_in(self, person: PersonHere) -> bool:
        """Whether this session lives: for answers that stay open, asked again now and then; blocking."""
        with self.log.reading() as read:
            return person_by_session(read, person.token_hash, self.now_ms()) is not None


def touch_station(write: Connection, station: str, now_ms: int) -> None:
    """Keeps when a station last asked for anything."""
    mine = update(_seen).where(_seen.c.station == station).values(seen_ms=now_ms)
    if write.execute(mine).rowcount == 0:
        write.execute(insert(_seen).values(station=station, seen_ms=now_ms))


def new_id(prefix: str) -> str:
    """A short random id (`p-`, `s-`, `t-`), 40 bits for people and stations; tickets ask for more themselves."""
    return f"{prefix}-{secrets.token_hex(5)}"


def moment(ms: int) -> str:
    """RFC 3339 in UTC with milliseconds, as entries write it."""
    return datetime.fromtimestamp(ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
