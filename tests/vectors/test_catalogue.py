"""The catalogue and the frequency table as data: their shape, and that every kind is what the trade says it is.

Routes, tip to plug, and which channels a kind has: common practice, no source. The high-risk group: ANSI/AAMI
ST91:2021, from memory.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from loupebook.rules.catalogue import CatalogueUnfit, composed, resolved, stale_files, write_catalogue
from vectors.test_shapes import faults

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "shared/catalogue"
CATALOGUE: dict[str, Any] = json.loads((FOLDER / "catalogue.json").read_text("utf-8"))
FREQUENCY: dict[str, Any] = json.loads((ROOT / "shared/policy/frequency.json").read_text("utf-8"))
WORDS: dict[str, Any] = json.loads((ROOT / "shared/words/en.json").read_text("utf-8"))
KINDS: dict[str, Any] = CATALOGUE["kinds"]
POINTS = ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance")

GI_TIP, GI_END = "DT LN LG NZ CO", "LC EC SP LV"
BEND = ("AB", "BR", "AB", "IT", "SR")
FLEX = ("DT LN LG CO", *BEND)
ROUTES: dict[str, tuple[str, ...]] = {
    "gastroscope": (GI_TIP, *BEND, "CB KN RS AW SC BP", "SR", "UC", GI_END, "VA"),
    "gastroscope_jet": (f"{GI_TIP} AJ", *BEND, "CB KN RS AW SC BP WJ", "SR", "UC", GI_END, "VA"),
    "gastroscope_double": (GI_TIP, *BEND, "CB KN RS AW SC BP", "SR", "UC", GI_END, "VA"),
    "colonoscope": (f"{GI_TIP} AJ", *BEND, "CB ST KN RS AW SC BP WJ", "SR", "UC", f"{GI_END} CI", "VA"),
    "enteroscope": (f"{GI_TIP} AJ", *BEND, "CB KN RS AW SC BP WJ", "SR", "UC", f"{GI_END} CI", "VA"),
    "duodenoscope": ("DT DC EL LN LG NZ CO", *BEND, "CB KN EV AW SC BP EP", "UC", GI_END, "VA"),
    "echoendoscope_linear": ("UT BG EL LN LG NZ CO", *BEND, "CB KN EV AW SC BP EP BL", "UC", "LC UP EC SP", "VA"),
    "echoendoscope_radial": ("UT BG LN LG NZ CO", *BEND, "CB KN AW SC BP BL", "UC", "LC UP EC SP", "VA"),
    "bronchoscope": (*FLEX, "CB LE RS SC BP", "UC", "LC EC LV", "VA"),
    "bronchoscope_fibre": (*FLEX, "CB LE SC BP EY", "UC", "LC LV", "VA"),
    "bronchoscope_ebus": ("DT LN LG CO UT BG", *BEND, "CB LE RS SC BP BL", "UC", "LC UP EC LV", "VA"),
    "cystoscope": (*FLEX, "CB LE RS BP LL", "UC", "LC EC LV", "VA"),
    "cystoscope_fibre": (*FLEX, "CB LE BP LL EY", "LP", "LV", "VA"),
    "ureteroscope": (*FLEX, "CB LE RS BP LL", "UC", "LC EC LV", "VA"),
    "ureteroscope_fibre": (*FLEX, "CB LE BP LL EY", "LP", "LV", "VA"),
    "choledochoscope": (*FLEX, "CB LE RS BP LL", "UC", "LC EC LV", "VA"),
    "rhinolaryngoscope": ("DT LN LG", *BEND, "CB LE RS", "UC", "LC EC LV"),
    "rhinolaryngoscope_fibre": ("DT LN LG", *BEND, "CB LE EY", "LP", "LV"),
    "rhinolaryngoscope_channel": (*FLEX, "CB LE RS BP", "UC", "LC EC LV", "VA"),
    "tee_probe": ("UT", "BR", "IT", "SR", "HB KN", "UC", "PL"),
}
"""Groups of trade codes: every group stands behind the one before; within one the order is free."""

CHANNELS = {
    "gastroscope": "IB SU YJ AI WA", "gastroscope_jet": "IB SU YJ AI WA AX", "gastroscope_double": "IB IB SU YJ AI WA",
    "colonoscope": "IB SU YJ AI WA AX", "enteroscope": "IB SU YJ AI WA AX", "duodenoscope": "IB SU YJ AI WA EW",
    "echoendoscope_linear": "IB SU YJ AI WA EW BC", "echoendoscope_radial": "IB SU YJ AI WA BC",
    "bronchoscope": "IB YJ", "bronchoscope_fibre": "IB YJ", "bronchoscope_ebus": "IB YJ BC",
    "cystoscope": "IB", "cystoscope_fibre": "IB", "ureteroscope": "IB", "ureteroscope_fibre": "IB",
    "choledochoscope": "IB",
    "rhinolaryngoscope": "", "rhinolaryngoscope_fibre": "", "rhinolaryngoscope_channel": "IB", "tee_probe": "",
}  # fmt: skip
HIGH_RISK = {
    "duodenoscope", "echoendoscope_linear", "bronchoscope", "bronchoscope_fibre", "bronchoscope_ebus",
    "cystoscope", "cystoscope_fibre", "ureteroscope", "ureteroscope_fibre", "choledochoscope",
}  # fmt: skip
"""The group of ST91:2021, and the choledochoscope, which the facility may add: it is a copy of the cystoscope."""

NEVER_IN_A_ZONE = {"EL", "NZ", "CO", "AB", "BP", "DC"}
"""Elevator, nozzle, channel outlet, adhesive bands, biopsy port: the product's rule. Cap seat: a sampled site."""

by_kind = pytest.mark.parametrize("name", KINDS)


def codes(name: str) -> list[str]:
    return [part["code"] for part in KINDS[name]["parts"]]


def test_the_composed_file_is_what_the_three_files_say() -> None:
    assert stale_files(ROOT) == [], "run `loupebook schema` and commit what it wrote"


def test_the_catalogue_has_the_shape_of_its_schema() -> None:
    schema = json.loads((FOLDER / "catalogue.schema.json").read_text("utf-8"))
    assert faults(CATALOGUE, schema, schema) == []
    broken = json.loads(json.dumps(CATALOGUE))
    broken["kinds"]["tee_probe"]["parts"][0]["shape"] = "cloud"
    del broken["findings"]["soil"]["urgency"]
    assert sorted(faults(broken, schema, schema)) == [
        "$.findings.soil: lacks urgency",
        "$.kinds.tee_probe.parts[0].shape: 'cloud' is not in the list",
    ]


def test_every_kind_has_its_route_here_and_none_is_left_out() -> None:
    assert set(KINDS) == set(ROUTES) == set(CHANNELS)


@by_kind
def test_the_route_runs_tip_to_plug_and_lacks_nothing(name: str) -> None:
    """Common practice, no source."""
    found, at = codes(name), 0
    for group in ROUTES[name]:
        ends = []
        for code in group.split():
            assert code in found[at:], f"{name}: no {code} behind {found[:at]}"
            ends.append(found.index(code, at) + 1)
        at = max(ends)


@by_kind
def test_the_channels_are_those_of_the_kind(name: str) -> None:
    """Common practice, no source."""
    assert sorted(channel["code"] for channel in KINDS[name]["channels"]) == sorted(CHANNELS[name].split())


@by_kind
def test_every_id_a_kind_names_is_there_and_stands_once(name: str) -> None:
    kind = KINDS[name]
    ids = [each["id"] for each in (*kind["parts"], *kind["channels"])]
    assert len(ids) == len(set(ids))
    for each in (*kind["parts"], *kind["channels"]):
        assert len(each["look_for"]) == len(set(each["look_for"])), each["id"]
        assert set(each["look_for"]) <= set(CATALOGUE["findings"]), each["id"]
    for point, at in kind["points"].items():
        route = [*at["parts"], *at["channels"]]
        assert route == [id for id in ids if id in route], f"{point}: not in the order of the route"
        assert set(at.get("checks", [])) <= set(CATALOGUE["checks"])
        assert set(at.get("record", [])) <= set(CATALOGUE["findings"])


@by_kind
def test_what_asks_for_a_look_of_its_own_is_never_part_of_a_zone(name: str) -> None:
    for part in KINDS[name]["parts"]:
        if part["code"] in NEVER_IN_A_ZONE:
            assert part["alone"], part["id"]


@by_kind
def test_high_risk_kinds_and_acceptance_have_no_zones(name: str) -> None:
    points = KINDS[name]["points"]
    assert (KINDS[name].get("risk") == "high") == (name in HIGH_RISK)
    assert not points["acceptance"]["zones"]
    if name in HIGH_RISK:
        assert not any(at["zones"] for at in points.values())


@by_kind
def test_each_point_contains_what_it_is_for(name: str) -> None:
    """Gross parts and the test; all outside and channels; moisture places; five items; everything and functions."""
    kind = KINDS[name]
    parts, channels = [each["id"] for each in kind["parts"]], [each["id"] for each in kind["channels"]]
    at = kind["points"]
    assert tuple(at) == POINTS
    test = ["leakage_current"] if name == "tee_probe" else ["leak_test"]
    for point in ("after_cleaning", "acceptance"):
        assert (at[point]["parts"], at[point]["channels"]) == (parts, channels)
    assert at["after_drying"]["channels"] == channels and set(at["after_drying"]["parts"]) < set(parts)
    assert at["at_leak_test"]["channels"] == at["before_use"]["channels"] == []
    assert set(at["at_leak_test"]["parts"]) < set(parts)
    assert [at[point]["needs"] for point in POINTS] == [test, [], [], [], test]
    assert {"function_image", "function_angulation"} <= set(at["acceptance"]["checks"])
    assert ("function_elevator" in at["acceptance"]["checks"]) == ("EL" in codes(name))


@by_kind
def test_before_use_is_five_items_that_hold_all_its_parts_and_checks(name: str) -> None:
    """Five: the last look before use (common practice, no source)."""
    at = KINDS[name]["points"]["before_use"]
    items = at["items"]
    assert len(items) == 5
    assert {part for item in items for part in item.get("parts", [])} == set(at["parts"])
    assert [item["check"] for item in items if "check" in item] == at["checks"]
    assert all("parts" in item or "check" in item for item in items)


def test_a_kind_with_an_elevator_shows_it_raised_and_lowered() -> None:
    """FDA duodenoscope communication, 2019: raise and lower the elevator while both sides are looked at."""
    for name, kind in KINDS.items():
        elevators = [part["id"] for part in kind["parts"] if part["code"] == "EL"]
        assert elevators in ([], ["elevator_raised", "elevator_lowered"]), name


def test_the_cap_comes_off_before_its_seat_is_looked_at() -> None:
    seats = [part for kind in KINDS.values() for part in kind["parts"] if part["code"] == "DC"]
    assert seats and all(part["caution"] == "cap_off" for part in seats)


def test_a_tee_probe_is_kept_dry_at_the_handle_and_has_no_channel() -> None:
    """IAC adult echocardiography standard, as quoted in the trade press; handle and plug: common practice."""
    probe = KINDS["tee_probe"]
    dry = [part["id"] for part in probe["parts"] if part.get("caution") == "not_immersed"]
    assert dry == ["handle", "knobs", "cable", "system_plug"] and probe["channels"] == []
    assert "tip_in_bath" in probe["leak_steps"] and "pressure_before_water" not in probe["leak_steps"]


def test_leak_steps_put_pressure_before_water_and_water_before_the_vent() -> None:
    """Common practice, no source. A soaking cap only where there are electrical contacts to keep dry."""
    for name, kind in KINDS.items():
        steps = kind["leak_steps"]
        if name == "tee_probe":
            continue
        order = [steps.index(step) for step in ("pressure_before_water", "under_water_tip_moved", "time_held")]
        assert order == sorted(order) and steps[-2:] == ["out_before_vent", "vented"], name
        assert ("cap_on" in steps) == ("EC" in codes(name)), name
        assert ("valves_off" in steps) == ("VA" in codes(name)), name
        assert ("buttons_pressed" in steps) == ("RS" in codes(name)), name


def test_every_finding_may_be_found_somewhere() -> None:
    stops = [each for kind in KINDS.values() for each in (*kind["parts"], *kind["channels"])]
    placed = {finding for each in stops for finding in each["look_for"]}
    placed |= {finding for kind in KINDS.values() for at in kind["points"].values() for finding in at.get("record", [])}
    assert placed == set(CATALOGUE["findings"])


def test_every_id_has_its_words() -> None:
    need = [f"check.{check}{more}" for check in CATALOGUE["checks"] for more in ("", ".note")]
    for name, kind in KINDS.items():
        need.append(f"kind.{name}")
        need += [f"part.{each['id']}{more}" for each in (*kind["parts"], *kind["channels"]) for more in ("", ".short")]
        need += [f"caution.part.{part['caution']}" for part in kind["parts"] if "caution" in part]
        need += [f"leak.step.{step}" for step in kind["leak_steps"]]
        need += [f"item.{item['id']}{more}" for item in kind["points"]["before_use"]["items"] for more in ("", ".note")]
    need += [f"seen.{finding}" for finding in CATALOGUE["findings"]]
    assert [key for key in need if key not in WORDS] == []


@by_kind
def test_no_two_parts_of_a_kind_have_one_name(name: str) -> None:
    names = [WORDS[f"part.{each['id']}"] for each in (*KINDS[name]["parts"], *KINDS[name]["channels"])]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("row", FREQUENCY["rows"], ids=lambda row: row["scope_kind"])
def test_a_frequency_row_names_parts_of_its_point_one_interval_and_its_source(row: dict[str, Any]) -> None:
    at = KINDS[row["scope_kind"]]["points"][row["point"]]
    assert set(row["parts"]) <= {*at["parts"], *at["channels"]} and row["parts"]
    (how,) = {"every_days", "every_cycles", "share_percent"} & set(row)
    assert row[how] >= 1 and (how != "share_percent" or row[how] <= 100)
    assert len(row["source"]) > 10


def test_high_risk_kinds_are_looked_at_whole_in_every_cycle() -> None:
    """ANSI/AAMI ST91:2021, from memory: its high-risk group each cycle."""
    rows = {row["scope_kind"]: row for row in FREQUENCY["rows"]}
    assert {name for name, row in rows.items() if row.get("every_cycles") == 1} == HIGH_RISK


def test_a_kind_that_copies_itself_or_what_is_not_there_is_refused() -> None:
    base = {"parts": ["a", "b"], "channels": ["ch_a"]}
    for kinds in (
        {"x": {"copies": "y"}, "y": {"copies": "x"}},
        {"x": {"copies": "z"}},
        {"z": base, "x": {"copies": "z", "without": ["c"]}},
        {"z": base, "x": {"copies": "z", "with": [{"part": "c", "after": "d"}]}},
        {"z": base, "x": {"copies": "z", "with": [{"part": "a"}]}},
    ):
        with pytest.raises(CatalogueUnfit):
            resolved("x", kinds)


def test_a_copy_takes_out_puts_in_and_replaces() -> None:
    more = [{"part": "c", "after": "b"}, {"channel": "ch_b"}]
    kinds: dict[str, dict[str, Any]] = {
        "z": {"parts": ["a", "b"], "channels": ["ch_a"], "zoned": True},
        "x": {"copies": "z", "without": ["a"], "with": more, "zoned": False},
    }
    assert resolved("x", kinds) == {"parts": ["b", "c"], "channels": ["ch_a", "ch_b"], "zoned": False}
    assert kinds["z"]["parts"] == ["a", "b"]


def test_a_stale_catalogue_is_found_and_composed_again(tmp_path: Path) -> None:
    folder = tmp_path / "shared/catalogue"
    folder.mkdir(parents=True)
    for name in ("findings.json", "parts.json", "kinds.json"):
        (folder / name).write_text((FOLDER / name).read_text("utf-8"), encoding="utf-8")
    assert write_catalogue(tmp_path) == ["shared/catalogue/catalogue.json"] and stale_files(tmp_path) == []
    (folder / "catalogue.json").write_text("{}")
    assert stale_files(tmp_path) == ["shared/catalogue/catalogue.json"]
    assert json.loads(composed(folder))["kinds"].keys() == KINDS.keys()
