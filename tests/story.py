"""Invented chains for tests of folds and views: writers, and a runner that executes folds on a SQLite in memory.

The runner judges nothing: every entry given to it counts. Verdicts have their own tests.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import loupebook.inspections.fold
import loupebook.scopes.fold
from loupebook.inspections.tables import FOLDED as INSPECTION_TABLES
from loupebook.log.port import Counted
from loupebook.record.hashes import entry_hash, text_hash
from loupebook.record.lines import parse_line, write_line
from loupebook.scopes.tables import FOLDED as SCOPE_TABLES
from loupebook.scopes.tables import table_of
from sqlalchemy import Connection, Engine, create_engine, text
from sqlalchemy.pool import StaticPool
from sqlmodel import SQLModel

SHARED = Path(__file__).resolve().parents[1] / "shared"
CATALOGUE_TEXT = (SHARED / "catalogue" / "catalogue.json").read_text("utf-8")
POLICY_TEXT = (SHARED / "policy" / "policy.json").read_text("utf-8")
FREQUENCY_TEXT = (SHARED / "policy" / "frequency.json").read_text("utf-8")
CATALOGUE, POLICY = text_hash(CATALOGUE_TEXT), text_hash(POLICY_TEXT)
C14 = "udi:51022222233336/2741906"
"""The DI is the public sample of FDA's "UDI formats by FDA-accredited issuing agency" and of HL7's UDI page."""
SHIFT = "Harrow Lake/2025-11-25/day"
PINS: Mapping[str, Mapping[str, Any]] = {CATALOGUE: json.loads(CATALOGUE_TEXT), POLICY: json.loads(POLICY_TEXT)}


def route(point: str) -> tuple[list[str], list[str]]:
    """Parts and channels of a colonoscope at a point."""
    at = PINS[CATALOGUE]["kinds"]["colonoscope"]["points"][point]
    return at["parts"], at["channels"]


@dataclass
class Writer:
    """One chain that is written by hand; each call appends one entry and gives its hash."""

    name: str
    person: str = "ila.venn"
    at: datetime = datetime(2025, 11, 25, 10, 21, tzinfo=UTC)
    scope: str = C14
    ahead_ms: int = 0
    begun: str | None = None
    lines: list[bytes] = field(default_factory=list)
    hashes: list[str] = field(default_factory=list)

    @property
    def chain(self) -> str:
        return text_hash(self.name)

    def write(
        self,
        kind: str,
        body: Mapping[str, object],
        photos: Sequence[Mapping[str, object]] = (),
        inspection: bool = True,
        about: Mapping[str, object] | None = None,
    ) -> str:
        """Appends an entry about this writer's scope, a minute after the one before."""
        self.at += timedelta(minutes=1)
        named = {"scope": self.scope} | ({"inspection": self.begun} if inspection and self.begun else {})
        moment = self.at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        line = write_line(
            {
                "v": 1,
                "chain": self.chain,
                "seq": len(self.lines) + 1,
                "prev": self.hashes[-1] if self.hashes else self.chain,
                "kind": kind,
                "at": moment,
                "clock": {"ahead_ms": self.ahead_ms, "checked_at": moment},
                "person": self.person,
                "proof": {"how": "pin", "where": "offline"},
                "build": "test",
                "about": named if about is None else about,
                "body": body,
                "photos": list(photos),
            }
        )
        self.lines.append(line)
        self.hashes.append(entry_hash(line))
        return self.hashes[-1]

    def begin(self, point: str = "after_cleaning", continues: str | None = None, **more: object) -> str:
        self.begun = None
        body: dict[str, object] = {
            "point": point,
            "scope_kind": "colonoscope",
            "catalogue": CATALOGUE,
            "policy": POLICY,
            "shift": SHIFT,
            "identified": {"by": "camera", "text": "]d2...", "symbology": "]d2"},
        }
        self.begun = self.write("inspection.begun", body | ({"continues": continues} if continues else {}) | more)
        return self.begun

    def serial(self, agrees: str = "yes", where: str = "under the body") -> str:
        body = {"how": "code", "agrees": agrees, "where": where}
        return self.write("serial.photographed", body, [photo(f"serial {self.name} {len(self.lines)}", "serial")])

    def mark(self, *parts: str, mark: str = "nothing_found", **more: object) -> str:
        return self.write("part.marked", {"mark": mark, "parts": list(parts), **more})

    def find(self, part: str, finding: str, photos: Sequence[Mapping[str, object]] = (), **more: object) -> str:
        body = {"part": part, "finding": finding, "grade": "moderate", "since": "new", **more}
        return self.write("finding.recorded", body, photos)

    def conclude(self, first: str = "nothing", goes: str = "on", **more: object) -> str:
        counts = dict.fromkeys(("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here"), 0)
        body: dict[str, object] = {
            "first": first,
            "goes": goes,
            "suggested_first": first,
            "suggested_goes": goes,
            "rows": [],
            "counts": counts,
        }
        return self.write("inspection.concluded", body | more)

    def withdraw(self, entry: str) -> str:
        return self.write("entry.withdrawn", {"entry": entry})

    def correct(self, entry: str, body: Mapping[str, object], builds_on: str | None = None) -> str:
        return self.write("entry.corrected", {"entry": entry, "builds_on": builds_on or entry, "body": body})


def photo(what: str, shows: str = "part") -> dict[str, object]:
    """A photo named by an invented hash."""
    return {
        "sha256": text_hash(what),
        "bytes": 600_000,
        "type": "image/jpeg",
        "width": 2560,
        "height": 1920,
        "shows": shows,
    }


class Tables:
    """All folded tables in one SQLite in memory, and the folds run on them."""

    FOLDS = {
        kind: [
            *loupebook.scopes.fold.FOLDS.get(kind, []),
            *loupebook.inspections.fold.FOLDS.get(kind, []),
        ]
        for kind in {*loupebook.scopes.fold.FOLDS, *loupebook.inspections.fold.FOLDS}
    }
    MODELS: tuple[type[SQLModel], ...] = (*SCOPE_TABLES, *INSPECTION_TABLES)

    def __init__(self) -> None:
        self.engine: Engine = create_engine(
            "sqlite://", connect_args={"check_same_thread": False}, poolclass=StaticPool
        )
        SQLModel.metadata.create_all(self.engine, [table_of(model) for model in self.MODELS])
        self.position = 0

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        with self.engine.connect() as connection:
            yield connection

    def take(self, lines: Sequence[bytes]) -> None:
        """Folds these lines in this order, in one transaction."""
        with self.engine.begin() as connection:
            for line in lines:
                self.position += 1
                entry, body = parse_line(line)
                counted = Counted(
                    self.position,
                    self.position,
                    entry_hash(line),
                    entry,
                    body,
                    "2025-11-25T12:00:00.000Z",
                    PINS.get,
                )
                for fold in self.FOLDS.get(entry.kind, []):
                    for change in fold(counted):
                        connection.execute(change.statement.clause, dict(change.values))

    def rows(self) -> dict[str, list[tuple[object, ...]]]:
        """Every row of every table, sorted; positions left out, they tell the order of arrival."""
        found = {}
        with self.engine.connect() as connection:
            for model in self.MODELS:
                names = [column.name for column in table_of(model).c if column.name != "changed"]
                rows = connection.execute(text(f"SELECT {', '.join(names)} FROM {model.__tablename__}"))
                found[str(model.__tablename__)] = sorted((tuple(row) for row in rows), key=repr)
        return found


def taken(*writers: Writer) -> Tables:
    """The tables after these chains, one after the other."""
    tables = Tables()
    for writer in writers:
        tables.take(writer.lines)
    return tables
