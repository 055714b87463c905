"""One scope's life, and finding: what the desk, the paper and the files say is what the entries say.

What must be answered at once is what a surveyor asks of a reprocessing unit: this scope's last inspection, leak test
and cleaning test, by whom, with what (common practice). PDFs are read by pypdf, CSV by Python's csv (RFC 4180).
"""

from __future__ import annotations

import csv
import io
import json
import re
import time
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pypdf
import pytest
from looked import looked
from loupebook.reading.find_looks import Wanted, page_of, statement_of
from loupebook.rules.duties import after_work_days
from story import C14, route
from whole_server import PLACE, WholeServer

pytestmark = pytest.mark.shift

SHIFT = f"{PLACE}/2026-03-02/day"
C11 = "udi:51022222233336/2741911"


class Life:
    """A scope registered, received, looked at three times with tests, held, decided; another with one look."""

    def __init__(self, server: WholeServer) -> None:
        self.server, desk = server, server.desk
        chain = desk.chain
        for key, tag in ((C14, "C-14"), (C11, "C-11")):
            said = {"scope_kind": "colonoscope", "serial": key[-7:], "di": "51022222233336", "tag": tag}
            assert desk.command("scope.described", said, {"scope": key}).status_code == 201
        chain.scope = C14
        chain.write("scope.received", {"place": PLACE, "pre_clean": "yes"}, inspection=False)
        self.first = looked(desk, SHIFT, find=True)
        chain.scope = C14
        self.second = chain.begin("after_cleaning", shift=SHIFT)
        chain.serial()
        chain.mark(route("after_cleaning")[0][0])
        seen = desk.photo("lens", "finding", (180, 90, 40))
        self.photo = str(seen["sha256"])
        self.taken = {"way": "sheet", "told": ["glare"], "at": "2025-11-25T10:02:00.000Z", "tool": "B-3"}
        chain.write("photo.added", {"part": "lens"}, [seen | {"shows": "part", "taken": self.taken}])
        rings = [{"photo": self.photo, "x": 5000, "y": 4000, "r": 900}]
        chain.find("lens", "scratch", [seen | {"taken": self.taken}], rings=rings)
        chain.write("reading.taken", {"what": "leak_test", "result": "held", "pressure_pa": 21500, "held_s": 60})
        protein = {"what": "protein", "result": "value", "unit": "ug/cm2", "meter": "Meter 3", "lot": "L-7"}
        chain.write("reading.taken", protein | {"value_thousandths": 2400, "limit_thousandths": 6400})
        self.held = chain.write("hold.placed", {"reason": "doubt", "tag_on": True})
        self.other = looked(desk, SHIFT, scope=C11, end=False)
        chain.scope, chain.begun = C14, None
        desk.send()
        desk.put_photos()
        server.settled()
        decided = {"hold": self.held, "goes": "on", "first": "nothing", "reason": "photos compared"}
        assert desk.command("hold.decided", decided, {"scope": C14}).status_code == 201

    def get(self, path: str) -> Any:
        answer = self.server.desk.browser.get(f"/lead/{path}")
        assert answer.status_code == 200, answer.text
        return answer


@pytest.fixture(scope="module")
def life(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Life]:
    server = WholeServer(tmp_path_factory.mktemp("house"))
    try:
        yield Life(server)
    finally:
        server.close()


def test_the_line_of_time_holds_everything_newest_first_and_pages(life: Life) -> None:
    told = life.get(f"history?key={C14}").json()
    kinds = [row["what"] for row in told["rows"]]
    assert sorted(kinds) == ["hold", "look", "look", "record", "step"]
    times = [row["at_ms"] for row in told["rows"]]
    assert times == sorted(times, reverse=True) and told["more"] is False
    held = next(row for row in told["rows"] if row["what"] == "hold")
    assert held["decided"][0]["reason"] == "photos compared" and held["entry"] == life.held
    seen: list[str] = []
    before = ""
    while True:
        page = life.get(f"history?key={C14}&most=2{before}").json()
        seen += [row["entry"] for row in page["rows"]]
        if not page["more"]:
            break
        before = f"&before={page['rows'][-1]['at_ms']}"
    assert sorted(seen) == sorted(row["entry"] for row in told["rows"])


def test_the_one_answer_names_last_look_and_tests_who_with_what_and_what_was_not_seen(life: Life) -> None:
    last = life.get(f"history?key={C14}").json()["last"]
    assert last["look"]["entry"] == life.second and last["look"]["people"] == [life.server.lead]
    page = life.get(f"inspections/{life.second}").json()
    assert [each["part"] for each in last["look"]["unseen"]] == [each["part"] for each in page["not_seen"]]
    assert last["readings"]["leak_test"]["pressure_pa"] == 21500
    protein = last["readings"]["protein"]
    assert (protein["meter"], protein["lot"], protein["person"]) == ("Meter 3", "L-7", life.server.lead)


def test_one_part_through_time_has_its_photos_what_was_found_and_readings_as_series(life: Life) -> None:
    told = life.get(f"history/part?key={C14}&part=lens").json()
    assert told["parts"] == ["lens"] and told["photos"][0]["sha256"] == life.photo
    assert told["photos"][0]["findings"][0]["finding"] == "scratch"
    named = [(each["sha256"], each["begun"]) for each in told["photos"]]
    assert len(named) == len(set(named)), "named by two entries of one inspection it is one photo"
    assert told["photos"][0]["taken"] == life.taken
    assert (told["photos"][0]["person"], told["photos"][0]["station"]) == (life.server.lead, "Desk")
    assert [ring["r"] for ring in told["photos"][0]["laid"]["rings"]] == [900], "what lies over it is drawn here too"
    assert [row["value_thousandths"] for row in told["series"]["protein"]] == [2400]


def test_the_paper_and_the_files_have_the_rows_of_the_line(life: Life) -> None:
    told = life.get(f"history?key={C14}").json()
    pages = pypdf.PdfReader(io.BytesIO(life.get(f"history/sheet.pdf?key={C14}").content)).pages
    words = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))
    for said in ("2741906", "photos compared", "21.5 kPa", "Meter 3", "Moira Keld", "not seen"):
        assert said in words, said
    page = life.get(f"history/sheet?key={C14}").text
    assert page.count("<tr>") == 1 + len(told["rows"]) and "<script" not in page
    machine = life.get(f"history/sheet.csv?key={C14}&form=machine").content.decode()
    rows = list(csv.DictReader(io.StringIO(machine, newline="")))
    assert [row["entry"] for row in reversed(rows)] == [row["entry"] for row in told["rows"]]
    columns = json.loads(life.get(f"history/sheet.csv-metadata.json?key={C14}").content)["tableSchema"]["columns"]
    assert [each["name"] for each in columns] == list(rows[0])
    assert life.get(f"history/sheet.xlsx?key={C14}").content[:2] == b"PK"
    packed = zipfile.ZipFile(io.BytesIO(life.get(f"history/sheet.zip?key={C14}").content))
    assert packed.testzip() is None and packed.read("scope-c-14.csv").decode() == machine
    photos = list(csv.DictReader(io.StringIO(packed.read("photos.csv").decode(), newline="")))
    assert {row["sha256"] for row in photos} == {name[7:71] for name in packed.namelist() if name[:7] == "photos/"}
    assert (life.photo, "lens", "Scratch") in {(row["sha256"], row["part"], row["findings"]) for row in photos}


def test_a_hidden_photo_leaves_the_line_of_its_part(life: Life) -> None:
    desk = life.server.desk
    about = {"scope": C14, "inspection": life.second}
    assert desk.command("photo.hidden", {"photo": life.photo, "reason": "a face"}, about).status_code == 201
    shown = life.get(f"history/part?key={C14}&part=lens").json()["photos"]
    assert shown and life.photo not in {each["sha256"] for each in shown}
    packed = zipfile.ZipFile(io.BytesIO(life.get(f"history/sheet.zip?key={C14}").content))
    assert not [name for name in packed.namelist() if life.photo in name]
    assert life.photo.encode() not in packed.read("photos.csv")


def test_a_hold_shows_the_dates_that_would_run_from_its_day_with_their_source(life: Life) -> None:
    """The counting itself is held in test_duties: here that the day is the hold's, in the facility's time."""
    told = life.get(f"holds/{life.held}").json()
    aware = datetime.fromisoformat(told["hold"]["at"]).date()
    duties = told["duties"]
    assert abs(datetime.fromisoformat(duties["aware"]).date() - aware) <= timedelta(days=1)
    assert duties["report_by"] == after_work_days(datetime.fromisoformat(duties["aware"]).date(), 10).isoformat()
    assert duties["source"].startswith("21 CFR 803")


def test_a_scope_nobody_knows_is_told(life: Life) -> None:
    assert life.server.desk.browser.get("/lead/history?key=nothing").json()["trouble"]["code"] == "no_scope"


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("words=C-14", {"first", "second"}), ("words=2741911", {"other"}),
        ("words=(01)51022222233336(21)2741911", {"other"}),
        ("words=LB1:S:C-14", {"first", "second"}), (f"words={C11}", {"other"}), (f"words={C11[4:18]}", set()),
        ("finding=scratch", {"second"}), ("finding=film&words=C-11", set()), ("point=after_cleaning", {"second"}),
        ("place=Harrow%20Lake&point=before_use", {"first", "other"}), ("words=nothing-like-it", set()),
        ("person=LEAD", {"first", "second", "other"}), ("person=nobody", set()), ("until=2001-01-01", set()),
        ("since=2001-01-01", {"first", "second", "other"}), ("since=no-day", {"first", "second", "other"}),
    ],
)  # fmt: skip
def test_inspections_are_found_by_scope_person_finding_date_point_and_place(
    life: Life, asked: str, found: set[str]
) -> None:
    told = life.get(f"find?{asked.replace('LEAD', life.server.lead)}").json()
    assert {each["root"] for each in told["looks"]} == {getattr(life, name) for name in found}
    machine = life.get(f"find/sheet.csv?form=machine&{asked.replace('LEAD', life.server.lead)}").content.decode()
    rows = list(csv.DictReader(io.StringIO(machine, newline="")))
    assert [row["inspection"] for row in rows] == [each["root"] for each in told["looks"]], "the rows that were seen"
    one = life.get(f"find?{asked.replace('LEAD', life.server.lead)}&most=1").json()
    assert (one["next"] is not None) == (len(found) > 1)


def test_what_was_found_is_a_workbook_that_says_what_was_asked(life: Life) -> None:
    """Read by openpyxl, which did not write it."""
    told = life.get("find/sheet.xlsx?finding=scratch&since=2001-01-01").content
    book = openpyxl.load_workbook(io.BytesIO(told))
    head, row = book["Rows"].iter_rows(values_only=True)
    said = dict(zip(head, row, strict=True))
    assert said["Inspection (its hash)"] == life.second and "scratch" in str(said["Findings"])
    about = {str(name): str(value) for name, value in book["About"].iter_rows(values_only=True)}
    assert {"scratch", "2001-01-01", "1"} <= set(about.values())
    some = openpyxl.load_workbook(io.BytesIO(life.get("find/sheet.xlsx?most=1").content))["About"]
    assert any("there are more" in str(value) for _, value in some.iter_rows(values_only=True))


def test_inspections_of_one_moment_are_not_lost_between_two_pages() -> None:
    every = [("a", 9), ("b", 7), ("c", 7), ("d", 7), ("e", 2)]
    for most in (3, 4, 5, 6):
        before, seen = 10, list[str]()
        while before is not None:
            left = [row for row in every if row[1] < before][: most + 1]
            shown, before = page_of(left, most)
            seen += [what for what, _ in shown]
        assert seen == list("abcde"), most


@pytest.mark.parametrize(
    ("wanted", "scopes", "index"),
    [
        (Wanted(words="C"), True, "inspection_parts_newest"), (Wanted(finding="film"), False, "findings_what"),
        (Wanted(person="p"), False, "acts_begun_by"), (Wanted(place="x"), False, "inspection_parts_at"),
        (Wanted(point="acceptance"), False, "inspection_parts_point"), (Wanted(), False, "inspection_parts_when"),
        (Wanted(finding="film", person="p", place="x"), False, "findings_what"),
    ],
)  # fmt: skip
def test_the_narrowest_thing_asked_for_is_walked_by_its_index(
    life: Life, wanted: Wanted, scopes: bool, index: str
) -> None:
    """SQLite's own plan (sqlite.org, eqp.html): no table is scanned, nothing is sorted but a page."""
    values = {"scopes": "[]", "person": "", "finding": "", "point": "", "place": "", "since": 0, "before": 1, "most": 9}
    statement = statement_of(wanted, scopes).compile(life.server.here.engine)
    asked = tuple(values[name] for name in statement.positiontup or ())
    with life.server.here.engine.connect() as connection:
        plan = [str(row[3]) for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", asked)]
    assert any(index in step for step in plan), plan
    whole = [step for step in plan if step.startswith("SCAN") and "VIRTUAL TABLE" not in step and "(" not in step]
    assert [step for step in whole if "USING" not in step and step not in ("SCAN l",)] == []
    assert scopes or not [step for step in plan if "TEMP B-TREE" in step], plan


@pytest.mark.slow
def test_ten_years_of_one_scope_open_in_under_200_ms_at_the_server(tmp_path: Path) -> None:
    """2,500 looks, one a working day: our own bar. The processor's time is measured, whatever else the machine does."""
    server = WholeServer(tmp_path / "house")
    try:
        chain = server.desk.chain
        said = {"scope_kind": "colonoscope", "serial": "2741906", "di": "51022222233336", "tag": "C-14"}
        assert server.desk.command("scope.described", said, {"scope": C14}).status_code == 201
        begins = datetime(2016, 1, 4, tzinfo=UTC)
        for number in range(2500):
            chain.at = begins + timedelta(days=number * 1.46)
            looked(server.desk, f"{PLACE}/{chain.at.date()}/day", find=number % 25 == 0)
        for path in ("history?", "history?turning=true&", "history/part?part=lens&", "find?words=C-14&"):
            took = []
            for _ in range(5):
                began = time.process_time()
                answer = server.desk.browser.get(f"/lead/{path}key={C14}")
                took.append((time.process_time() - began) * 1000)
                assert answer.status_code == 200, answer.text
            print(f"{path}: {min(took):.0f} ms")
            assert min(took) < 200
    finally:
        server.close()
