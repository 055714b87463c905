"""A tablet without a browser: a chain with a real key, its batches, and a log to send them to."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import loupebook.inspections.fold
import loupebook.scopes.fold
import loupebook.tools.fold
import msgspec
from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
from loupebook.inspections.tables import FOLDED as INSPECTION_TABLES
from loupebook.log.backup import DATABASE
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine
from loupebook.log.log import Log
from loupebook.log.port import Door, joined
from loupebook.record.hashes import chain_id
from loupebook.record.heads import make_key, public_der, sign_head
from loupebook.record.kinds import About, Proof
from loupebook.scopes.tables import FOLDED as SCOPE_TABLES
from loupebook.tools.tables import FOLDED as TOOL_TABLES
from sqlalchemy import Connection, Engine
from sqlmodel import SQLModel
from story import CATALOGUE_TEXT, POLICY_TEXT, Writer

FOLDS = joined(loupebook.scopes.fold.FOLDS, loupebook.inspections.fold.FOLDS, loupebook.tools.fold.FOLDS)
TABLES = [table_of(model) for model in (*SCOPE_TABLES, *INSPECTION_TABLES, *TOOL_TABLES)]
TEXTS = (CATALOGUE_TEXT, POLICY_TEXT)
LEAD = "moira.keld"
BY_PIN = Proof("pin", "online")


@dataclass
class Tablet(Writer):
    """A writer with a key of its own, so that it can sign heads."""

    key: EllipticCurvePrivateKey = field(default_factory=make_key)

    @property
    def chain(self) -> str:
        return chain_id(public_der(self.key))

    def batch(self, first: int = 1, last: int | None = None) -> bytes:
        """The lines from seq `first` to `last` and their signed head."""
        end = len(self.lines) if last is None else last
        return signed(self.key, self.chain, end, self.hashes[end - 1], self.lines[first - 1 : end])

    def inspection(self, findings: int = 1) -> str:
        """A small whole inspection; the hash of its beginning."""
        begun = self.begin("before_use")
        self.serial()
        for number in range(findings):
            self.find("lens", "scratch", since="same", note=f"number {number}")
        for part in ("distal_tip", "lens", "bending_cover", "control_body", "valves"):
            self.mark(part)
        self.conclude()
        return begun


def signed(key: EllipticCurvePrivateKey, chain: str, seq: int, hash: str, lines: Sequence[bytes]) -> bytes:
    """A body: the lines, then the head."""
    head = msgspec.json.encode({"head": {"seq": seq, "hash": hash, "sig": sign_head(key, chain, seq, hash)}})
    return b"\n".join([*lines, head]) + b"\n"


@dataclass
class StationRow:
    station: str
    revoked: bool
    spki: bytes


@dataclass
class PersonRow:
    roles: Collection[str]
    active: bool


class PlainDoor:
    """Stations and people in memory."""

    def __init__(self) -> None:
        self.stations: dict[str, StationRow] = {}
        self.people: dict[str, PersonRow] = {
            name: PersonRow(["technician"], True) for name in ("ila.venn", "rin.oake", "tobin.sarr")
        } | {LEAD: PersonRow(["lead"], True)}
        self.may = {"technician", "lead"}

    def enrol(self, tablet: Tablet, station: str = "") -> Tablet:
        self.stations[tablet.chain] = StationRow(station or tablet.name, False, public_der(tablet.key))
        return tablet

    def door(self) -> Door:
        def station_state(_: Connection, chain: str) -> StationRow | None:
            return self.stations.get(chain)

        def person_state(_: Connection, person: str) -> PersonRow | None:
            return self.people.get(person)

        return Door(station_state, person_state, lambda _, roles: bool(self.may & set(roles)))


class World:
    """A log in a folder, its door, and what a lead does there."""

    def __init__(self, folder: Path, folds: Any = FOLDS, texts: Sequence[str] = TEXTS) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.door = PlainDoor()
        self.engine: Engine = open_engine(folder / DATABASE)
        SQLModel.metadata.create_all(self.engine, TABLES)
        self.log = Log(self.engine, folds, self.door.door(), folder, texts=texts, build="test")

    def tablet(self, name: str = "sink 1", **more: Any) -> Tablet:
        return self.door.enrol(Tablet(name, **more))

    def send(self, tablet: Tablet, first: int = 1, last: int | None = None) -> Any:
        """One batch, and its answer as JSON has it."""
        station = self.door.stations[tablet.chain].station
        result = self.log.intake(tablet.chain, first, tablet.batch(first, last), station)
        return msgspec.to_builtins(result)

    def said(self, tablet: Tablet, first: int = 1, last: int | None = None) -> list[str]:
        """What became of each line of a batch: `counted`, or its reason."""
        return [each.get("reason", each["verdict"]) for each in self.send(tablet, first, last)["receipts"]]

    def settle(self, entry: str, outcome: str) -> None:
        body = {"entry": entry, "outcome": outcome, "reason": "seen by the lead"}
        self.log.append_server("aside.settled", About(), body, LEAD, BY_PIN)

    def rows(self) -> dict[str, list[tuple[object, ...]]]:
        """All rows of the features' tables, sorted."""
        return rows_of(self.engine)

    def asides(self) -> dict[str, str]:
        """Hash -> reason of everything put aside and not settled."""
        from loupebook.log.views import asides

        with self.log.reading() as connection:
            return {each.hash: each.reason for each in asides(connection)}

    def close(self) -> None:
        self.log.close()
        self.engine.dispose()


def rows_of(engine: Engine) -> dict[str, list[tuple[object, ...]]]:
    """Every row of the features' tables."""
    with engine.connect() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(table.select())), key=repr) for table in TABLES
        }
