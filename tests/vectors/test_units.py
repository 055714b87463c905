"""Sizes against `shared/vectors/units.json` (ISO 8600-4)."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loupebook.rules.units import NotASize, fit, fr_of_um, mm_of_um, pa_of, pressure_text, um_of_fr, um_of_mm

pytestmark = pytest.mark.sink

FILE = json.loads((Path(__file__).resolve().parents[2] / "shared/vectors/units.json").read_text())


def cases(group: str) -> Any:
    return pytest.mark.parametrize("case", FILE[group], ids=lambda case: case["description"])


@cases("mm_of_fr")
def test_french_in_millimetres(case: dict[str, Any]) -> None:
    assert mm_of_um(um_of_fr(case["input"])) == case["expected"]


@cases("fr_of_mm")
def test_millimetres_in_french(case: dict[str, Any]) -> None:
    assert fr_of_um(um_of_mm(case["input"])) == case["expected"]


@cases("fit")
def test_whether_a_borescope_goes_in(case: dict[str, Any]) -> None:
    sizes = case["input"]
    given_ = fit(um_of_mm(sizes["borescope_mm"]), um_of_mm(sizes["channel_mm"]))
    assert given_._asdict() == case["expected"]


@cases("refused")
def test_what_is_no_size_is_refused(case: dict[str, Any]) -> None:
    with pytest.raises(NotASize):
        um_of_mm(case["input"])


@cases("pressure")
def test_a_pressure_in_the_testers_unit(case: dict[str, Any]) -> None:
    pa = pa_of(case["input"]["text"], case["input"]["unit"])
    assert {"pa": pa, "shown": pressure_text(pa, case["input"]["unit"])} == case["expected"]


@cases("no_pressure")
def test_what_is_no_pressure_is_refused(case: dict[str, Any]) -> None:
    with pytest.raises(NotASize):
        pa_of(case["input"]["text"], case["input"]["unit"])


def test_a_pressure_of_before_units_were_kept_is_shown_in_kilopascals() -> None:
    assert (pressure_text(21_500, None), pressure_text(24_000, "{RLU}")) == ("21.5 kPa", "24 kPa")


@given(st.integers(min_value=0, max_value=999_999_999))
def test_a_size_and_its_text_are_the_same(um: int) -> None:
    assert um_of_mm(mm_of_um(um)) == um
