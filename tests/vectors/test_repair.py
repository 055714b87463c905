"""The repair that stands of a scope: `shared/vectors/repair.json`, and random words of it in random orders."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loupebook.rules.repair import (
    ASKS,
    DUES,
    INSIDE,
    ITEMS,
    OPENS,
    STEPS,
    Event,
    Look,
    Repair,
    Tie,
    differs,
    loaner_of,
    may_go_back,
    out_fact,
    released_ms,
    repair_of,
    stops_use,
    tie_of,
)  # fmt: skip

pytestmark = pytest.mark.repair

ROOT = Path(__file__).resolve().parents[2]
VECTORS = json.loads((ROOT / "shared/vectors/repair.json").read_text("utf-8"))
CASES = VECTORS["cases"]


def event_of(given: dict[str, Any]) -> Event:
    return Event(
        given["entry"],
        given["what"],
        given["by"],
        given["at"],
        given.get("repair", ""),
        given.get("on", ""),
        tuple(given.get("over", ())),
        given.get("undone", False),
        given.get("said", {}),
        given.get("photos", 0),
    )


def look_of(given: dict[str, Any]) -> Look:
    return Look(given["entry"], given["what"], given["at"], given.get("goes", ""))


def trip_of(repair: Repair) -> dict[str, Any]:
    return {
        "stage": repair.stage,
        "shipments": list(repair.shipments),
        "returns": list(repair.returns),
        "undecided": list(repair.undecided),
        "bounces": repair.bounces,
        "owes": list(repair.owes),
    }


def told(repair: Repair | None) -> dict[str, Any] | None:
    if repair is None:
        return None
    return {
        "state": repair.state,
        "openers": list(repair.openers),
        "since": repair.since_ms,
        "leak_failed": repair.leak_failed,
        "unconfirmed": list(repair.unconfirmed),
        "statements": list(repair.statements),
        "packings": list(repair.packings),
        "contaminated": list(repair.contaminated),
        "missing": list(repair.missing),
    }


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["description"])
def test_what_stands_is_the_same_in_any_order(case: dict[str, Any]) -> None:
    events = [event_of(each) for each in case["events"]]
    looks = [look_of(each) for each in case.get("looks", ())]
    for seed in range(6):
        mixed = random.Random(seed).sample([*events, *events], 2 * len(events))
        repair = repair_of(mixed, case["serial_photo"], reversed(looks) if seed % 2 else looks)
        assert told(repair) == case["expected"]
        if "trip" in case:
            assert repair and trip_of(repair) == case["trip"]


@pytest.mark.parametrize("case", VECTORS["loans"], ids=lambda case: case["description"])
def test_a_loan_stands_until_it_left(case: dict[str, Any]) -> None:
    loaner = loaner_of(map(event_of, case["events"]), map(look_of, case["looks"]))
    found = loaner and {"stage": loaner.stage, "since": loaner.since_ms, "came": list(loaner.came)}
    assert (found and found | {"owes": list(loaner.owes), "for": loaner.stands_for}) == case["expected"]


@pytest.mark.parametrize("case", VECTORS["ties"], ids=lambda case: case["description"])
def test_a_loan_stands_in_for_the_scope_that_was_said_last(case: dict[str, Any]) -> None:
    loaner = loaner_of(map(event_of, case["events"]))
    assert loaner
    tie = tie_of("L", loaner, [(each["scope"], event_of(each)) for each in case["shipped"]])
    assert (tie and {"scope": tie.scope, "since": tie.since_ms}) == case["expected"]


@pytest.mark.parametrize("case", VECTORS["goes_back"], ids=lambda case: case["description"])
def test_a_loan_may_go_back_once_the_scope_it_stands_in_for_is_released(case: dict[str, Any]) -> None:
    events = [event_of(each) for each in case["events"]]
    tie = Tie("S", case["tied"])
    assert may_go_back(tie, repair_of(events, True), released_ms(events)) is case["expected"]


@pytest.mark.parametrize("case", VECTORS["uses"], ids=lambda case: case["description"])
def test_what_stops_a_use_is_a_repair_that_stands_or_a_loan_not_in_service(case: dict[str, Any]) -> None:
    events, looks = [event_of(each) for each in case["events"]], [look_of(each) for each in case["looks"]]
    assert stops_use(repair_of(events, True, looks), loaner_of(events, looks)) == case["expected"]


@pytest.mark.parametrize("case", VECTORS["differences"], ids=lambda case: case["description"])
def test_what_came_back_otherwise_than_it_left_is_found(case: dict[str, Any]) -> None:
    assert differs(case["left"], case["came"]) == case["expected"]


def test_how_long_it_is_out_counts_whole_minutes_and_is_not_told_by_a_wrong_clock() -> None:
    assert out_fact(1_000, "colonoscope", 121_999)["minutes"] == 2
    assert "minutes" not in out_fact(1_000, "colonoscope", 999)


def test_each_case_names_its_source() -> None:
    assert [case["description"] for case in CASES if len(case["source"]) < 10] == []


def test_every_item_of_a_packet_is_missing_in_some_case_and_there_in_another() -> None:
    lists = [set(case["expected"]["missing"]) for case in CASES if case["expected"]]
    assert set.union(*lists) == set(ITEMS)
    assert set.intersection(*lists) == set()


NAMES = tuple("abcdefgh")
WHATS = [*sorted(ASKS | OPENS | STEPS), "closed", "approved", "test_held", "loaner_in", "loaner_noted", "loaner_out"]
looks = st.builds(
    Look,
    st.sampled_from(tuple("stuv")),
    st.sampled_from(["acceptance", "processed"]),
    st.integers(1, 5),
    st.sampled_from(["", "on", "hold", "repair"]),
)
said = st.fixed_dictionaries(
    {},
    optional={
        "words": st.sampled_from(["", "it lags"]),
        "label_on": st.booleans(),
        "processed_by": st.sampled_from(["rin", "ila"]),
        "contaminated": st.lists(st.sampled_from(["ch_air", "inside"]), max_size=2),
        "contact": st.sampled_from(["", "204"]),
        "serial": st.sampled_from(["yes", "no"]),
        "estimate": st.booleans(),
    },
)
events = st.builds(
    Event,
    st.sampled_from(NAMES),
    st.sampled_from(WHATS),
    st.sampled_from(["rin", "ila"]),
    st.integers(1, 5),
    st.sampled_from(["", *NAMES]),
    st.sampled_from(["", *NAMES]),
    st.lists(st.sampled_from(NAMES), max_size=3).map(tuple),
    st.booleans(),
    said,
    st.integers(0, 1),
)


@given(
    st.lists(events, unique_by=lambda event: event.entry),
    st.booleans(),
    st.lists(looks, unique_by=lambda look: look.entry),
    st.randoms(use_true_random=False),
)
def test_no_order_changes_what_stands_and_no_packet_is_complete_without_statement_and_label(
    known: list[Event], serial: bool, seen: list[Look], chance: random.Random
) -> None:
    repair = repair_of(known, serial, seen)
    assert repair_of(chance.sample(known, len(known)), serial, chance.sample(seen, len(seen))) == repair
    if repair is None:
        return
    by_entry = {event.entry: event for event in known}
    statements = [by_entry[entry] for entry in repair.statements]
    if not repair.missing:
        assert statements and all(each.said.get("label_on") is True for each in statements)
    if repair.leak_failed and statements and INSIDE not in repair.contaminated:
        assert all(each.person == each.said.get("processed_by") for each in statements)
    if repair.owes == ():  # released only when it came, was accepted after that, and processed after that
        came = max(by_entry[entry].at_ms for entry in repair.returns)
        accepted = max(
            (look for look in seen if look.what == "acceptance" and look.at_ms >= came),
            key=lambda look: (look.at_ms, look.entry),
        )
        assert accepted.goes == "on" and not repair.shipments
        assert any(look.what == "processed" and look.at_ms >= accepted.at_ms for look in seen)
    assert set(repair.owes) <= set(DUES)
    assert (repair.state == "open") == any(by_entry[entry].what in OPENS for entry in repair.openers)
