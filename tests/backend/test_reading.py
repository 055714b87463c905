"""The lead's pages: today's list, one inspection whole, finding a scope. Values of the story are invented."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from loupebook.reading.find import find_scopes
from loupebook.reading.page import page
from loupebook.reading.routes import reading_routes
from loupebook.reading.today import today
from story import C14, SHIFT, Tables, Writer, lead_sources, photo, plans, route, stations_of, steps, taken

pytestmark = pytest.mark.sink


def story() -> list[Writer]:
    """C-14: looked at by two tablets, held; one photo hidden; one entry corrected, one taken back."""
    one, two, server = Writer("Sink 1"), Writer("Sink 2", person="rin.oake"), Writer("server", person="moira.keld")
    server.write(
        "scope.described",
        {"scope_kind": "colonoscope", "serial": "2741906", "maker": "Alder", "tag": "C-14", "codes": ["LB1:C-14"]},
        about={"scope": C14},
    )
    parts, _ = route("after_cleaning")
    one.begin()
    one.serial()
    one.mark("tube_1", "tube_2", "tube_3", "boot_tube", zone="tube")
    one.mark("contacts", mark="could_not_look", reason="cap_on")
    one.withdraw(one.mark("knobs"))
    ring = {"photo": photo("band")["sha256"], "x": 5000, "y": 4000, "r": 900}
    place = {"mm": 120, "end": "tip", "known": "read_off"}
    seen = one.find("band_tip", "band_chip", [photo("band", "finding")], place=place, rings=[ring], note="<b>chip</b>")
    one.correct(
        seen,
        {
            "part": "band_tip",
            "finding": "band_chip",
            "grade": "severe",
            "since": "worse",
            "place": place,
            "rings": [ring],
        },
    )
    one.write("reading.taken", {"what": "leak_test", "result": "held", "pressure_pa": 24000, "held_s": 30})
    one.write("channel.looked", {"channel": "ch_suction", "outcome": "through", "way": "from_port", "borescope": "B-3"})
    two.begin(continues=one.begun)
    two.serial()
    two.write("photo.added", {"part": "lens"}, [photo("lens")])
    two.mark(*parts[:5])
    left = [{"part": "ch_air", "reason": "held_at_once"}]
    one.conclude(
        "clean", "hold", suggested_first="nothing", tag_on=True, relies=[two.hashes[-1]], elsewhere=["lens"], left=left
    )
    two.write("photo.restricted", {"photo": photo("lens")["sha256"]})
    return [one, two, server]


ONE, TWO, SERVER = story()
TABLES = taken(SERVER, ONE, TWO)
SOURCES = lead_sources(TABLES, stations_of(ONE, TWO), here=[str(photo("band")["sha256"])])


def the_page(tables: Tables = TABLES, sources: Any = SOURCES, root: str | None = None) -> dict[str, Any]:
    with tables.reading() as connection:
        found = page(connection, sources, root or str(ONE.begun))
    assert found is not None
    return json.loads(json.dumps(found))


def the_day(tables: Tables = TABLES, sources: Any = SOURCES, shift: str = SHIFT) -> dict[str, Any]:
    with tables.reading() as connection:
        return json.loads(json.dumps(today(connection, sources, shift)))


def test_today_lists_an_inspection_of_two_tablets_once() -> None:
    day = the_day()
    (line,) = day["inspections"]
    assert (line["root"], line["scope"]["tag"], line["point"]) == (ONE.begun, "C-14", "after_cleaning")
    assert (line["state"], line["first"], line["goes"]) == ("concluded", "clean", "hold")
    assert (line["stations"], line["people"], line["open_parts"]) == (["Sink 1", "Sink 2"], ["ila.venn", "rin.oake"], 1)
    assert sum(line["counts"].values()) == line["total"] == 36
    assert line["counts"] == {
        "nothing_found": 10, "finding": 1, "could_not_look": 1, "not_looked": 24, "not_due": 0, "none_here": 0,
    }  # fmt: skip
    (finding,) = line["findings"]
    assert (finding["part"], finding["grade"], finding["urgency"]) == ("band_tip", "severe", "cycle")
    assert line["photos"] == {"all": 4, "waiting": 3}
    assert line["marked"] == {"parts": 11, "as_zone": 4, "seconds": line["marked"]["seconds"]}
    assert [(hold["cause"], hold["scope"]["tag"]) for hold in day["holds"]] == [("concluded", "C-14")]
    assert [person["id"] for person in day["people"]] == ["ila.venn", "rin.oake"]


def test_today_without_a_shift_is_the_one_that_runs_where_the_stations_are() -> None:
    assert the_day(shift="") == the_day()
    assert the_day(shift="Harrow Lake/2025-11-24/day")["inspections"] == []


def test_the_page_says_how_the_scope_was_identified_and_who_did_what() -> None:
    found = the_page()
    first = found["parts"][0]
    assert (first["identified_by"], first["identified_text"], first["proves"]) == ("camera", "]d2...", "scope")
    assert first["by"] == {
        "entry": ONE.begun, "version": ONE.begun, "chain": ONE.chain, "seq": 1, "station": "Sink 1",
        "person": "ila.venn", "how": "pin", "proved": "offline", "build": "test",
        "at": "2025-11-25T10:22:00.000Z", "received_at": "2025-11-25T12:00:00.000Z",
    }  # fmt: skip
    assert [row["agrees"] for row in found["serials"]] == ["yes", "yes"]
    assert {p["shows"] for p in found["photos"]} == {"serial", "finding", "part"}


def test_the_page_shows_a_finding_with_its_ring_place_and_old_value() -> None:
    found = the_page()
    (finding,) = found["findings"]
    assert (finding["grade"], finding["since"], finding["place_mm"], finding["class"]) == (
        "severe", "worse", 120, "damage",
    )  # fmt: skip
    (shot,) = [p for p in found["photos"] if p["part"] == "band_tip"]
    assert shot["rings"][0]["r"] == 900 and shot["here"] and not shot["restricted"]
    (correction,) = found["corrections"]
    assert [(row["grade"], row["since"], row["note"]) for row in correction["before"]] == [
        ("moderate", "new", "<b>chip</b>")
    ]
    assert found["disputed"] == []


def test_the_page_shows_what_is_laid_over_a_photo_as_it_stands_with_each_length_and_its_uncertainty() -> None:
    """The length is the first case of shared/vectors/measure.json (worked by hand from the GUM)."""
    one, vectors = Writer("sink 1"), Path(__file__).parents[2] / "shared/vectors/measure.json"
    one.begin()
    one.serial()
    band = photo("band", "finding")
    name = str(band["sha256"])
    length = {"photo": name, **json.loads(vectors.read_text())["lengths"][0]["input"]}
    beside = {"before": photo("then")["sha256"], "now": name, "size": "large", "laid": "by_hand"}
    how = {"way": "live", "told": ["glare"], "sharp_permille": 640, "of": 8, "camera": "rear", "tool": "B-3"}
    seen = one.find("band_tip", "band_chip", [band | {"taken": how}], lengths=[length], beside=beside)
    arrow = {"photo": name, "tail": {"x": 100, "y": 100}, "tip": {"x": 4000, "y": 5000}}
    pointed = one.write("photo.marked", {"photo": name, "arrows": [arrow]})

    tables = taken(one)
    with tables.reading() as connection:
        found = page(connection, lead_sources(tables), str(one.begun))
    assert found is not None
    assert [row["taken"] for row in found["photos"]] == [None, how]  # type: ignore[attr-defined]
    laid = {row["by"]["entry"]: row for row in found["laid"]}  # type: ignore[attr-defined]
    assert laid[seen]["photo"] == name and laid[pointed]["arrows"] == [arrow]
    (shown,) = laid[seen]["lengths"]
    assert shown == length | {"says": {"um": 5000, "plus_minus_um": 19}}
    assert found["findings"][0]["beside"] == beside  # type: ignore[index]

    one.withdraw(pointed)
    tables = taken(one)
    with tables.reading() as connection:
        after = page(connection, lead_sources(tables), str(one.begun))
    assert [row["by"]["entry"] for row in after["laid"]] == [seen], "taken back by a new entry"  # type: ignore[index]


def test_the_page_sets_the_decision_beside_what_policy_asks_and_why() -> None:
    found = the_page()
    (decision,) = found["decisions"]
    assert (decision["first"], decision["goes"], decision["suggested_first"]) == ("clean", "hold", "nothing")
    rows = {row["row"]: row for row in found["suggested"]["rows"]}
    assert rows["band_chip"]["entry"] == found["findings"][0]["by"]["entry"]
    assert "FDA safety communication" in rows["band_chip"]["source"]
    assert found["suggested"]["goes"] == "hold"


def test_the_page_names_what_was_not_seen_and_what_was_taken_back() -> None:
    found = the_page()
    unseen = {row["part"]: row for row in found["not_seen"]}
    assert unseen["contacts"] == {"part": "contacts", "mark": "could_not_look", "reasons": ["cap_on"]}
    assert unseen["ch_air"]["reasons"] == ["held_at_once"]
    assert unseen["knobs"]["mark"] == "not_looked"
    assert [each["kind"] for each in found["taken_back"]] == ["part.marked"]


def test_a_hidden_photo_is_marked_so_whichever_tablet_hid_it() -> None:
    hidden = [p for p in the_page()["photos"] if p["restricted"]]
    assert [p["part"] for p in hidden] == ["lens"]


@pytest.mark.parametrize(
    ("heard_at", "silent"), [("2025-11-25T12:00:00.000Z", 0), ("2025-11-25T10:24:00.000Z", 2), (None, 2)]
)
def test_stations_not_heard_from_since_are_named(heard_at: str | None, silent: int) -> None:
    sources = lead_sources(TABLES, stations_of(ONE, TWO, heard_at=heard_at))
    assert len(the_page(sources=sources)["stations"]) == silent


@pytest.mark.parametrize(
    ("wanted", "found"), [("c-1", 1), ("2741", 1), ("LB1:C-14", 1), ("741906", 0), ("%", 0), ("", 1)]
)
def test_a_scope_is_found_by_the_beginning_of_its_number_or_a_whole_code(wanted: str, found: int) -> None:
    with TABLES.reading() as connection:
        assert len(find_scopes(connection, wanted)["scopes"]) == found  # type: ignore[arg-type]


def test_a_described_scope_stays_described_and_two_registrations_meet() -> None:
    """Whoever arrives first: the facility's description wins, then the first of (chain, seq)."""
    body = {"scope_kind": "colonoscope", "serial": "2741906", "model": "A", "tag": "X-1"}
    late, other = Writer("late"), Writer("other")
    late.write("scope.registered", body)
    other.write("scope.registered", body | {"model": "B"})
    names = []
    for order in ((late, other), (other, late)):
        tables = taken(*order, SERVER)
        with tables.reading() as connection:
            (known,) = find_scopes(connection, "2741906")["scopes"]  # type: ignore[misc]
        names.append((known["on_record"], known["tag"], known["maker"], known["model"]))  # type: ignore[index]
    assert names[0] == names[1]
    assert names[0][:3] == ("described", "C-14", "Alder")


def test_the_routes_answer_and_a_root_nobody_knows_is_said_in_three_parts() -> None:
    app = FastAPI()
    app.include_router(reading_routes(SOURCES, lambda: lambda: True))
    desk = TestClient(app)
    assert desk.get("/lead/today", params={"shift": SHIFT}).json() == the_day()
    assert desk.get(f"/lead/inspections/{ONE.begun}").json() == the_page()
    assert desk.get("/lead/aside").json() == {"position": TABLES.position, "aside": [], "strays": []}
    assert desk.get("/lead/scopes", params={"find": "C-14"}).json()["scopes"][0]["key"] == C14
    unknown = desk.get(f"/lead/inspections/{'0' * 64}")
    assert unknown.status_code == 404 and set(unknown.json()["trouble"]) == {"code", "so", "safe", "next"}
    assert desk.get("/lead/inspections/nothing").status_code == 422
    answers = [desk.get("/lead/today"), unknown]
    assert {(a.headers["cache-control"], a.headers["x-loupebook"]) for a in answers} == {("private, no-store", "1")}


# ---------------------------------------------------------------- cost


def history(days: int) -> tuple[Tables, Writer]:
    """The story's day, after so many earlier shifts of the same scope."""
    before = Writer("before")
    parts, _ = route("after_cleaning")
    for day in range(days):
        before.begin(shift=f"Harrow Lake/2025-{1 + day // 28:02}-{1 + day % 28:02}/day")
        before.serial()
        before.mark(*parts)
        before.find("lens", "film", [photo(f"lens {day}")])
        before.conclude("nothing", "on")
    return taken(before, SERVER, ONE, TWO), before


FEW, MANY = history(5)[0], history(250)[0]


@pytest.mark.parametrize("view", [the_day, the_page])
def test_what_a_page_visits_does_not_grow_with_history(view: Any) -> None:
    """Steps of SQLite's machine with 5 and with 250 earlier shifts; growth allowed as for G12, a fifth."""
    few, many = (
        steps(tables.engine, lambda t=tables: view(t, lead_sources(t, stations_of(ONE, TWO)))) for tables in (FEW, MANY)
    )
    assert many <= few * 1.2


@pytest.mark.parametrize("view", [the_day, the_page])
def test_no_page_scans_a_table(view: Any) -> None:
    """`EXPLAIN QUERY PLAN`: SCAN of a table means every row is read (sqlite.org, eqp.html)."""
    rows = plans(MANY.engine, lambda: view(MANY, lead_sources(MANY, stations_of(ONE, TWO))))
    assert len(rows) > 10
    # holds_standing holds only what no lead has decided: it is the list itself.
    scans = [row for row in rows if row.startswith("SCAN") and "holds_standing" not in row]
    # The list of scopes itself (one row each), the keys that are handed in, the few newest steps of
    # one scope, what leads asked to be erased and which scopes went to a repairer: a few in years.
    left = "SCAN repair_words USING INDEX repair_words_left"
    lists = (
        "SCAN scope_touched USING",
        "SCAN w VIRTUAL TABLE",
        "SCAN o VIRTUAL TABLE",
        "SCAN l",
        "SCAN q USING INDEX",
        left,
    )
    assert [row for row in scans if not row.startswith(("SCAN (", "SCAN CONSTANT", *lists))] == []


def test_finding_a_scope_scans_nothing() -> None:
    def find() -> None:
        with MANY.reading() as connection:
            find_scopes(connection, "C-14")

    rows = plans(MANY.engine, find)
    assert rows and [row for row in rows if row.startswith("SCAN ") and "SCAN (" not in row] == []
