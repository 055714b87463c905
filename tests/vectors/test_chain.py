"""The chain rules against `shared/vectors/chain.json`: given a history that counts, the verdict on what comes next."""

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
from loupebook.record.kinds import Entry
from loupebook.record.lines import Line, parse_line, write_line
from loupebook.rules.chain import RULES, TABLE, advance, judge
from loupebook.rules.chain_state import NOTHING, State

pytestmark = pytest.mark.sink

ROOT = Path(__file__).resolve().parents[2]
FILE = json.loads((ROOT / "shared/vectors/chain.json").read_text())
ENVELOPE = {
    "v": 1,
    "chain": "0" * 64,
    "seq": 1,
    "prev": "0" * 64,
    "at": "2026-03-02T08:00:00.000+01:00",
    "clock": None,
    "person": "ila_venn",
    "proof": {"how": "pin", "where": "offline"},
    "build": "vector",
}


def read(entry: dict[str, Any]) -> Line:
    return parse_line(write_line({**ENVELOPE, **entry}))


def verdict(case: dict[str, Any]) -> dict[str, str]:
    state: State = NOTHING
    for step in case["history"]:
        line = read(step["entry"])
        given = judge(state, line.entry, line.body, step["hash"], FILE["pins"].get)
        assert given.verdict == "counted", f"the history itself is put aside: {step['entry']['kind']} {given.reason}"
        state = advance(state, line.entry, line.body, step["hash"])
    line = read(case["next"]["entry"])
    given = judge(state, line.entry, line.body, case["next"]["hash"], FILE["pins"].get)
    return {name: value for name, value in given._asdict().items() if value is not None}


@pytest.mark.parametrize("case", FILE["cases"], ids=lambda case: case["description"])
def test_the_verdict_is_what_the_rules_say(case: dict[str, Any]) -> None:
    assert verdict(case) == case["expected"]


@lru_cache
def reasons_of_the_vectors() -> set[str]:
    return {case["expected"].get("reason", "") for case in FILE["cases"]}


def test_every_reason_of_the_table_and_of_the_guards_has_a_case() -> None:
    guards = {"part_not_on_route", "zone_not_allowed", "zone_has_photo", "route_not_covered", "catalogue_unknown"}
    targets = {"target_not_here", "target_not_withdrawable"}
    wanted = {*TABLE.reasons.values(), "photo_must_show_serial", *guards, *targets}
    assert wanted <= reasons_of_the_vectors()


def test_every_kind_of_the_table_has_a_case_that_counts() -> None:
    counted = {case["next"]["entry"]["kind"] for case in FILE["cases"] if case["expected"]["verdict"] == "counted"}
    assert counted == set(RULES)


def test_judging_and_advancing_leave_the_state_as_it_was() -> None:
    for case in FILE["cases"]:
        state: State = NOTHING
        for step in case["history"]:
            line = read(step["entry"])
            before = msgspec.json.encode(repr(state))
            judge(state, line.entry, line.body, step["hash"], FILE["pins"].get)
            after = advance(state, line.entry, line.body, step["hash"])
            assert msgspec.json.encode(repr(state)) == before
            state = after


def test_an_entry_of_a_kind_without_a_rule_is_put_aside() -> None:
    line = read(FILE["cases"][0]["next"]["entry"])
    stranger: Entry = msgspec.structs.replace(line.entry, kind="scope.retired")
    assert judge(NOTHING, stranger, line.body, "0" * 64, FILE["pins"].get).reason == "unknown_kind"
