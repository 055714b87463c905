"""The desk's view of the cycle: which scopes wait, what is past a limit, and what a look before use leaned on.

Limits are rows of the first policy; their sources stand in it. The story's clock stands at noon.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from loupebook.cards.cards import cards
from loupebook.reading.page import page
from loupebook.reading.today import today
from story import SHIFT, Tables, Writer, card_sources, lead_sources, photo, plans, stations_of, taken

pytestmark = [pytest.mark.breadth, pytest.mark.shift]
NOON = datetime(2025, 11, 25, 12, 0, tzinfo=UTC)


def at(ago: timedelta, name: str = "Sink 1", **more: Any) -> Writer:
    """A chain whose first entry is this long before noon."""
    return Writer(name, at=NOON - ago - timedelta(minutes=1), **more)


def the_day(*writers: Writer) -> dict[str, Any]:
    tables = taken(*writers)
    with tables.reading() as connection:
        return dict(today(connection, lead_sources(tables, stations_of(*writers)), SHIFT))


def the_page(root: str, *writers: Writer) -> dict[str, Any]:
    tables = taken(*writers)
    with tables.reading() as connection:
        found = page(connection, lead_sources(tables, stations_of(*writers)), root)
    assert found is not None
    return found


def before_use(writer: Writer, **more: object) -> str:
    root = writer.begin("before_use")
    writer.serial()
    writer.conclude(**more)
    return root


def whats(found: dict[str, Any]) -> list[str]:
    return [point["what"] for point in found["points"]]


def test_a_received_scope_waits_and_one_past_the_delay_says_which_row() -> None:
    soon, late = at(timedelta(minutes=20)), at(timedelta(minutes=70), "Sink 2", scope="udi:51022222233336/2740388")
    soon.write("scope.received", {"place": "Sink 1"})
    late.write("scope.received", {"place": "Sink 2", "procedure_end": "2025-11-25T10:40:00.000Z"})
    rows = the_day(soon, late)["cycle"]
    assert [(row["scope"]["serial"], row["phase"]) for row in rows] == [
        ("2740388", "received"),
        ("2741906", "received"),
    ]
    assert [[over["row"] for over in row["over"]] for row in rows] == [["delay_over"], []]
    assert rows[0]["over"][0]["minutes"] == 80 and len(rows[0]["over"][0]["source"]) > 10


def test_what_hangs_waits_for_nothing_until_its_limit() -> None:
    """7 days: the facility's own choice (SGNA, from memory)."""
    hung = at(timedelta(days=6))
    hung.write("scope.hung", {"place": "Cabinet 1"})
    assert the_day(hung)["cycle"] == []
    old = at(timedelta(days=8))
    old.write("scope.hung", {"place": "Cabinet 1"})
    (row,) = the_day(old)["cycle"]
    assert (row["place"], row["over"][0]["row"], row["over"][0]["first"]) == ("Cabinet 1", "hung_over", "whole")


def test_a_scope_that_a_lead_has_or_that_was_used_does_not_wait() -> None:
    held = at(timedelta(hours=1))
    held.begin()
    held.serial()
    held.conclude("nothing", "hold")
    assert the_day(held)["cycle"] == []
    used = at(timedelta(hours=1))
    before_use(used)
    assert the_day(used)["cycle"] == []


def test_ready_for_use_stands_on_the_processing_that_is_on_record() -> None:
    clean = at(timedelta(hours=2))
    processed = clean.write("scope.processed", {"place": "Clean side", "machine": "W-2", "cycle": "3107"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed)
    found = the_page(root, clean, room)
    assert (found["disinfection"]["entry"], found["disinfection"]["cycle"]) == (processed, "3107")
    assert whats(found) == []
    (line,) = the_day(clean, room)["inspections"]
    assert line["disinfection"]["machine"] == "W-2"


def test_without_a_processing_on_record_that_is_said_and_nothing_is_put_aside() -> None:
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room)
    found = the_page(root, room)
    assert found["disinfection"] is None and found["goes"] == "on" and whats(found) == []


def test_a_processing_that_another_tablet_undid_is_an_open_point() -> None:
    """The dirty side received it again; that entry came to the server after the decision."""
    clean = at(timedelta(hours=2))
    processed = clean.write("scope.processed", {"place": "Clean side"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed)
    dirty = at(timedelta(minutes=90), "Sink 2")
    dirty.write("scope.received", {"place": "Sink 2"})
    found = the_page(root, clean, room, dirty)
    assert found["disinfection"] is None
    assert found["points"] == [{"what": "disinfection_undone", "entry": processed}]


def test_a_step_taken_back_undoes_nothing() -> None:
    clean = at(timedelta(hours=2))
    processed = clean.write("scope.processed", {"place": "Clean side"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed)
    dirty = at(timedelta(minutes=90), "Sink 2")
    dirty.withdraw(dirty.write("scope.received", {"place": "Sink 2"}))
    assert whats(the_page(root, clean, room, dirty)) == []


def test_a_limit_that_was_past_by_what_came_later_is_an_open_point() -> None:
    """Out of the machine for four hours: British Society of Gastroenterology, 2020, within 3 hours."""
    clean = at(timedelta(hours=5))
    processed = clean.write("scope.processed", {"place": "Clean side"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed)
    (point,) = the_page(root, clean, room)["points"]
    assert point["what"] == "past_limit" and [row["row"] for row in point["rows"]] == ["out_over"]


def test_let_go_before_use_while_a_repair_stood_is_an_open_point_until_the_repair_is_taken_back() -> None:
    """What was repaired is accepted and processed before use: ESGE-ESGENA position statement, 2018 (from memory)."""
    clean = at(timedelta(hours=2))
    asked = clean.write("repair.asked", {"words": "the tip lags"}, inspection=False)
    processed = clean.write("scope.processed", {"place": "Clean side"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed)
    (point,) = the_page(root, clean, room)["points"]
    assert (point["what"], point["why"]) == ("use_stopped", "repair")
    clean.withdraw(asked)
    assert whats(the_page(root, clean, room)) == []
    loan = {"place": "Dock", "owner": "Far Bank", "instructions": True, "fits": "yes", "accessories": []}
    dock = at(timedelta(hours=3), "Dock")
    dock.write("loaner.received", loan, [photo("plate", "serial")], inspection=False)
    (point,) = the_page(root, clean, room, dock)["points"]
    assert (point["what"], point["why"]) == ("use_stopped", "loan"), "processed, and never accepted"


def test_a_person_who_was_told_and_chose_laxer_asked_the_lead_and_is_not_told_on_twice() -> None:
    clean = at(timedelta(hours=5))
    processed = clean.write("scope.processed", {"place": "Clean side"})
    room = at(timedelta(hours=1), "Room 3")
    root = before_use(room, disinfection=processed, suggested_first="whole")
    assert whats(the_page(root, clean, room)) == ["asked_laxer"]


def test_the_list_reads_by_index_what_it_says_of_each_scope() -> None:
    """`EXPLAIN QUERY PLAN`: SCAN of a table means every row is read (sqlite.org, eqp.html)."""
    tables = Tables()
    for number in range(40):
        writer = at(timedelta(hours=3), f"Sink {number}", scope=f"udi:51022222233336/{number}")
        writer.write("scope.received", {"place": "Sink 1"})
        before_use(writer)
        tables.take(writer.lines)
    with tables.reading() as connection:
        sources = lead_sources(tables)
        rows = plans(tables.engine, lambda: today(connection, sources, SHIFT))
    scanned = {row.split()[1] for row in rows if row.startswith("SCAN")}
    of_repairs = {row for row in rows if "repair_words" in row and "repair_words_left" not in row}
    assert of_repairs <= {"SEARCH repair_words USING COVERING INDEX repair_words_of (scope=?)"}, "whether there are any"
    assert scanned - {"repair_words"} == {"d", "scope_touched", "w", "l", "q"}, (
        "the list of scopes, keys handed in, the newest of one scope; what ever left for repair; photos to be erased"
    )
    assert [row for row in rows if row.startswith("SCAN d")] == ["SCAN d USING INDEX holds_standing"]


def still_weak(writer: Writer) -> None:
    """No finding: a channel's flow, tried as it is at every cleaning."""
    writer.write("channel.looked", {"channel": "ch_suction", "outcome": "through", "flow": "weak"})


def still_over(writer: Writer) -> None:
    """No finding: a value over the limit its own meter's maker states."""
    value = {"value_thousandths": 400_000, "unit": "rlu", "limit_thousandths": 200_000}
    writer.write("reading.taken", {"what": "atp", "result": "value", **value})


@pytest.mark.parametrize(("found", "row"), [(still_weak, "flow_still"), (still_over, "reading_second")])
def test_what_is_not_better_after_cleaning_again_climbs_the_ladder_though_nothing_was_found(
    found: Callable[[Writer], None], row: str
) -> None:
    """Rows flow_still (common practice, no source) and reading_second (after the CDC interim protocol, 2015)."""
    one = at(timedelta(hours=2))
    first = one.begin()
    found(one)
    one.conclude(first="clean")
    second = one.begin()
    found(one)
    one.conclude(first="clean")
    spoke = [{each["row"] for each in the_page(root, one)["suggested"]["rows"]} for root in (first, second)]
    assert [row in rows for rows in spoke] == [False, True], spoke


def soil(writer: Writer) -> None:
    writer.find("biopsy_port", "soil")


def cycle_with(found: Callable[[Writer], None], writer: Writer) -> str:
    """Dirty once, sent back, clean after that and let on: in a row it counts no more from then on."""
    root = writer.begin()
    found(writer)
    writer.conclude(first="clean")
    writer.begin()
    writer.conclude()
    return root


@pytest.mark.parametrize(("found", "row"), [(soil, "soil_often"), (still_over, "reading_often")])
def test_a_scope_sent_back_once_in_each_of_three_cycles_is_told_of_though_never_twice_in_a_row(
    found: Callable[[Writer], None], row: str
) -> None:
    """Three times or more: after the CDC interim surveillance protocol, 2015; over all cycles: Infect Control Hosp
    Epidemiol 2022;43:1466. Both numbers are the facility's."""
    chains = [at(timedelta(days=ago), f"Sink {ago}") for ago in (80, 30, 0)]
    roots = [cycle_with(found, chain) for chain in chains]
    pages = [the_page(root, *chains) for root in roots]
    spoke = [{each["row"] for each in one["suggested"]["rows"]} for one in pages]
    assert [row in rows for rows in spoke] == [False, False, True] and "soil_third" not in spoke[2]
    assert [one["points"] for one in pages[:2]] == [[], []]
    (told,) = pages[2]["points"]
    assert (told["what"], told["row"], told["times"], told["days"]) == ("sent_back_often", row, 2, 90)
    assert "CDC" in told["source"] and "2022;43:1466" in told["source"]
    assert pages[2]["suggested"]["goes"] == "on", "a word to the lead, no hold: how often is the facility's own number"
    (card,) = the_cards(*chains)
    assert card["cleanings"] == 0 and [each["root"] for each in card["sent_back"]] == roots[::-1]


def test_what_is_older_than_the_days_of_the_policy_or_was_taken_back_or_asked_for_by_time_counts_no_more() -> None:
    old, late, now = (at(timedelta(days=ago), f"Sink {ago}") for ago in (91, 40, 0))
    cycle_with(soil, old)
    cycle_with(soil, late)
    late.begin()
    late.withdraw(late.conclude(first="clean"))
    late.begin("before_use")
    late.conclude(first="whole")
    root = cycle_with(soil, now)
    assert whats(the_page(root, old, late, now)) == []
    late.begin("before_use")
    soil(late)
    late.conclude(first="whole")
    late.begin()
    late.conclude()
    assert whats(the_page(root, old, late, now)) == ["sent_back_often"], "the whole cycle because of dirt counts"


def the_cards(*writers: Writer) -> list[dict[str, Any]]:
    tables = taken(*writers)
    with tables.reading() as connection:
        found = cards(connection, card_sources(tables), "Harrow Lake", 0, "first")
    rows = found["scopes"]
    assert isinstance(rows, list)
    return rows
