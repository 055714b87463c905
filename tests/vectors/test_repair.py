"""The repair that stands of a scope: `shared/vectors/repair.json`, and random words of it in random orders."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loupebook.rules.repair import ASKS, INSIDE, ITEMS, OPENS, STEPS, Event, Repair, repair_of

pytestmark = pytest.mark.repair

ROOT = Path(__file__).resolve().parents[2]
CASES = json.loads((ROOT / "shared/vectors/repair.json").read_text("utf-8"))["cases"]


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
    assert told(repair_of(events, case["serial_photo"])) == case["expected"]
    for seed in range(6):
        mixed = random.Random(seed).sample([*events, *events], 2 * len(events))
        assert told(repair_of(mixed, case["serial_photo"])) == case["expected"]


def test_each_case_names_its_source() -> None:
    assert [case["description"] for case in CASES if len(case["source"]) < 10] == []


def test_every_item_of_a_packet_is_missing_in_some_case_and_there_in_another() -> None:
    lists = [set(case["expected"]["missing"]) for case in CASES if case["expected"]]
    assert set.union(*lists) == set(ITEMS)
    assert set.intersection(*lists) == set()


NAMES = tuple("abcdefgh")
WHATS = [*sorted(ASKS | OPENS | STEPS), "closed"]
said = st.fixed_dictionaries(
    {},
    optional={
        "words": st.sampled_from(["", "it lags"]),
        "label_on": st.booleans(),
        "processed_by": st.sampled_from(["rin", "ila"]),
        "contaminated": st.lists(st.sampled_from(["ch_air", "inside"]), max_size=2),
        "contact": st.sampled_from(["", "204"]),
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


@given(st.lists(events, unique_by=lambda event: event.entry), st.booleans(), st.randoms(use_true_random=False))
def test_no_order_changes_what_stands_and_no_packet_is_complete_without_statement_and_label(
    known: list[Event], serial: bool, chance: random.Random
) -> None:
    repair = repair_of(known, serial)
    assert repair_of(chance.sample(known, len(known)), serial) == repair
    if repair is None:
        return
    by_entry = {event.entry: event for event in known}
    statements = [by_entry[entry] for entry in repair.statements]
    if not repair.missing:
        assert statements and all(each.said.get("label_on") is True for each in statements)
    if repair.leak_failed and statements and INSIDE not in repair.contaminated:
        assert all(each.person == each.said.get("processed_by") for each in statements)
    assert (repair.state == "open") == any(by_entry[entry].what in OPENS for entry in repair.openers)
