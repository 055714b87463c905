"""What each GET asks of the database: how many questions, by which plans, over how many rows. Counted, never timed.

Two servers stand in the same present: one shift with its inspections, a hold, an entry put aside, a photo. One has
a few earlier shifts behind it, the other ten times as many. What is answered is the same, so what it costs has to
be the same too. The growth allowed is a fifth (common practice, no source): trees get deeper.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import httpx
import pytest
from door_world import serving
from loupebook.app import create_app
from loupebook.door.matrix import MATRIX
from loupebook.door.stations import first_code
from loupebook.folder import open_folder
from loupebook.installation import Installation
from loupebook.settings import Settings
from loupebook.vault import put, sha256_name
from sink_tablet import SinkTablet, picture
from sqlalchemy import event
from story import C14, photo, route

pytestmark = [pytest.mark.sink, pytest.mark.shift]

GROWTH = 1.2
PLACE = "Decontamination"
SHIFT = f"{PLACE}/2026-03-02/day"
FEW, MANY = 16, 160
"""Few: more than the twelve looks of a scope that a card carries. Many: ten times as many."""


class Quiet(Installation):
    """An installation that does nothing by itself: what is counted is what was asked for."""

    def catch_up(self) -> None:
        return None

    async def follow(self, after: int) -> None:
        return None


class House:
    """A server with so many earlier inspections of the scope, and the present."""

    def __init__(self, folder: Path, earlier: int) -> None:
        self._running = ExitStack()
        data = folder / "record"
        self.here = Quiet(data, open_folder(data, "own", "test").id, "test")
        app = create_app(Settings(data=data, dist=folder / "none"), self.here)
        self.desk = SinkTablet(self._running.enter_context(serving(app)), "Desk")
        code = first_code(self.here.door)
        assert code is not None
        self.desk.chain.person = self.desk.first(code, PLACE)
        self._past(earlier)
        self.root, self.picture = self._present()

    def _send(self) -> None:
        chain = self.desk.chain
        while self.desk.sent < len(chain.lines):
            last = min(self.desk.sent + 100, len(chain.lines))
            body = chain.batch(self.desk.sent + 1, last)
            self.here.log.intake(chain.chain, self.desk.sent + 1, body, self.desk.browser.station)
            self.desk.sent = last

    def _past(self, earlier: int) -> None:
        """Every inspection with a finding, a hold that is decided, and an entry that was put aside and settled."""
        chain = self.desk.chain
        chain.at = datetime(2025, 1, 1, tzinfo=UTC)
        chain.write("scope.registered", {"scope_kind": "colonoscope", "serial": "2741906", "tag": "C-14"})
        for number in range(earlier):
            chain.at = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=number)
            begun = self._inspect(f"{PLACE}/{chain.at.date()}/day", number)
            held = chain.write("hold.placed", {"reason": "doubt", "tag_on": True})
            aside = chain.mark("lens")  # the inspection is closed
            self._send()
            decision = {"hold": held, "goes": "on", "first": "nothing", "reason": "seen"}
            self._command("hold.decided", decision, {"scope": C14})
            self._command("aside.settled", {"entry": aside, "outcome": "leave_out", "reason": "seen"})
            self._close(f"{PLACE}/{chain.at.date()}/day", begun)

    def _present(self) -> tuple[str, str]:
        chain, data = self.desk.chain, picture("C-14")
        chain.at = datetime(2026, 3, 2, 8, tzinfo=UTC)
        root = self._inspect(SHIFT, MANY)
        chain.mark("lens")  # put aside: the inspection is closed
        named = photo("now", "other") | {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        self.hold = chain.write("hold.placed", {"reason": "doubt", "tag_on": True}, [named], inspection=False)
        self.repair = chain.write("repair.asked", {"words": "it lags", "inspections": [root]}, inspection=False)
        self._send()
        sha256 = sha256_name(str(named["sha256"]))
        put(self.here.vault, [data], sha256, len(data))
        self.here.stored(sha256, len(data))
        self.here.looking.offer(sha256)
        assert self.here.looking.settled(60)
        return root, str(sha256)

    def _inspect(self, shift: str, number: int) -> str:
        chain = self.desk.chain
        begun = chain.begin("before_use", shift=shift)
        chain.serial()
        for part in route("before_use")[0]:
            chain.mark(part)
        chain.find("lens", "film", [photo(f"lens {number}", "finding")])
        chain.conclude("clean", "on")
        return begun

    def _close(self, shift: str, begun: str) -> None:
        """An earlier shift is closed without the photos that have not come, and what was skipped."""
        for sort in ("photos", "skipped"):
            answer = {"sort": sort, "of": begun, "answer": "without", "reason": "the tablet was lost"}
            self._command("shift.answered", answer, {"shift": shift})
        self._command("shift.closed", {"meaning": "reviewed"}, {"shift": shift})

    def _command(self, kind: str, body: dict[str, object], about: dict[str, object] | None = None) -> None:
        answer = self.desk.command(kind, body, about)
        assert answer.status_code < 300, answer.text

    def close(self) -> None:
        self.desk.close()
        self._running.close()


@pytest.fixture(scope="module")
def houses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[House, House]]:
    some = tuple(House(tmp_path_factory.mktemp(f"after-{number}"), number) for number in (FEW, MANY))
    yield some[0], some[1]
    for house in some:
        house.close()


# ---------------------------------------------------------------- what is asked


@dataclass(frozen=True)
class Asked:
    """A request of a route: its path, and what it may read whole as the plan says it, because that is what it tells."""

    path: Callable[[House], str]
    whole: tuple[str, ...] = ()
    stays_open: bool = False
    status: int = 200


def plain(path: str, *whole: str) -> Asked:
    return Asked(lambda _: path, whole)


def _paper(paper: str, house: House) -> str:
    return f"/repairs/{house.repair}/{paper}"


WHO = ("people",)
WHERE = ("stations USING INDEX sqlite_autoindex_stations_1", "station_chains")
"""Everybody and every tablet of one hospital, some dozens each: named on nearly every page."""
HELD = "d USING INDEX holds_standing"
"""The holds that no lead has lifted: the index holds nothing else."""
SORTS = "w"
"""One step of the index for each sort of reading, or part with photos, of one scope: some dozens."""
TOLD = "l"
"""The list that a subquery has already picked for one scope: decisions, nine at most; steps or looks, twelve."""
LEFT = "repair_words USING COVERING INDEX repair_words_left"
"""What ever left for repair: the index holds nothing else."""
TOUCHED = "scope_touched USING INDEX ix_scope_touched_changed"
"""The scopes that anything was ever said of, the newest first: some hundreds in a facility, 2,000 are read at most."""
TOOLS = ("tool_records USING COVERING INDEX tool_records_newest", "tool_ids")
"""What was ever said of each borescope and meter, a few times in its life; and the list of those, made of it."""
EXAMPLES = "e USING INDEX sqlite_autoindex_photo_examples_1"
"""The photos that leads chose as examples: some dozens, all of which the answer shows."""
RECOVERED = "recovered"
"""Each use of a person's recovery code: a few in years."""
ERASING = "q USING INDEX sqlite_autoindex_photo_erasures_asked_1"
"""What leads asked to be erased: a few in years."""
ASIDE = "log_unsettled"
"""What waits for a lead: the table holds nothing else."""

WANTED = "d USING INDEX work_asked_open"
"""What people are asked to do and said nothing of yet: the index holds nothing else."""
SECOND = "d USING INDEX work_asked_second"
"""Second opinions, some a week, 2,000 at most: the answer counts each of them."""
KEPT = "d USING INDEX ix_retention_words_seq"
"""Each word of how long the record is kept: a few in years."""
BOARD = "scope_touched"
"""Which scopes were touched since the board was last made: two columns of each."""

ASKED: dict[str, Asked] = {
    "GET /health": plain("/health", *WHO),
    "GET /{path:path}": Asked(lambda _: "/nothing-here", status=404),
    "GET /door/me": plain("/door/me", RECOVERED),
    "GET /chains/{chain}/head": Asked(lambda house: f"/chains/{house.desk.chain.chain}/head"),
    "GET /photos/{sha256}": Asked(lambda house: f"/photos/{house.picture}?size=full"),
    "GET /cards": plain("/cards?since=0", *WHO, *WHERE, HELD, TOLD, WANTED, *TOOLS, EXAMPLES),
    "GET /lead/examples": plain("/lead/examples", *WHO, EXAMPLES),
    "GET /lead/today": plain(f"/lead/today?shift={SHIFT}", *WHO, *WHERE, HELD, ASIDE, TOLD, TOUCHED, ERASING, LEFT),
    "GET /lead/shift": plain(f"/lead/shift?name={SHIFT}", *WHO, *WHERE, HELD, ASIDE, WANTED, *TOOLS),
    **{
        f"GET /lead/shift/{sheet}": plain(
            f"/lead/shift/{sheet}?name={SHIFT}", *WHO, *WHERE, HELD, ASIDE, WANTED, *TOOLS
        )
        for sheet in ("sheet", "sheet.pdf", "sheet.csv", "sheet.csv-metadata.json", "sheet.xlsx", "sheet.zip")
    },
    "GET /lead/history": plain(f"/lead/history?key={C14}&most=12", *WHO, *WHERE, SORTS, TOLD),
    "GET /lead/history/part": plain(f"/lead/history/part?key={C14}&part=lens&most=12", *WHERE, SORTS, TOLD),
    **{
        f"GET /lead/history/{sheet}": plain(
            f"/lead/history/{sheet}?key={C14}&most=12&photos_a_part=12", *WHO, *WHERE, SORTS, TOLD
        )
        for sheet in ("sheet", "sheet.pdf", "sheet.csv", "sheet.csv-metadata.json", "sheet.xlsx", "sheet.zip")
    },
    "GET /lead/find": plain("/lead/find?finding=film&words=C-14&most=12", *WHO, TOLD),
    **{
        f"GET /lead/find/{sheet}": plain(f"/lead/find/{sheet}?finding=film&words=C-14&most=12", *WHO, TOLD)
        for sheet in ("sheet.csv", "sheet.xlsx")
    },
    "GET /lead/inspections/{root}": Asked(lambda house: f"/lead/inspections/{house.root}", (*WHO, *WHERE, TOLD)),
    "GET /lead/holds/{hold}": Asked(lambda house: f"/lead/holds/{house.hold}", (*WHO, *WHERE)),
    "GET /lead/holds/{hold}/summary": Asked(
        lambda house: f"/lead/holds/{house.hold}/summary", (*WHO, *WHERE, SORTS, TOLD)
    ),
    "GET /lead/holds/{hold}/summary.pdf": Asked(
        lambda house: f"/lead/holds/{house.hold}/summary.pdf", (*WHO, *WHERE, SORTS, TOLD)
    ),
    "GET /lead/retention": plain("/lead/retention", *WHO, KEPT),
    "GET /lead/aside": plain("/lead/aside", *WHERE, ASIDE),
    "GET /lead/stations": plain("/lead/stations", *WHERE),
    "GET /lead/people": plain("/lead/people", "people USING INDEX sqlite_autoindex_people_1", "pin_tries"),
    "GET /lead/scopes": plain("/lead/scopes?find=C-14"),
    "GET /lead/where": plain("/lead/where", *WHO, BOARD, HELD),
    **{
        f"GET /lead/{labels}": plain(f"/lead/{labels}?what=scope&of={C14}&size=62x29")
        for labels in ("labels", "labels.pdf")
    },
    "GET /lead/tools": plain("/lead/tools", *TOOLS),
    "GET /lead/repairs": plain("/lead/repairs", *WHO, TOLD, HELD, "repair_words USING COVERING INDEX repair_words_of"),
    **{
        f"GET /repairs/{{repair}}/{paper}": Asked(partial(_paper, paper), (*WHO, TOLD))
        for paper in ("packet", "packet.pdf", "label", "label.pdf")
    },
    "GET /lead/facility": plain("/lead/facility"),
    "GET /lead/policy": plain("/lead/policy", *WHO),
    "GET /lead/agreement": plain("/lead/agreement", *WHO, SECOND),
    "GET /lead/scope": plain(f"/lead/scope?key={C14}"),
    "GET /lead/bring/{what}": plain("/lead/bring/scopes.csv"),
    "GET /lead/health": plain("/lead/health", "log_chains"),
    "GET /lead/changes": Asked(lambda _: "/lead/changes", stays_open=True),
}


def test_every_get_of_the_matrix_is_counted_here() -> None:
    """A route that is added says here how it is asked, and what it may read whole."""
    assert set(ASKED) == {key for key in MATRIX if key.startswith("GET ")}


# ---------------------------------------------------------------- counting


@dataclass
class Count:
    """What one answer took: its questions with their values, and the steps of SQLite's machine."""

    asked: list[tuple[str, Any]] = field(default_factory=list)
    steps: int = 0


@contextmanager
def counting(house: House) -> Iterator[Count]:
    """Counts on every connection of a house, whichever thread uses it."""
    count = Count()

    def one() -> int:
        count.steps += 1
        return 0

    def note(_c: object, _u: object, statement: str, parameters: Any, _x: object, _m: object) -> None:
        if statement.lstrip().upper().startswith(("SELECT", "WITH")):
            count.asked.append((statement, parameters))

    def out(connection: Any, _r: object, _p: object) -> None:
        connection.set_progress_handler(one, 1)

    def back(connection: Any, _r: object) -> None:
        if connection is not None:
            connection.set_progress_handler(None, 0)

    listeners = (("before_cursor_execute", note), ("checkout", out), ("checkin", back))
    for name, act in listeners:
        event.listen(house.here.engine, name, act)
    try:
        yield count
    finally:
        for name, act in listeners:
            event.remove(house.here.engine, name, act)


def asked(house: House, what: Asked) -> Count:
    """One answer, after one that warmed what is remembered in memory."""
    _get(house, what)
    with counting(house) as count:
        answer = _get(house, what)
    assert answer.status_code == what.status, answer.text
    return count


def _get(house: House, what: Asked) -> httpx.Response:
    browser = house.desk.browser
    if not what.stays_open:
        return browser.get(what.path(house))
    with browser.http.stream("GET", what.path(house), headers=browser.headers()) as answer:
        assert next(answer.iter_lines()).startswith("data:")
        return answer


def scanned(house: House, count: Count) -> set[str]:
    """What is read whole. `SCAN x` of `EXPLAIN QUERY PLAN`: every row of x is visited (sqlite.org, eqp.html).

    Lists of the question itself are left out: rows of a VALUES, of a subquery, of a JSON array.
    """
    with house.here.engine.connect() as connection:
        plans = [
            str(row[3])
            for statement, parameters in count.asked
            for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
        ]
    whole = {plan.removeprefix("SCAN ") for plan in plans if plan.startswith("SCAN ")}
    return {each for each in whole if not each.startswith(("(", "CONSTANT")) and "VIRTUAL TABLE" not in each}


@pytest.mark.parametrize("key", ASKED)
def test_a_get_asks_as_much_after_many_shifts_as_after_few(houses: tuple[House, House], key: str) -> None:
    few, many = (asked(house, ASKED[key]) for house in houses)
    assert len(many.asked) == len(few.asked)
    assert many.steps <= few.steps * GROWTH


@pytest.mark.parametrize("key", ASKED)
def test_a_get_reads_no_table_whole(houses: tuple[House, House], key: str) -> None:
    assert scanned(houses[1], asked(houses[1], ASKED[key])) - set(ASKED[key].whole) == set()
