"""Levels of measured values: the public summary of ISO 15883-5:2021, and areas worked by hand."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from loupebook.rules.limits import level_of
from loupebook.rules.policy_table import read_policy

pytestmark = pytest.mark.breadth

SHARED = Path(__file__).resolve().parents[2] / "shared"
FILE = json.loads((SHARED / "vectors/limits.json").read_text())
TEXT = (SHARED / "policy/policy.json").read_text()
LIMITS = json.loads(TEXT)["limits"]


@pytest.mark.parametrize("case", FILE["levels"], ids=lambda case: case["description"])
def test_a_value_and_its_level(case: dict[str, Any]) -> None:
    assert level_of(LIMITS, **case["input"]) == case["expected"]


def test_the_worked_examples_are_the_rinse_over_the_channel_s_own_area() -> None:
    """Pi times inner diameter times length, 3.7 mm and 1500 mm: 174.4 cm2; 20 mL of rinse at 40 and 60 ug/mL."""
    area = math.pi * 0.37 * 150
    assert round(area, 1) == 174.4
    assert [round(20 * each / area, 2) for each in (40, 60)] == [4.59, 6.88]


def test_every_limit_of_the_policy_has_a_source_and_its_alert_below_its_action() -> None:
    limits = read_policy(TEXT).limits
    assert {(each.reading, each.unit) for each in limits} == {
        ("protein", "ug/cm2"), ("carbon", "ug/cm2"), ("carbohydrate", "ug/cm2"), ("haemoglobin", "ug/cm2"),
        ("atp", "fmol/cm2"),
    }  # fmt: skip
    assert all(each.source and (each.alert_thousandths or 0) < each.action_thousandths for each in limits)
