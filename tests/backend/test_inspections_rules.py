"""Board rules: what two tablets and the clock make of one inspection. Policy rows and their sources: shared/policy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest
from loupebook.inspections.rules import Rounds, Standing, cleanings_of, disputed, standing_of
from loupebook.inspections.tables.stands import inspections
from story import PINS, Writer, photo, route, taken

pytestmark = pytest.mark.sink


def standing(*writers: Writer, cleanings: int = 0, unproved: Sequence[str] = ()) -> Standing:
    tables = taken(*writers)
    with tables.reading() as connection:
        (one,) = inspections(connection, [str(writers[0].begun)])
    return standing_of(one, PINS.get, Rounds(cleanings), unproved=unproved)


def points(found: Standing) -> dict[str, Mapping[str, Any]]:
    return {point.what: point.about for point in found.points}


def begun(name: str = "sink 1", **more: Any) -> Writer:
    writer = Writer(name, ahead_ms=more.pop("ahead_ms", 0))
    writer.begin(**more)
    writer.serial(more.get("agrees", "yes"))
    return writer


def test_six_counts_add_up_to_the_route_of_the_colonoscope() -> None:
    """30 parts and 6 channels after cleaning (the catalogue; common practice, no source)."""
    parts, channels = route("after_cleaning")
    one = begun(none_here=["jet_outlet", "stiffness_ring"], not_due=["ch_air"])
    one.mark(*parts[:10])
    one.mark("contacts", mark="could_not_look", reason="cap_on")
    one.find("tube_2", "peeling_coat")
    one.write("channel.looked", {"channel": "ch_suction", "outcome": "through"})
    one.write("channel.looked", {"channel": "ch_junction", "outcome": "blocked"})
    found = standing(one)
    assert sum(found.counts.values()) == len(parts) + len(channels) == 36
    assert found.counts == {
        "nothing_found": 11, "finding": 1, "could_not_look": 2, "not_due": 1, "none_here": 1, "not_looked": 20,
    }  # fmt: skip


def test_a_part_that_was_marked_counts_even_where_the_record_says_there_is_none() -> None:
    one = begun(none_here=["jet_outlet"])
    one.find("jet_outlet", "film")
    assert {stop.id: stop.mark for stop in standing(one).stops}["jet_outlet"] == "finding"


def test_not_due_on_one_tablet_and_due_on_the_other_is_not_looked() -> None:
    one, two = begun(not_due=["ch_air"], none_here=["jet_outlet"]), Writer("sink 2")
    two.begin(continues=one.begun, none_here=["jet_outlet"])
    found = {stop.id: stop.mark for stop in standing(one, two).stops}
    assert (found["ch_air"], found["jet_outlet"]) == ("not_looked", "none_here")


def test_two_marks_on_one_part_are_both_shown_and_the_stricter_counts() -> None:
    one, two = begun(), Writer("sink 2")
    one.mark("lens", "knobs")
    two.begin(continues=one.begun)
    two.serial()
    two.mark("lens", mark="could_not_look", reason="too_wet")
    two.mark("knobs")
    found = standing(one, two)
    (lens,) = [stop for stop in found.stops if stop.id == "lens"]
    assert (lens.mark, len(lens.marks)) == ("could_not_look", 2)
    assert points(found)["two_marks"] == {
        "part": "lens",
        "counts": "could_not_look",
        "marks": {one.begun: "nothing_found", two.begun: "could_not_look"},
    }


def test_a_second_thought_on_one_tablet_is_no_contradiction() -> None:
    one = begun()
    one.mark("lens")
    one.find("lens", "film")
    found = standing(one)
    assert "two_marks" not in points(found)
    assert {stop.id: stop.mark for stop in found.stops}["lens"] == "finding"


def test_what_the_other_tablet_found_makes_the_decision_too_lax() -> None:
    """Row stop_damage: FDA safety communication on bronchoscopes, 2021 (examples of damage)."""
    one, two = begun(), Writer("sink 2")
    two.begin(continues=one.begun)
    two.serial()
    two.find("lens", "lens_crack")
    one.conclude("nothing", "on")
    found = standing(one, two)
    assert points(found)["suggested_stricter"]["goes"] == "repair"
    assert (found.goes, found.state) == ("on", "concluded")
    assert [stop.id for stop in found.stops if stop.out_of_use] == ["lens"]


def test_a_stricter_decision_is_nobodys_open_point() -> None:
    one = begun()
    one.find("lens", "lens_crack")
    one.conclude("whole", "repair")
    assert points(standing(one)) == {}


def test_a_laxer_choice_waits_for_the_lead() -> None:
    """Row soil_again: FDA duodenoscope communications, 2018 and 2019: clean again if soil shows."""
    one = begun()
    seen = one.find("biopsy_port", "soil")
    ended = one.conclude("nothing", "on", suggested_first="clean")
    found = points(standing(one))
    assert found["asked_laxer"] == {"entry": ended, "first": "clean", "goes": "on"}
    assert "suggested_stricter" not in found
    one.withdraw(ended)
    one.withdraw(seen)
    assert points(standing(one)) == {}


@pytest.mark.parametrize(("cleanings", "goes"), [(1, "on"), (2, "hold")])
def test_soil_for_the_third_time_holds(cleanings: int, goes: str) -> None:
    """Row soil_third: ladder after CDC interim duodenoscope surveillance protocol, 2015 (three times or more)."""
    one = begun()
    one.find("biopsy_port", "soil")
    suggested = standing(one, cleanings=cleanings).suggested
    assert suggested is not None and (suggested.first, suggested.goes) == ("clean", goes)


def test_a_contradicting_serial_number_is_an_open_point_and_asks_for_a_hold() -> None:
    one = Writer("sink 1")
    one.begin()
    one.serial("yes")
    differing = one.serial("no")
    found = standing(one)
    assert points(found)["serial_differs"] == {"entries": [differing]}
    assert found.suggested is not None and found.suggested.goes == "hold"


def test_what_the_server_reads_in_the_photo_outweighs_what_was_typed_at_the_sink() -> None:
    one, server = begun(), Writer("server", person="server")
    one.conclude()
    read = server.read_again(str(photo(f"serial {one.name} 1", "serial")["sha256"]), str(one.begun))
    found = standing(one, server)
    assert points(found)["serial_differs"] == {"entries": [read]}
    assert found.suggested is not None and found.suggested.goes == "hold"


def test_an_online_proof_the_door_does_not_know_is_an_open_point() -> None:
    one = begun()
    assert points(standing(one, unproved=[one.hashes[1]]))["proof_unknown"] == {"entries": [one.hashes[1]]}


@pytest.mark.parametrize(("ahead_ms", "told"), [(599_999, False), (600_000, True), (-600_000, True)])
def test_a_clock_off_by_ten_minutes_is_an_open_point(ahead_ms: int, told: bool) -> None:
    one = begun(ahead_ms=ahead_ms)
    assert points(standing(one)).get("clock_off") == ({"begun": one.begun, "off_ms": ahead_ms} if told else None)


def test_held_without_a_tag_going_on_twice_and_relying_on_what_is_not_here() -> None:
    one, two, three = begun(), Writer("sink 2"), Writer("sink 3")
    missing = "f" * 64
    ended = one.conclude("nothing", "hold", tag_on=False, relies=[missing, one.hashes[1]])
    for other in (two, three):
        other.begin(continues=one.begun)
    found = points(standing(one, two, three))
    assert found["without_tag"] == {"hold": ended}
    assert set(found["continued_twice"]["parts"]) == {two.begun, three.begun}
    assert found["relies_missing"] == {"entries": [missing]}


def test_a_failed_leak_test_without_a_decision_is_an_open_point() -> None:
    """FDA safety communication on bronchoscopes, 2015: out of service after a failed leak test."""
    one = Writer("sink 1")
    one.begin("at_leak_test")
    entry = one.write("reading.taken", {"what": "leak_test", "result": "bubbles", "parts": ["bending_cover"]})
    found = standing(one)
    assert points(found)["leak_test_failed"] == {"entries": [entry]}
    assert found.suggested is not None and found.suggested.goes == "repair"


def test_a_part_of_another_scope_is_named() -> None:
    one, two = begun(), Writer("sink 2", scope="udi:51022222233336/2741960")
    two.begin(continues=one.begun)
    assert points(standing(one, two))["other_scope"] == {"scopes": sorted([one.scope, two.scope])}


def test_abandoned_is_not_concluded() -> None:
    one = begun()
    one.write("inspection.abandoned", {"reason": "wrong_scope"}, [photo("case", "case")])
    assert standing(one).state == "abandoned"


@pytest.mark.parametrize(
    ("firsts", "count"), [([], 0), (["clean", "whole", "nothing", "clean"], 2), (["nothing", "clean"], 0), (["dry"], 0)]
)
def test_cleanings_are_counted_back_to_the_last_that_asked_for_none(firsts: list[str], count: int) -> None:
    assert cleanings_of(("after_cleaning", first) for first in firsts) == count


def test_two_corrections_on_one_version_are_disputed() -> None:
    assert disputed([("b", "a"), ("c", "b")]) == []
    assert disputed([("b", "a"), ("c", "a")]) == ["a"]
