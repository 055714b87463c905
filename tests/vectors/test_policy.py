"""The policy and its conditions against `shared/vectors/policy.json`; every row of the policy speaks in a case."""

import json
from pathlib import Path
from typing import Any

import pytest
from loupebook.rules.again import SentBack, sent_back_within
from loupebook.rules.conditions import all_hold
from loupebook.rules.policy import Spoken, may_choose, suggest

pytestmark = pytest.mark.sink

ROOT = Path(__file__).resolve().parents[2]
FILE = json.loads((ROOT / "shared/vectors/policy.json").read_text())
POLICY = json.loads((ROOT / FILE["policy"]).read_text())


@pytest.mark.parametrize("case", FILE["suggestions"], ids=lambda case: case["description"])
def test_the_policy_suggests(case: dict[str, Any]) -> None:
    given = suggest(POLICY, case["input"])
    rows = [{"row": row, "fact": fact} for row, fact in given.rows]
    assert {"first": given.first, "goes": given.goes, "rows": rows} == case["expected"]


@pytest.mark.parametrize("case", FILE["conditions"], ids=lambda case: case["description"])
def test_the_conditions_hold(case: dict[str, Any]) -> None:
    assert all_hold(case["input"]["when"], case["input"]["fact"]) is case["expected"]


@pytest.mark.parametrize("case", FILE["sent_back"], ids=lambda case: case["description"])
def test_how_often_it_was_sent_back_is_counted_over_cycles(case: dict[str, Any]) -> None:
    given = case["input"]
    back = [SentBack(**each) for each in given["back"]]
    assert sent_back_within(back, given["root"], given["before_ms"], given["days"]) == case["expected"]


def test_every_row_of_the_policy_speaks_in_a_case() -> None:
    spoken = {row["row"] for case in FILE["suggestions"] for row in case["expected"]["rows"]}
    assert spoken == {row["id"] for row in POLICY["rows"]}


def test_a_row_nobody_may_override_forbids_the_laxer_answer() -> None:
    rows = [Spoken("leak_failed", 0), Spoken("soil_again", 1)]
    assert not may_choose(POLICY, rows, "clean", "hold")
    assert may_choose(POLICY, rows, "nothing", "repair"), "soil_again may be overridden, by asking a lead"
