"""Where a scope stands in its cycle against `shared/vectors/cycle.json`, and the same whatever the order of arrival."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loupebook.rules.cycle import POINTS, STEPS, Event, in_order, minutes_of, span_facts, stand_of
from loupebook.rules.policy import suggest

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
FILE = json.loads((ROOT / "shared/vectors/cycle.json").read_text("utf-8"))
POLICY = json.loads((ROOT / FILE["policy"]).read_text("utf-8"))


def ms(moment: str | None) -> int | None:
    return None if moment is None else round(datetime.fromisoformat(moment).timestamp() * 1000)


def event_of(given: dict[str, Any], index: int) -> Event:
    at_ms = ms(given["at"])
    assert at_ms is not None
    return Event(
        entry=f"e{given.get('same_as', index)}",
        what=given["what"],
        at_ms=at_ms,
        chain=given.get("chain", "a"),
        seq=given.get("seq", index + 1),
        place=given.get("place", ""),
        first=given.get("first"),
        goes=given.get("goes"),
        procedure_end_ms=ms(given.get("procedure_end")),
        cleaning_ms=ms(given.get("cleaning")),
        of=f"e{given['of']}" if "of" in given else None,
    )


@pytest.mark.parametrize("case", FILE["cases"], ids=lambda case: case["description"])
def test_a_scope_stands_where_its_events_put_it(case: dict[str, Any]) -> None:
    now_ms, expected = ms(case["now"]), case["expected"]
    assert now_ms is not None
    stand = stand_of([event_of(each, index) for index, each in enumerate(case["events"])], now_ms)
    asked = suggest(POLICY, span_facts(stand, "colonoscope", now_ms))
    assert {
        "phase": stand.phase,
        "since": stand.since_ms if stand.last else None,
        "disinfected": stand.disinfected.entry if stand.disinfected else None,
        "spans": {span.span: minutes_of(span, now_ms) for span in stand.spans},
        "first": asked.first,
        "rows": [spoken.row for spoken in asked.rows],
    } == expected | {
        "since": ms(expected["since"]),
        "disinfected": None if expected["disinfected"] is None else f"e{expected['disinfected']}",
    }


def test_each_case_names_its_source() -> None:
    assert [case["description"] for case in FILE["cases"] if len(case["source"]) < 10] == []


HOUR_MS = 3_600_000
chains = st.lists(
    st.lists(st.tuples(st.sampled_from([*STEPS, *POINTS]), st.integers(0, 40 * HOUR_MS)), max_size=6),
    min_size=2,
    max_size=3,
)


def written(drawn: list[list[tuple[str, int]]]) -> list[Event]:
    return [
        Event(f"{chain}-{seq}", what, at_ms, f"chain {chain}", seq, first="nothing", goes="on")
        for chain, steps in enumerate(drawn)
        for seq, (what, at_ms) in enumerate(steps, start=1)
    ]


@given(chains, st.randoms(use_true_random=False), st.integers(0, 48 * HOUR_MS))
def test_the_order_of_arrival_changes_nothing_and_no_chain_is_turned_round(
    drawn: list[list[tuple[str, int]]], chance: Any, now_ms: int
) -> None:
    events = written(drawn)
    mixed = [*events, *events[:2]]
    chance.shuffle(mixed)
    assert stand_of(mixed, now_ms) == stand_of(events, now_ms)
    placed = in_order(events, now_ms)
    for chain in {event.chain for event in placed}:
        own = [event for event in placed if event.chain == chain]
        assert [event.seq for event in own] == sorted(event.seq for event in own)
    assert all(event.at_ms <= now_ms for event in placed)


@given(chains, st.integers(40 * HOUR_MS, 48 * HOUR_MS))
def test_a_disinfection_is_only_ever_the_newest_processing(drawn: list[list[tuple[str, int]]], now_ms: int) -> None:
    """Nothing that a person could mistake for a disinfection: no step but `processed` makes one."""
    events = written(drawn)
    stand = stand_of(events, now_ms)
    if stand.disinfected is None:
        return
    placed = in_order(events, now_ms)
    newest = [event for event in placed if event.what == "processed"][-1]
    assert stand.disinfected == newest
    later = placed[placed.index(newest) + 1 :]
    assert {event.what for event in later} <= {"hung", "taken", "after_drying"}
