"""What a lead reads, at ten thousand, a hundred thousand and a million entries: the board of a shift, the life of one
scope, and the finding of inspections, over HTTP against the bare SQL of the same rows (G11), and how the cost grows
with the log (G12). A history is a page of the newest hundred things of a scope, of which there are three in the
smallest log; `newest` asks for three at every size. At each of these sizes too: what tablets send over HTTP against the
same writes without (G9), and the check of the whole export against a bare hash loop (G18).

    python tests/bench/reads.py [--rounds N] [--sizes 10000,100000,1000000] [--keys N]

One record grows: 60 tablets, 120 scopes, 300 entries a shift of ten inspections, two shifts a day. The entries go
through the log's own intake with signed heads; photos are named and not sent. The server is a process of its own. The
bare SQL is what the server itself asks for that answer, noted once, and asked again by Python's driver on a connection
of its own. Before anything is timed, the board of each chosen shift and the find must show what was written. The export
is made by the command that a stranger's copy comes from, and checked by the program that lies in it, signatures apart.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import shutil
import sqlite3
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import quote

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests"), str(HERE)]

from _measure import Goal, Rounds, Run, percentile, say  # noqa: E402
from _tablets import bodies  # noqa: E402
from door_world import serving  # noqa: E402
from live_server import LiveServer  # noqa: E402
from log import client  # noqa: E402
from loupebook.app import create_app  # noqa: E402
from loupebook.door.stations import Enrolled, Place, enrol, first_code, invite  # noqa: E402
from loupebook.door.who import PersonHere  # noqa: E402
from loupebook.folder import open_folder  # noqa: E402
from loupebook.installation import Installation  # noqa: E402
from loupebook.keeping import keys_of  # noqa: E402
from loupebook.log.backup import DATABASE  # noqa: E402
from loupebook.log.export import export  # noqa: E402
from loupebook.record import verify  # noqa: E402
from loupebook.record.heads import base64url, public_der  # noqa: E402
from loupebook.record.kinds import Point  # noqa: E402
from loupebook.settings import Settings  # noqa: E402
from sink_tablet import SinkTablet  # noqa: E402
from sqlalchemy import event  # noqa: E402
from story import photo, route  # noqa: E402
from tablet import Tablet  # noqa: E402

PLACE = "Decontamination"
TABLETS, SCOPES, SHIFT_ENTRIES, LOOKS_A_SHIFT = 60, 120, 300, 10
FINDING_EVERY = 3
BEGAN = datetime(2016, 1, 1, 6, tzinfo=UTC)
SENT_AFTER = 30
"""Shifts after which every tablet sends: five inspections each, 150 entries, within what a batch may hold."""
SEED = 11
SLOWEST_MS, MORE_MS, GROWTH = 10, 3, 1.2
BATCH, SENT_SHIFTS = 20, 8
"""Entries a request, and shifts of them, that are sent to a log of each size by either way."""
WITHOUT_HTTP, HASH_LOOPS = 0.6, 12
PIECES = ("board", "history", "newest", "find")


@dataclass(frozen=True)
class Shift:
    """What was written of one shift."""

    name: str
    scopes: tuple[str, ...]
    day: str


class Quiet(Installation):
    """An installation that does nothing by itself."""

    def catch_up(self) -> None:
        return None

    async def follow(self, after: int) -> None:
        return None


@dataclass
class Record:
    """The growing record, its tablets, and the desk that reads it."""

    folder: Path
    tablets: list[Tablet] = field(default_factory=list)
    shifts: list[Shift] = field(default_factory=list)
    sent: dict[str, int] = field(default_factory=dict)
    stations: dict[str, Enrolled] = field(default_factory=dict)
    desk: SinkTablet | None = None
    entries: int = 0

    @contextmanager
    def open(self) -> Iterator[tuple[Quiet, str]]:
        """In this process: to write, and to note what is asked of the database."""
        data = self.folder / "record"
        here = Quiet(data, open_folder(data, "own", "test").id, "test")
        with serving(create_app(Settings(data=data, dist=self.folder / "none"), here)) as address:
            yield here, address

    def begin(self) -> None:
        """People, stations and scopes."""
        with self.open() as (here, address):
            self.desk = SinkTablet(address, "Desk")
            code = first_code(here.door)
            assert code is not None
            person = self.desk.first(code, PLACE)
            now = here.door.now_ms()
            lead = PersonHere(person, ("lead",), "bench", "bench", now, now, now, "")
            points: tuple[Point, ...] = ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance")
            for number in range(TABLETS):
                tablet = Tablet(f"Sink {number}", person=person)
                joining, _ = invite(here.door, lead, Place(tablet.name, PLACE, "both", points))
                self.stations[tablet.name] = enrol(here.door, joining, base64url(public_der(tablet.key)))
                self.tablets.append(tablet)
            for number in range(SCOPES):
                described = {
                    "scope_kind": "colonoscope", "serial": serial_of(number), "di": "51022222233336",
                    "tag": f"T-{number:03d}", "codes": [],
                }  # fmt: skip
                told = self.desk.command("scope.described", described, {"scope": key_of(number)})
                assert told.status_code < 300, told.text

    def grow(self, entries: int) -> None:
        """Whole shifts until the log has so many entries of tablets; prints how fast they were taken in."""
        begun, before = time.perf_counter(), self.entries
        with self.open() as (here, _):
            while sum(len(tablet.lines) for tablet in self.tablets) < entries:
                self.write_shift()
                if len(self.shifts) % SENT_AFTER == 0:
                    self._send_all(here)
            self._send_all(here)
        took = time.perf_counter() - begun
        say(entries=self.entries, a_second=round((self.entries - before) / took))

    def write_shift(self) -> None:
        number = len(self.shifts)
        begins = BEGAN + timedelta(hours=12 * number)
        name = f"{PLACE}/{begins.date()}/{'day' if begins.hour < 12 else 'evening'}"
        scopes = []
        for look in range(LOOKS_A_SHIFT):
            tablet = self.tablets[(number * LOOKS_A_SHIFT + look) % TABLETS]
            which = (number * LOOKS_A_SHIFT + look) % SCOPES
            tablet.at = begins + timedelta(minutes=look * 30)
            tablet.scope = key_of(which)
            self._inspect(tablet, name, finding=look % FINDING_EVERY == 0)
            scopes.append(tablet.scope)
        self.shifts.append(Shift(name, tuple(scopes), str(begins.date())))

    def _inspect(self, tablet: Tablet, shift: str, finding: bool) -> None:
        """Thirty entries: the serial photo, what was found, every part, the decision."""
        before = len(tablet.lines)
        tablet.begin("before_use", shift=shift)
        tablet.serial()
        if finding:
            tablet.find("lens", "scratch", [photo(f"{tablet.name} {before}", "finding")], since="same")
        for part in route("before_use")[0]:
            tablet.mark(part)
        while len(tablet.lines) < before + SHIFT_ENTRIES // LOOKS_A_SHIFT - 1:
            tablet.mark("valves")
        tablet.conclude("clean", "on")

    def _send_all(self, here: Quiet) -> None:
        for tablet in self.tablets:
            if len(tablet.lines) > self.sent.get(tablet.chain, 0):
                self._send(here, tablet)

    def _send(self, here: Quiet, tablet: Tablet) -> None:
        first = self.sent.get(tablet.chain, 0) + 1
        station = self.stations[tablet.name].station
        answer = here.log.intake(tablet.chain, first, tablet.batch(first), station)
        wrong = [each for each in answer.receipts if each.verdict != "counted"]
        assert not wrong, wrong[0]
        self.entries += len(answer.receipts)
        self.sent[tablet.chain] = first + len(answer.receipts) - 1


def serial_of(number: int) -> str:
    return f"77{number:05d}"


def key_of(number: int) -> str:
    return f"udi:51022222233336/{serial_of(number)}"


@dataclass(frozen=True)
class Asked:
    """One address, how many rows its answer must have, and the statements the server asks for it."""

    path: str
    rows: Callable[[Any], int]
    wanted: int | None
    bare: list[tuple[str, Any]] = field(default_factory=list)


def chosen(record: Record, keys: int) -> dict[str, list[Asked]]:
    """Shifts, scopes and searches, drawn by a seed."""
    draw = random.Random(SEED)
    shifts = [draw.choice(record.shifts) for _ in range(keys)]
    found = -(-LOOKS_A_SHIFT // FINDING_EVERY)
    return {
        "board": [
            Asked(f"/lead/shift?name={quote(each.name)}", lambda told: len(told["inspections"]), LOOKS_A_SHIFT)
            for each in shifts
        ],
        "history": [
            Asked(f"/lead/history?key={quote(draw.choice(each.scopes))}", lambda told: len(told["rows"]), None)
            for each in shifts
        ],
        "newest": [
            Asked(f"/lead/history?key={quote(each.scopes[0])}&most=3", lambda told: len(told["rows"]), None)
            for each in shifts
        ],
        "find": [
            Asked(
                f"/lead/find?finding=scratch&since={each.day}&until={each.day}",
                lambda told: len(told["looks"]),
                found * sum(other.day == each.day for other in record.shifts),
            )
            for each in shifts
        ],
    }  # fmt: skip


def note(record: Record, some: dict[str, list[Asked]]) -> None:
    """Asks each once in this process, holds its answer against what was written, and notes the statements."""
    assert record.desk is not None
    with record.open() as (here, address):
        record.desk.browser.http.base_url = address
        record.desk.browser.address = address
        for each in (each for asked in some.values() for each in asked):
            statements: list[tuple[str, Any]] = []

            def heard(_c: object, _d: object, sql: str, given: Any, *_: object) -> None:
                statements.append((sql, given))  # noqa: B023

            event.listen(here.engine, "before_cursor_execute", heard)
            try:
                answer = record.desk.browser.get(each.path)
            finally:
                event.remove(here.engine, "before_cursor_execute", heard)
            assert answer.status_code == 200, (each.path, answer.text)
            rows = each.rows(answer.json())
            assert rows > 0 and each.wanted in (None, rows), (each.path, rows, each.wanted)
            each.bare.extend(
                (sql, given) for sql, given in statements if sql.lstrip()[:6].upper() in ("SELECT", "WITH R")
            )


def timed_ms(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return (time.perf_counter() - begun) * 1000


def bare_of(base: sqlite3.Connection, asked: Asked) -> Callable[[], None]:
    def run() -> None:
        for sql, given in asked.bare:
            base.execute(sql, given).fetchall()

    return run


def over_http(line: HTTPConnection, headers: dict[str, str], asked: Asked) -> Callable[[], None]:
    """One request on a connection that stays open, by a client that costs next to nothing."""

    def run() -> None:
        line.request("GET", asked.path, headers=headers)  # opens it anew where it was closed
        answer = line.getresponse()
        told = answer.read()
        assert answer.status == 200, told

    return run


@dataclass
class Size:
    """The metrics of one size of the log."""

    entries: int
    slowest: dict[str, Rounds]
    more: dict[str, Rounds]
    writer: Rounds
    verifier: Rounds


def size_of(run: Run, entries: int) -> Size:
    of = f"{entries:,} entries"
    return Size(
        entries,
        {
            piece: run.rounds(f"G11 p99 {piece} {entries}", f"{piece}, {of}, p99", Goal("<=", SLOWEST_MS), " ms")
            for piece in PIECES
        },
        {
            piece: run.rounds(
                f"G11 {piece} {entries}", f"{piece} over HTTP above its bare SQL, {of}, p50", Goal("<=", MORE_MS), " ms"
            )
            for piece in PIECES
        },
        run.rounds(
            f"G9 {entries}", f"entries over HTTP into a log of {of} / the same without HTTP", Goal(">=", WITHOUT_HTTP)
        ),
        run.rounds(
            f"G18 {entries}", f"verifier, all rules but signatures, {of} / a bare hash loop", Goal("<=", HASH_LOOPS)
        ),
    )  # fmt: skip


def measure(record: Record, some: dict[str, list[Asked]], size: Size, rounds: int) -> dict[str, list[float]]:
    """The median of each piece over HTTP, a round each, ms."""
    assert record.desk is not None
    medians: dict[str, list[float]] = {piece: [] for piece in PIECES}
    server = LiveServer(record.folder / "record").start()
    base = sqlite3.connect(f"file:{record.folder / 'record' / DATABASE}?mode=ro", uri=True)
    try:
        line = HTTPConnection("127.0.0.1", int(server.url.rsplit(":", 1)[1]))
        kept = record.desk.browser.http.cookies
        headers = record.desk.browser.headers() | {"Cookie": "; ".join(f"{name}={kept[name]}" for name in kept)}
        for asked in (each for piece in PIECES for each in some[piece]):
            over_http(line, headers, asked)()
        for _ in range(rounds):
            for piece in PIECES:
                line.close()  # while the bare statements ran, the server may have closed it
                over_http(line, headers, some[piece][0])()
                http = [timed_ms(over_http(line, headers, each)) for _ in range(5) for each in some[piece]]
                bare = [timed_ms(bare_of(base, each)) for _ in range(5) for each in some[piece]]
                middle, below = statistics.median(http), statistics.median(bare)
                medians[piece].append(middle)
                size.slowest[piece].round(percentile(http, 0.99), below, p50_ms=round(middle, 2), runs=len(http))
                size.more[piece].round(
                    middle - below, below, p50_ms=round(middle, 2), bare_ms=round(below, 2),
                    statements=len(some[piece][0].bare),
                )  # fmt: skip
    finally:
        base.close()
        server.close()
    return medians


def measure_writer(record: Record, size: Size, rounds: int) -> None:
    """What sixty tablets send at once into the log as it is, without HTTP and over it, by turns."""
    for _ in range(rounds):
        some, total = unsent(record)
        with record.open() as (here, _):
            begun = time.perf_counter()
            with ThreadPoolExecutor(TABLETS) as threads:
                for done in [threads.submit(_intake, here, record, each, batches) for each, batches in some]:
                    done.result()
            bare = time.perf_counter() - begun
        again, total_again = unsent(record)
        server = LiveServer(record.folder / "record").start()
        try:
            told = client(server.url, [_job(record, each, batches) for each, batches in again], record.folder)
        finally:
            server.close()
        size.writer.round(
            (total_again / told["seconds"]) / (total / bare), bare, without_http_per_s=round(total / bare),
            over_http_per_s=round(total_again / told["seconds"]), p50_ms=told["p50_ms"], p99_ms=told["p99_ms"],
        )  # fmt: skip


def unsent(record: Record) -> tuple[list[tuple[Tablet, list[tuple[int, bytes]]]], int]:
    """What is written in some more shifts, as batches, and how many entries that is; it counts as sent."""
    for _ in range(SENT_SHIFTS):
        record.write_shift()
    some = [
        (each, bodies(each, record.sent.get(each.chain, 0) + 1, BATCH))
        for each in record.tablets
        if len(each.lines) > record.sent.get(each.chain, 0)
    ]
    total = sum(len(each.lines) - record.sent.get(each.chain, 0) for each, _ in some)
    record.sent |= {each.chain: len(each.lines) for each, _ in some}
    record.entries += total
    return some, total


def _intake(here: Quiet, record: Record, tablet: Tablet, batches: Sequence[tuple[int, bytes]]) -> None:
    for first, body in batches:
        answer = here.log.intake(tablet.chain, first, body, record.stations[tablet.name].station)
        assert {each.verdict for each in answer.receipts} == {"counted"}, answer


def _job(record: Record, tablet: Tablet, batches: Sequence[tuple[int, bytes]]) -> dict[str, Any]:
    path = f"/chains/{tablet.chain}/entries?from="
    return {
        "headers": {"authorization": f"Station {record.stations[tablet.name].token}", "x-loupebook": "1"},
        "wanted": 200,
        "batches": [{"path": f"{path}{first}", "body": body.decode()} for first, body in batches],
    }


def measure_verifier(record: Record, size: Size, rounds: int) -> None:
    """The check of the whole export. Signatures are taken as good: how many there are is a matter of batches."""
    folder = record.folder / "export"
    signed, verify.head_signed = verify.head_signed, lambda *_: True
    try:
        with record.open() as (here, _), here.log.reading() as connection:
            export(connection, folder, keys_of(connection), lambda _: "not_received")
        files = sorted((folder / "entries").iterdir())
        for _ in range(rounds):
            loop = timed_ms(lambda: hash_loop(files)) / 1000
            begun = time.perf_counter()
            found = verify.check(folder)
            whole = time.perf_counter() - begun
            assert found.faults == [] and found.entries >= record.entries, found.line()
            size.verifier.round(
                whole / loop, loop, loop_s=round(loop, 3), verifier_s=round(whole, 3), entries=found.entries,
                seconds_per_100k=round(whole / found.entries * 100_000, 2),
            )  # fmt: skip
    finally:
        verify.head_signed = signed
        shutil.rmtree(folder, ignore_errors=True)


def hash_loop(files: Sequence[Path]) -> None:
    """Every line read and hashed, and nothing else."""
    for file in files:
        for line in file.read_bytes().split(b"\n")[:-1]:
            hashlib.sha256(b"loupebook/entry/1\n" + line).hexdigest()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--sizes", default="10000,100000,1000000")
    parser.add_argument("--keys", type=int, default=60, help="of each; asked five times a round")
    given = parser.parse_args()
    sizes: Sequence[int] = [int(each) for each in given.sizes.split(",")]
    with Run("reads") as run:
        record = Record(run.folder)
        record.begin()
        told: list[dict[str, list[float]]] = []
        for entries in sizes:
            size = size_of(run, entries)
            record.grow(entries)
            some = chosen(record, given.keys)
            note(record, some)
            told.append(measure(record, some, size, given.rounds))
            measure_writer(record, size, given.rounds)
            measure_verifier(record, size, given.rounds)
        for piece in PIECES:
            grows = run.rounds(
                f"G12 {piece}", f"{piece}: {sizes[-1]:,} entries against {sizes[0]:,}, p50", Goal("<=", GROWTH)
            )
            for least, most in zip(told[0][piece], told[-1][piece], strict=True):
                grows.round(most / least, least, least_ms=round(least, 2), most_ms=round(most, 2))
        assert record.desk is not None
        record.desk.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
