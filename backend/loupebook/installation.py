"""One running installation, joined: log, door, vault, looking, features, cards and reading on one data folder."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import AsyncIterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from anyio import to_thread
from sqlalchemy import Connection, select, text
from sqlmodel import SQLModel

import loupebook.bulk.in_force as bulk_port
import loupebook.cards.port as cards_port
import loupebook.reading.port as reading_port
from loupebook.bulk.tables import KEPT as BULK_KEPT
from loupebook.door import fold as door_fold
from loupebook.door.door import Door, moment
from loupebook.door.rights import role_may, roles_of
from loupebook.door.sessions import tickets_of
from loupebook.door.tables import FOLDED as DOOR_FOLDED
from loupebook.door.tables import KEPT as DOOR_KEPT
from loupebook.door.who import people_state, station_state
from loupebook.facility import facility_words, read_facility, write_facility
from loupebook.heads_out import HeadsOut
from loupebook.inspections import fold as inspections_fold
from loupebook.inspections.tables import FOLDED as INSPECTION_TABLES
from loupebook.inspections.tables import KEPT as INSPECTION_KEPT
from loupebook.inspections.tables.erased import IS_ERASED, erasures, is_erased
from loupebook.inspections.tables.hidden import is_hidden, opened
from loupebook.inspections.tables.looks import forget_look, keep_look, unlooked
from loupebook.log.asking import ask
from loupebook.log.backup import DATABASE
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine
from loupebook.log.log import Log
from loupebook.log.moments import Now, utc_now
from loupebook.log.photos import photo_stored
from loupebook.log.port import Door as LogDoor
from loupebook.log.port import Statement, joined
from loupebook.log.tables import LOG, photos, pinned
from loupebook.log.views import (
    NAMED_PHOTO,
    all_heads,
    all_of_kind,
    asides,
    heads_of,
    last_of_kind,
    lines_of,
    photos_here,
    position,
    stray_lines,
)
from loupebook.looking.look import Look
from loupebook.looking.looker import Looker
from loupebook.looking.queue import LookingQueue
from loupebook.migrations.shape import bring_up
from loupebook.network.building import Building
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import PolicySet
from loupebook.record.lines import parse_line
from loupebook.repairs import fold as repairs_fold
from loupebook.repairs.tables import FOLDED as REPAIR_TABLES
from loupebook.scopes import fold as scopes_fold
from loupebook.scopes.tables import FOLDED as SCOPE_TABLES
from loupebook.scopes.tables.known import Epoch, Facility, Person, Station
from loupebook.second_opinions import SecondOpinions
from loupebook.serial_again import SerialAgain
from loupebook.shifts import fold as shifts_fold
from loupebook.shifts.names import Hours, shift_of
from loupebook.shifts.tables import FOLDED as SHIFT_TABLES
from loupebook.tools import fold as tools_fold
from loupebook.tools.tables import FOLDED as TOOL_TABLES
from loupebook.vault.derived import Derived
from loupebook.vault.errors import Damaged, Missing
from loupebook.vault.folder import FolderVault
from loupebook.vault.names import Sha256
from loupebook.vault.port import read_checked
from loupebook.vault.routes import NamedPhoto, Receipt
from loupebook.vault.strip import only_the_picture

log = logging.getLogger(__name__)

SHARED = Path(__file__).resolve().parents[2] / "shared"
PHOTOS = "vault"
DERIVED = "derived"
PHOTO_IS_ERASED = Statement(IS_ERASED)
TELL_AT_LEAST_S = 20.0
"""How long a silent event stream waits before it looks whether its reader is still there."""

WORDS = SHARED / "words" / "en.json"
_FILES: dict[cards_port.TextOf, Path] = {
    "catalogue": SHARED / "catalogue" / "catalogue.json",
    "policy": SHARED / "policy" / "policy.json",
    "frequency": SHARED / "policy" / "frequency.json",
}
_KIND: dict[cards_port.TextOf, str] = {
    "catalogue": "catalogue.set",
    "policy": "policy.set",
    "frequency": "frequency.set",
}

FOLDS = joined(
    door_fold.FOLDS,
    scopes_fold.FOLDS,
    inspections_fold.FOLDS,
    tools_fold.FOLDS,
    repairs_fold.FOLDS,
    shifts_fold.FOLDS,
)
FOLDED: tuple[type[SQLModel], ...] = (
    *DOOR_FOLDED, *SCOPE_TABLES, *INSPECTION_TABLES, *TOOL_TABLES, *REPAIR_TABLES, *SHIFT_TABLES,
)  # fmt: skip
"""The tables that folds write: what a rebuild makes anew."""
KEPT: tuple[type[SQLModel], ...] = (*DOOR_KEPT, *INSPECTION_KEPT, *BULK_KEPT)
"""The tables kept outside the log."""


PEOPLE = text(
    "SELECT people.person, people.roles, n.name, n.initials FROM people "
    "JOIN person_names n ON n.person = people.person WHERE people.active = 1 ORDER BY n.name"
)
CHAINS = text("SELECT station, chain FROM station_chains")
STATIONS = text(
    "SELECT stations.station, name, place, side, points, revoked, seen_ms FROM stations "
    "LEFT JOIN station_seen s ON s.station = stations.station ORDER BY name, stations.station"
)


def _now_ms() -> int:
    return time.time_ns() // 1_000_000


class Installation:
    """Everything behind the routes. `close` ends threads after what was handed in is written."""

    def __init__(
        self, folder: Path, instance: str, build: str, building: Building | None = None, now: Now = utc_now
    ) -> None:
        self.folder = folder
        self.heads_out: HeadsOut | None = None
        self.building = building
        self.engine = open_engine(folder / DATABASE)
        self.words: dict[str, object] = json.loads(WORDS.read_text("utf-8"))
        self.languages = bulk_port.languages_of(WORDS.parent, WORDS.stem)
        self.texts = {name: path.read_text("utf-8") for name, path in _FILES.items()}
        self.before_upgrade = self._bring_up()
        """Where the database as an earlier version left it lies, if this start brought it up."""
        SQLModel.metadata.create_all(self.engine, [table_of(each) for each in (*FOLDED, *KEPT)])
        self.log = Log(
            self.engine,
            FOLDS,
            LogDoor(station_state, people_state, role_may),
            folder,
            texts=self.texts.values(),
            build=build,
            now=now,
        )
        self.door = Door(
            self.log,
            facility=self.facility_words,
            keep_facility=lambda words: write_facility(folder, words),
            hosts=frozenset() if building is None else building.hosts,
            address=None if building is None else building.address,
        )
        root = folder / PHOTOS
        self.vault = FolderVault(root, instance) if root.exists() else FolderVault.make(root, instance)
        self.vault.clear_leftovers()
        self.derived = Derived(folder / DERIVED)
        self.looker = Looker(self.vault, self.derived)
        self.serials = SerialAgain(self.log)
        self.seconds = SecondOpinions(self.log, self.policy, _now_ms)
        self.looking = LookingQueue(self.looker, self._looked)

    def _bring_up(self) -> Path | None:
        """Brings a folder of an earlier version up to this one, with a copy of its database beside it."""
        kept = [*LOG.sorted_tables, *(table_of(each) for each in KEPT)]
        return bring_up(self.engine, self.folder, FOLDS, kept, [table_of(each) for each in FOLDED])

    def close(self) -> None:
        """Ends in the order that loses nothing."""
        self.looking.close()
        self.log.close()
        self.engine.dispose()

    # ---------------------------------------------------------------- facility

    def facility(self) -> Facility:
        """The facility's own words, from its file in the data folder; the usual ones until there is one."""
        return read_facility(self.folder)

    def facility_words(self) -> dict[str, object]:
        """The same for a tablet that enrols."""
        return facility_words(self.facility())

    def shift_now(self, place: str) -> str:
        """The name of the shift that runs at a place."""
        facility = self.facility()
        hours = [Hours(*each) for each in facility.shifts]
        return shift_of(place, datetime.now(UTC), hours, ZoneInfo(facility.zone))

    # ---------------------------------------------------------------- people and stations

    def people(self, connection: Connection) -> Sequence[Person]:
        """Everybody who is not switched off."""
        rows = ask(connection, PEOPLE)
        return [Person(person, name, initials, tuple(roles_of(roles))) for person, roles, name, initials in rows]

    def stations(self, connection: Connection) -> Sequence[Station]:
        """Every station with all its chains."""
        chains: dict[str, list[str]] = {}
        for station, chain in ask(connection, CHAINS):
            chains.setdefault(station, []).append(chain)
        return [
            Station(
                station,
                name,
                place,
                side,
                tuple(chains.get(station, ())),
                None if seen_ms is None else moment(seen_ms),
                bool(revoked),
                tuple(points.split()),
            )
            for station, name, place, side, points, revoked, seen_ms in ask(connection, STATIONS)
        ]

    # ---------------------------------------------------------------- texts in force

    def in_force(self, connection: Connection, name: cards_port.TextOf) -> cards_port.InForce | None:
        """The text last set by a lead, else the one that ships with this version."""
        found = last_of_kind(connection, _KIND[name])
        if found is None:
            return cards_port.InForce(text_hash(self.texts[name]), self.texts[name], 1)
        at, line = found
        sha256 = str(getattr(parse_line(line).body, "sha256"))  # noqa: B009
        row = connection.execute(select(pinned.c.text).where(pinned.c.sha256 == sha256)).scalar_one()
        return cards_port.InForce(sha256, str(row), at)

    def bulk(self, connection: Connection) -> bulk_port.InForce:
        """What a file of scopes may name: the kinds of the catalogue in force and what they are made of."""
        found = self.in_force(connection, "catalogue")
        return bulk_port.in_force_of(json.loads(found.text)["kinds"] if found is not None else {}, self.languages)

    def policies(self, connection: Connection) -> list[reading_port.PolicyVersion]:
        """Every policy that was ever in force, oldest first: what this version ships, then what leads set."""
        shipped = self.texts["policy"]
        found = [reading_port.PolicyVersion(text_hash(shipped), shipped)]
        for raw in all_of_kind(connection, "policy.set"):
            line = parse_line(raw)
            assert isinstance(line.body, PolicySet)
            told = connection.execute(select(pinned.c.text).where(pinned.c.sha256 == line.body.sha256)).scalar_one()
            who = (line.entry.at, line.entry.person, line.body.reason)
            found.append(reading_port.PolicyVersion(line.body.sha256, str(told), *who))
        return found

    # ---------------------------------------------------------------- photos

    def named(self, sha256: Sha256) -> NamedPhoto | None:
        """The photo as received entries name it."""
        found = self.log.rows(NAMED_PHOTO, photo=sha256)
        erased = bool(found) and bool(self.log.rows(PHOTO_IS_ERASED, photo=sha256)[0][0])
        return NamedPhoto(sha256, found[0][0], erased) if found else None

    def stored(self, sha256: Sha256, length: int) -> Receipt:
        """Writes the row of a durable photo; what its receipt says."""
        epoch = photo_stored(self.log, sha256, length)
        self._erase_what_came_late(sha256)
        return Receipt(epoch.n, epoch.id)

    def received(self, sha256: Sha256) -> bool:
        """Whether a receipt was given for this photo."""
        with self.log.reading() as connection:
            return connection.execute(select(photos.c.sha256).where(photos.c.sha256 == sha256)).first() is not None

    def restricted(self, sha256: Sha256, lead: str | None) -> bool:
        """Whether this photo is hidden: from everybody, but for a lead who just now said why they look at it."""
        with self.log.reading() as connection:
            return is_hidden(connection, sha256) and not (
                lead is not None and opened(connection, sha256, lead, _now_ms())
            )

    def picture(self, sha256: str) -> bytes | None:
        """The picture of a photo, 640 px where there is one, for a paper; nothing where it is not here or hidden."""
        name = Sha256(sha256)
        if self.restricted(name, None) or not self.vault.holds(name):
            return None
        return self.derived.thumbnail(name, 640) or only_the_picture(read_checked(self.vault, name))

    def whole_picture(self, sha256: str) -> bytes | None:
        """The picture of a photo in its full size, for a file; nothing where it is not here, hidden or damaged."""
        name = Sha256(sha256)
        if self.restricted(name, None) or not self.vault.holds(name):
            return None
        try:
            return only_the_picture(read_checked(self.vault, name))
        except (Damaged, Missing):
            return None

    def erase(self, photo: str) -> None:
        """The bytes of a photo and every picture made of them leave this server, not its backups. May come twice."""
        self.vault.erase(Sha256(photo))
        self.derived.erase(Sha256(photo))
        with self.log.writing() as connection:
            forget_look(connection, photo)

    def _erase_what_came_late(self, sha256: Sha256) -> None:
        """A photo whose bytes, or whose look, were under way while two leads had it erased."""
        with self.log.reading() as connection:
            erased = is_erased(connection, sha256)
        if erased:
            self.erase(sha256)

    def catch_up(self) -> None:
        """Erases what a stop kept from being erased. Offers photos that a restart left without a look, and serial
        photos not yet held against their scope; asks for the second opinions that are drawn and were not asked for."""
        with self.log.reading() as connection:
            erased = set(erasures(connection))
            waiting = [each for each in unlooked(connection) if each not in erased]
        for sha256 in erased:
            self.erase(sha256)
        self.looking.catch_up(map(Sha256, waiting))
        self.looking.catch_up(map(Sha256, self.serials.waiting()))
        self.seconds.catch_up()

    async def follow(self, after: int) -> None:
        """Offers the serial photos of entries that begin to count after a position, where their bytes came earlier,
        and draws second opinions of the inspections that end among them.

        The first is so when a lead lets an entry count that was put aside, or a second entry names a photo that is
        here.
        Runs until it is cancelled.
        """
        while True:
            now = await self.log.changed(after, TELL_AT_LEAST_S)
            if now == after:
                continue
            try:
                await to_thread.run_sync(self.seconds.counted, after)
            except Exception:  # the next start draws them again
                log.exception("second opinions of entries after position %d were not drawn", after)
            try:
                waiting = await to_thread.run_sync(self.serials.waiting, after)
            except Exception:  # the next start looks at all of them again
                log.exception("serial photos of entries after position %d were not looked for", after)
            else:
                self.looking.catch_up(map(Sha256, waiting))
            after = now

    def _looked(self, sha256: Sha256, look: Look) -> None:
        """What was found is written down (small pictures are kept in files by the looker); a serial photo is held
        against its scope."""
        with self.log.writing() as connection:
            keep_look(connection, sha256, look)
        self.serials.looked(sha256, look)
        self.seconds.looked()
        self._erase_what_came_late(sha256)

    # ---------------------------------------------------------------- seams of cards and reading

    def cards(self) -> cards_port.Sources:
        return cards_port.Sources(
            reading=self.log.reading,
            pin=self.log.pins,
            position=position,
            epoch=self._epoch,
            people=self.people,
            stations=self.stations,
            in_force=self.in_force,
            facility=self.facility,
            now_ms=_now_ms,
        )

    def lead(self) -> reading_port.Sources:
        return reading_port.Sources(
            reading=self.log.reading,
            pin=self.log.pins,
            position=position,
            epoch=self._epoch,
            people=self.people,
            stations=self.stations,
            lines=lines_of,
            photos_here=photos_here,
            asides=lambda connection: [reading_port.Aside(*row) for row in asides(connection)],
            strays=lambda connection, chains: [
                reading_port.StrayLines(*row) for row in stray_lines(connection, chains)
            ],
            heads=lambda connection, some: all_heads(connection) if some is None else heads_of(connection, some),
            tickets=tickets_of,
            policies=self.policies,
            facility=self.facility,
            shift_now=self.shift_now,
            changes=self.changes,
            policy=self.policy,
            now_ms=_now_ms,
        )

    def policy(self, connection: Connection) -> Mapping[str, Any] | None:
        """The policy in force, parsed."""
        found = self.in_force(connection, "policy")
        return self.log.pins(found.sha256) if found else None

    async def changes(self) -> AsyncIterator[int]:
        """Log positions as they are committed, the newest wins."""
        at = self.log.position
        yield at
        while True:
            now = await self.log.changed(at, TELL_AT_LEAST_S)
            at = now
            yield now

    def _epoch(self) -> Epoch:
        epoch = self.log.epoch()
        return Epoch(epoch.n, epoch.id)
