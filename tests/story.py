"""Invented chains for tests of folds and views: writers, and a runner that executes folds on a SQLite in memory.

The runner judges nothing: every entry given to it counts. Verdicts have their own tests.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import AsyncIterator, Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, ClassVar

import loupebook.inspections.fold
import loupebook.repairs.fold
import loupebook.scopes.fold
import loupebook.shifts.fold
import loupebook.tools.fold
from loupebook.cards.port import InForce
from loupebook.cards.port import Sources as CardSources
from loupebook.inspections.tables import FOLDED as INSPECTION_TABLES
from loupebook.log.declared import table_of
from loupebook.log.port import Counted, Target, joined
from loupebook.log.statements import Pending, Statements
from loupebook.reading.port import Sources as LeadSources
from loupebook.record.hashes import entry_hash, text_hash
from loupebook.record.kinds import EntryCorrected, EntryWithdrawn
from loupebook.record.lines import parse_body, parse_line, write_line
from loupebook.repairs.tables import FOLDED as REPAIR_TABLES
from loupebook.scopes.tables import FOLDED as SCOPE_TABLES
from loupebook.scopes.tables.known import Epoch, Facility, Person, Station
from loupebook.scopes.tables.values import ms_of
from loupebook.shifts.tables import FOLDED as SHIFT_TABLES
from loupebook.tools.tables import FOLDED as TOOL_TABLES
from msgspec import Struct
from sqlalchemy import Connection, Engine, create_engine, event, text
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
    proof: Mapping[str, object] = field(default_factory=lambda: {"how": "pin", "where": "offline"})
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
        basis: str | None = None,
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
                "proof": dict(self.proof),
                "build": "test",
                "about": named if about is None else about,
                **({"basis": basis} if basis else {}),
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

    def read_again(self, photo: str, begun: str, code: str = "0151022222233336212741960") -> str:
        """What the server writes of a serial photo that is not of the scope."""
        body = {"photo": photo, "begun": begun, "code": code, "agrees": "no"}
        return self.write("serial.read", body, about={"scope": self.scope})

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

    FOLDS: ClassVar = joined(
        loupebook.scopes.fold.FOLDS,
        loupebook.inspections.fold.FOLDS,
        loupebook.tools.fold.FOLDS,
        loupebook.repairs.fold.FOLDS,
        loupebook.shifts.fold.FOLDS,
    )
    STATEMENTS = Statements(create_engine("sqlite://").dialect)
    MODELS: tuple[type[SQLModel], ...] = (
        *SCOPE_TABLES,
        *INSPECTION_TABLES,
        *TOOL_TABLES,
        *REPAIR_TABLES,
        *SHIFT_TABLES,
    )

    def __init__(self) -> None:
        self.engine: Engine = create_engine(
            "sqlite://", connect_args={"check_same_thread": False}, poolclass=StaticPool
        )
        SQLModel.metadata.create_all(self.engine, [table_of(model) for model in self.MODELS])
        self.position = 0
        self.kinds: dict[str, str] = {}

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        with self.engine.connect() as connection:
            yield connection

    def take(self, lines: Sequence[bytes]) -> None:
        """Folds these lines in this order, in one transaction, grouped as the log's writer groups them."""
        with self.engine.begin() as connection:
            pending = Pending(self.STATEMENTS, connection.connection.cursor())
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
                    self._target(body),
                )
                self.kinds[counted.hash] = entry.kind
                for fold in self.FOLDS.get(entry.kind, ()):
                    pending.extend(list(fold(counted)))
            pending.flush()

    def _target(self, body: Struct) -> Target | None:
        """What the log hands to a withdrawal or a correction."""
        if isinstance(body, EntryCorrected):
            kind = self.kinds[body.entry]
            return Target(kind, parse_body(kind, body.body))
        return Target(self.kinds[body.entry], None) if isinstance(body, EntryWithdrawn) else None

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


PEOPLE = (
    Person("ila.venn", "Ila Venn", "IV", ("technician",)),
    Person("rin.oake", "Rin Oake", "RO", ("technician",)),
    Person("moira.keld", "Moira Keld", "MK", ("lead",)),
)
FACILITY = Facility(
    "Harrow Lake Day Hospital", "America/New_York", (("day", "06:30", "15:00"), ("evening", "15:00", "22:00"))
)
NOON_MS = ms_of("2025-11-25T12:00:00.000Z")
IN_FORCE = {
    "policy": InForce(POLICY, POLICY_TEXT, 1),
    "catalogue": InForce(CATALOGUE, CATALOGUE_TEXT, 1),
    "frequency": InForce(text_hash(FREQUENCY_TEXT), FREQUENCY_TEXT, 1),
}


def stations_of(*writers: Writer, heard_at: str | None = "2025-11-25T12:00:00.000Z") -> list[Station]:
    """A station for each chain, all at one place."""
    return [Station(w.name.replace(" ", "_"), w.name, "Harrow Lake", "both", (w.chain,), heard_at) for w in writers]


def lead_sources(
    tables: Tables,
    stations: Sequence[Station] = (),
    here: Sequence[str] = (),
    tickets: Mapping[str, tuple[str, str]] | None = None,
) -> LeadSources:
    """What reading is handed, with nothing behind it but these tables. `tickets`: what the door issued."""
    issued = tickets or {}
    return LeadSources(
        reading=tables.reading,
        pin=PINS.get,
        position=lambda _: tables.position,
        epoch=lambda: Epoch(1, "first"),
        people=lambda _: PEOPLE,
        stations=lambda _: stations,
        lines=lambda _, wanted: {},
        photos_here=lambda _, wanted: {each for each in wanted if each in here},
        asides=lambda _: (),
        strays=lambda _, __: (),
        heads=lambda _, wanted: {},
        tickets=lambda _, wanted: {each: issued[each] for each in wanted if each in issued},
        policies=lambda _: (),
        facility=lambda: FACILITY,
        shift_now=lambda place: f"{place}/2025-11-25/day",
        changes=_no_changes,
        policy=lambda _: PINS[POLICY],
        now_ms=lambda: NOON_MS,
    )


async def _no_changes() -> AsyncIterator[int]:
    return
    yield 0


def card_sources(tables: Tables, stations: Sequence[Station] = (), **more: Any) -> CardSources:
    """The same for cards; the clock stands at noon of the story's day."""
    given: dict[str, Any] = {
        "reading": tables.reading,
        "pin": PINS.get,
        "position": lambda _: tables.position,
        "epoch": lambda: Epoch(1, "first"),
        "people": lambda _: PEOPLE,
        "stations": lambda _: stations,
        "in_force": lambda _, name: IN_FORCE[name],
        "facility": lambda: FACILITY,
        "now_ms": lambda: NOON_MS,
    }
    return CardSources(**(given | more))


def plans(engine: Engine, act: Callable[[], object]) -> list[str]:
    """How SQLite would run each SELECT that `act` runs on this engine."""
    seen: list[tuple[str, Any]] = []

    def note(_c: object, _u: object, statement: str, parameters: Any, _x: object, _m: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            seen.append((statement, parameters))

    event.listen(engine, "before_cursor_execute", note)
    try:
        act()
    finally:
        event.remove(engine, "before_cursor_execute", note)
    with engine.connect() as connection:
        return [
            str(row[3])
            for statement, parameters in seen
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
        ]


def steps(engine: Engine, act: Callable[[], object]) -> int:
    """How many steps SQLite's machine takes for `act`: a count of work that no load of the computer changes."""
    count = 0

    def one() -> int:
        nonlocal count
        count += 1
        return 0

    with engine.connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        driver.set_progress_handler(one, 1)
        try:
            act()
        finally:
            driver.set_progress_handler(None, 0)
    return count
