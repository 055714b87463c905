"""Cards: what a tablet carries away, whole or since a position. Values of the story are invented."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from loupebook.cards.cards import cards
from loupebook.cards.routes import cards_routes
from loupebook.cards.scopes import MOST_NEAR
from loupebook.scopes.tables.values import ms_of
from story import C14, CATALOGUE_TEXT, Tables, Writer, card_sources, photo, plans, route, stations_of, steps, taken

pytestmark = pytest.mark.sink
PLACE = "Harrow Lake"
OTHER = "udi:51022222233336/2741960"


def answer(tables: Tables, since: int = 0, epoch: str = "first", place: str = PLACE, **more: Any) -> dict[str, Any]:
    with tables.reading() as connection:
        found = cards(connection, card_sources(tables, **more), place, since, epoch)
    return json.loads(json.dumps(found))


def card(found: dict[str, Any], scope: str = C14) -> dict[str, Any]:
    (one,) = [each for each in found["scopes"] if each["scope"] == scope]
    return one


def inspected(name: str = "Sink 1", scope: str = C14, **more: Any) -> Writer:
    """A whole inspection after cleaning, with a photo of the tip's band."""
    one = Writer(name, scope=scope)
    parts, channels = route("after_cleaning")
    one.begin(**more)
    one.serial(where="on the boot")
    one.mark(*parts, *channels[:3])
    one.find("band_tip", "stain_fixed", [photo(f"band {name}")], place={"mm": 90, "end": "tip", "known": "read_off"})
    one.conclude("clean", "on")
    return one


def test_a_scope_of_this_place_comes_whole_and_one_of_another_as_a_line() -> None:
    tables = taken(inspected(), inspected("Sink 9", OTHER, shift="Other house/2025-11-25/day"))
    found = answer(tables)
    here, there = card(found), card(found, OTHER)
    assert (here["near"], there["near"], "parts" in there) == (True, False, False)
    assert here["last"]["first"] == "clean" and here["cleanings"] == 1
    assert (here["serial_photo"]["photo"], here["serial_photo"]["where"]) == (
        photo("serial Sink 1 1", "serial")["sha256"],
        "on the boot",
    )
    parts = {part["part"]: part for part in here["parts"]}
    assert len(parts) == 33
    assert parts["lens"]["mark"] == "nothing_found" and parts["lens"]["photo"] is None
    assert (parts["band_tip"]["mark"], parts["band_tip"]["finding"]["finding"]) == ("finding", "stain_fixed")
    assert parts["band_tip"]["photo"]["sha256"] == photo("band Sink 1")["sha256"]
    elsewhere = answer(tables, place="Other house")
    assert (card(elsewhere)["near"], card(elsewhere, OTHER)["near"]) == (False, True)


def test_the_newest_look_at_each_part_is_the_one_carried() -> None:
    one = inspected()
    one.begin()
    one.serial()
    one.mark("band_tip")
    hidden = one.write("photo.added", {"part": "band_tip"}, [photo("with a face")])
    one.write("photo.restricted", {"photo": photo("with a face")["sha256"]})
    (part,) = [each for each in card(answer(taken(one)))["parts"] if each["part"] == "band_tip"]
    assert part["mark"] == "nothing_found"
    assert part["photo"]["sha256"] == photo("band Sink 1")["sha256"]
    one.withdraw(one.hashes[one.hashes.index(hidden) - 1])
    (part,) = [each for each in card(answer(taken(one)))["parts"] if each["part"] == "band_tip"]
    assert part["mark"] == "finding"


def test_the_sizes_of_the_newest_description_are_carried_and_it_stands_whole() -> None:
    """Invented sizes; µm and mm, so that 3.7 mm and a length of its own stay whole numbers."""
    about = {"scope": C14}
    sizes = [
        {"channel": "ch_instrument", "inner_um": 3700, "length_mm": 1820},
        {"channel": "ch_jet", "reach": "none"},
    ]
    source = {"title": "Instructions of C-14", "edition": "4", "dated": "2024-05-01"}
    base = {"scope_kind": "colonoscope", "serial": "2741906"}
    lead = Writer("server")
    lead.write("scope.described", base | {"channels": sizes, "instructions": source}, about=about)
    one = inspected()
    found = card(answer(taken(one, lead)))
    assert (found["channels"], found["instructions"]) == (sizes, source)
    lead.write("scope.described", base | {"none_here": ["ch_jet"]}, about=about)
    found = card(answer(taken(one, lead)))
    assert (found["channels"], found["instructions"], found["none_here"]) == ([], None, ["ch_jet"])


def test_only_what_changed_since_comes_and_another_epoch_brings_all() -> None:
    one, two = inspected(), inspected("Sink 2", OTHER)
    tables = taken(one, two)
    first = answer(tables)
    assert first["whole"] and {each["scope"] for each in first["scopes"]} == {C14, OTHER}
    assert first["catalogue"]["text"] == CATALOGUE_TEXT
    nothing = answer(tables, first["position"])
    assert (nothing["whole"], nothing["scopes"], nothing["holds"]) == (False, [], [])
    assert nothing["catalogue"] == {"sha256": first["catalogue"]["sha256"], "text": None}
    sent = len(two.lines)
    two.write("hold.placed", {"reason": "doubt", "tag_on": False}, inspection=False)
    tables.take(two.lines[sent:])
    newer = answer(tables, first["position"])
    assert [each["scope"] for each in newer["scopes"]] == [OTHER]
    assert [(hold["cause"], hold["tag_on"]) for hold in newer["holds"]] == [("placed", False)]
    assert answer(tables, newer["position"], epoch="restored")["whole"]
    assert answer(tables, newer["position"] + 1)["whole"]


def test_what_is_taken_back_or_decided_changes_the_scope_and_ends_the_hold() -> None:
    one, server = Writer("Sink 1"), Writer("server", person="moira.keld")
    hold = one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    undone = one.write("hold.placed", {"reason": "doubt", "tag_on": True})
    tables = taken(one)
    since = answer(tables)["position"]
    one.withdraw(undone)
    tables.take(one.lines[-1:])
    newer = answer(tables, since)
    assert [each["hold"] for each in newer["holds"]] == [hold]
    since = newer["position"]
    server.write("hold.decided", {"hold": hold, "goes": "repair", "first": "nothing", "reason": "seen"})
    tables.take(server.lines)
    newer = answer(tables, since)
    assert [(each["goes"], each["decided"]) for each in newer["holds"]] == [("repair", True)]
    server.write("hold.decided", {"hold": hold, "goes": "on", "first": "nothing", "reason": "seen again"})
    tables.take(server.lines[-1:])
    after = answer(tables, newer["position"])
    assert [each["scope"] for each in after["scopes"]] == [C14] and after["holds"] == []


def test_a_stricter_suggestion_from_the_other_tablet_holds_the_scope() -> None:
    """Row stop_damage: FDA safety communication on bronchoscopes, 2021 (examples of damage)."""
    one, two = Writer("Sink 1"), Writer("Sink 2")
    one.begin()
    one.serial()
    one.conclude("nothing", "on")
    tables = taken(one)
    since = answer(tables)["position"]
    assert answer(tables)["holds"] == []
    two.begin(continues=one.begun)
    two.serial()
    two.find("lens", "lens_crack")
    tables.take(two.lines)
    (hold,) = answer(tables, since)["holds"]
    assert (hold["cause"], hold["goes"], hold["scope"]) == ("suggested", "repair", C14)


def test_an_inspection_without_an_end_can_be_taken_over_with_its_marks() -> None:
    one, two = Writer("Sink 1"), Writer("Sink 2")
    one.begin(none_here=["jet_outlet"])
    one.serial()
    marked = one.mark("lens", "knobs")
    seen = one.find("band_tip", "band_chip")
    (found,) = answer(taken(one), stations=stations_of(one))["open"]
    assert (found["root"], found["scope"], found["point"]) == (one.begun, C14, "after_cleaning")
    (part,) = found["parts"]
    assert (part["station"], part["ended"], part["none_here"]) == ("Sink 1", False, ["jet_outlet"])
    assert sorted(part["marks"][:2], key=lambda row: row["part"]) + part["marks"][2:] == [
        {"part": "knobs", "mark": "nothing_found", "entry": marked},
        {"part": "lens", "mark": "nothing_found", "entry": marked},
        {"part": "band_tip", "mark": "finding", "entry": seen},
    ]
    two.begin(continues=one.begun)
    two.serial()
    two.conclude("nothing", "hold", relies=[marked, seen])
    assert answer(taken(one, two))["open"] == []
    two.withdraw(two.hashes[-1])
    assert len(answer(taken(one, two))["open"]) == 1
    assert answer(taken(one), place="Other house")["open"] == []


def test_where_a_scope_stands_comes_to_a_place_that_never_saw_it() -> None:
    one, two = inspected(), Writer("Cabinet", at=datetime(2025, 11, 25, 11, 30, tzinfo=UTC))
    two.write("scope.processed", {"place": "Clean side", "machine": "W-2", "cycle": "3107"})
    undone = two.write("scope.hung", {"place": "Cabinet 1"})
    found = answer(taken(one, two), place="Clean side")
    assert card(found)["near"] is False and card(found)["none_here"] == []
    (cycle,) = found["cycle"]
    assert [event["what"] for event in cycle["events"]] == ["hung", "processed", "after_cleaning"]
    processed, looked = cycle["events"][1:]
    assert (processed["machine"], processed["cycle"], processed["seq"]) == ("W-2", "3107", 1)
    assert (looked["first"], looked["goes"], looked["at_ms"]) == ("clean", "on", ms_of("2025-11-25T10:26:00Z"))
    two.withdraw(undone)
    (cycle,) = answer(taken(one, two), place="Clean side")["cycle"]
    assert [event["what"] for event in cycle["events"]] == ["processed", "after_cleaning"]


def test_a_step_taken_back_is_gone_from_a_tablet_that_asks_for_what_changed() -> None:
    one = Writer("Sink 1")
    hung = one.write("scope.hung", {"place": "Cabinet 1"})
    tables = taken(one)
    before = tables.position
    one.withdraw(hung)
    tables.take(one.lines[1:])
    assert answer(tables, before)["cycle"] == [{"scope": C14, "events": []}]


def test_a_clock_that_runs_ahead_counts_no_later_than_its_entry_arrived() -> None:
    """The story's entries all arrive at noon."""
    ahead = Writer("Sink 1", at=datetime(2025, 11, 27, tzinfo=UTC))
    ahead.write("scope.hung", {"place": "Cabinet 1"})
    (cycle,) = answer(taken(ahead))["cycle"]
    assert cycle["events"][0]["at_ms"] == ms_of("2025-11-25T12:00:00Z")


def test_a_practised_look_is_no_step_of_the_cycle() -> None:
    assert answer(taken(inspected(practice=True)))["cycle"] == [{"scope": C14, "events": []}]


def test_people_stations_and_facility_always_come() -> None:
    one = inspected()
    tables = taken(one)
    found = answer(tables, tables.position, stations=stations_of(one))
    assert found["people"][0] == {"id": "ila.venn", "name": "Ila Venn", "initials": "IV", "roles": ["technician"]}
    assert found["stations"][0]["name"] == "Sink 1"
    assert found["facility"]["shifts"][0] == {"name": "day", "begins": "06:30", "ends": "15:00"}
    assert set(found) == {
        "epoch", "position", "whole", "people", "scopes", "holds", "open", "stations", "tools", "policy",
        "catalogue", "frequency", "facility", "cycle", "custody", "repairs",
        "hidden", "examples", "asked",
    }  # fmt: skip


def test_the_route_answers_for_the_place_of_who_asks() -> None:
    tables = taken(inspected())
    app = FastAPI()
    app.include_router(cards_routes(card_sources(tables), lambda: PLACE))
    tablet = TestClient(app)
    assert tablet.get("/cards").json() == answer(tables)
    assert tablet.get("/cards", params={"since": tables.position, "epoch": "first"}).json()["scopes"] == []
    assert tablet.get("/cards", params={"since": -1}).status_code == 422


# ---------------------------------------------------------------- cost


def fleet(scopes: int, rounds: int) -> Tables:
    """So many scopes at this place, each looked at so many times."""
    writers = []
    for number in range(scopes):
        one = Writer(f"Sink {number}", scope=f"udi:51022222233336/{number}")
        for turn in range(rounds):
            one.begin()
            one.serial()
            one.mark(*route("after_cleaning")[0])
            one.find("lens", "film", [photo(f"{number} {turn}")])
            one.conclude("clean", "on")
        writers.append(one)
    return taken(*writers)


@pytest.fixture(scope="module")
def small() -> Tables:
    return fleet(4, 10)


@pytest.fixture(scope="module")
def long() -> Tables:
    return fleet(4, 30)


@pytest.fixture(scope="module")
def wide() -> Tables:
    return fleet(40, 10)


def test_a_whole_answer_does_not_grow_with_what_each_scope_went_through(small: Tables, long: Tables) -> None:
    few, many = (steps(tables.engine, lambda t=tables: answer(t)) for tables in (small, long))
    assert many <= few * 1.2


def test_an_answer_of_one_change_does_not_grow_with_the_number_of_scopes(small: Tables, wide: Tables) -> None:
    counted = []
    for tables in (small, wide):
        one = Writer("late", scope="udi:51022222233336/1")
        one.write("hold.placed", {"reason": "doubt", "tag_on": True})
        since = tables.position
        tables.take(one.lines)
        counted.append(steps(tables.engine, lambda t=tables, s=since: answer(t, s)))
    # How old the 300th newest is, is read from an index: a step or so a scope, at most 300.
    assert counted[1] <= counted[0] * 1.2


def test_the_300_newest_of_a_place_come_whole_and_older_than_90_days_none() -> None:
    """The numbers are the product's own: what a tablet's storage holds with a photo a part."""
    writers = []
    for number in range(MOST_NEAR + 2):
        one = Writer(f"{number}", scope=f"udi:51022222233336/{number}")
        one.at = datetime(2025, 8, 27, 0, 0, tzinfo=UTC) + timedelta(minutes=number * 10)
        one.begin()
        writers.append(one)
    tables = taken(*writers)
    near = [int(each["scope"].rsplit("/")[-1]) for each in answer(tables)["scopes"] if each["near"]]
    # 27 August 12:00 is 90 days before noon of 25 November: 72 were begun before that, one each ten minutes.
    assert near == list(range(72, MOST_NEAR + 2))
    later = answer(tables, now_ms=lambda: ms_of("2025-08-30T00:00:00.000Z"))["scopes"]
    assert [int(each["scope"].rsplit("/")[-1]) for each in later if not each["near"]] == [0, 1]


def test_no_table_is_scanned(long: Tables) -> None:
    """`EXPLAIN QUERY PLAN`: SCAN of a table means every row is read (sqlite.org, eqp.html)."""
    rows = plans(long.engine, lambda: answer(long))
    # w and p are the lists asked for, l the nine decisions of one scope; of tools there are a handful,
    # and e are the examples that leads chose; what is asked of people is no longer there once it is answered.
    lists = (
        "SCAN tool_records USING COVERING INDEX",
        "SCAN tool_ids",
        "SCAN e",
        "SCAN d USING INDEX work_asked_open",
        "SCAN w VIRTUAL TABLE",
        "SCAN p VIRTUAL TABLE",
        "SCAN CONSTANT",
        "SCAN (",
        "SCAN l",
    )
    assert [row for row in rows if row.startswith("SCAN") and not row.startswith(lists)] == []


def test_what_lies_over_a_photo_of_before_comes_with_it_as_it_stands() -> None:
    """The length is the first case of shared/vectors/measure.json (worked by hand from the GUM)."""
    one, measure = Writer("Sink 1"), Path(__file__).parents[2] / "shared/vectors/measure.json"
    band = photo("band")
    name = str(band["sha256"])
    arrow = {"photo": name, "tail": {"x": 100, "y": 100}, "tip": {"x": 4000, "y": 5000}}
    length = {"photo": name, **json.loads(measure.read_text())["lengths"][0]["input"]}
    parts, channels = route("after_cleaning")
    one.begin()
    one.serial()
    one.mark(*parts, *channels[:3])
    one.find("band_tip", "stain_fixed", [band], lengths=[length])
    one.write("photo.marked", {"photo": name, "arrows": [arrow]})
    one.withdraw(one.write("photo.marked", {"photo": name, "rings": [{"photo": name, "x": 1, "y": 2, "r": 3}]}))
    one.conclude("clean", "on")
    (found,) = [part for part in card(answer(taken(one)))["parts"] if part["part"] == "band_tip"]
    assert found["photo"]["laid"] == {"rings": [], "arrows": [arrow], "lengths": [length]}
    assert found["first"]["laid"] == found["photo"]["laid"]
