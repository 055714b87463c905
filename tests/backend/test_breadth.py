"""Every kind of scope at every point, and every finding of the catalogue, through the rules that judge them."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from loupebook.cards.cards import cards
from loupebook.inspections.rules import Rounds, Standing, dryings_of, standing_of
from loupebook.inspections.tables.stands import inspections
from loupebook.rules.policy import may_choose, suggest
from story import C14, CATALOGUE, PINS, POLICY, Writer, card_sources, taken

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
WORDS: dict[str, Any] = json.loads((ROOT / "shared/words/en.json").read_text("utf-8"))
KINDS: dict[str, Any] = PINS[CATALOGUE]["kinds"]
FINDINGS: dict[str, Any] = PINS[CATALOGUE]["findings"]
ROWS: dict[str, dict[str, Any]] = {row["id"]: row for row in PINS[POLICY]["rows"]}
POINTS = ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance")
SIX = ("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here")
SEED = 20261125


def standings(*writers: Writer, cleanings: int = 0, dryings: int = 0) -> list[Standing]:
    """How the inspections of these writers stand, in the order given."""
    tables = taken(*writers)
    with tables.reading() as connection:
        found = {one.root: one for one in inspections(connection, [str(writer.begun) for writer in writers])}
    return [standing_of(found[str(writer.begun)], PINS.get, Rounds(cleanings, dryings)) for writer in writers]


def standing(writer: Writer, cleanings: int = 0, dryings: int = 0) -> Standing:
    return standings(writer, cleanings=cleanings, dryings=dryings)[0]


def begun(kind: str, point: str, **more: Any) -> Writer:
    writer = Writer(f"{kind} {point}")
    writer.begin(point, scope_kind=kind, **more)
    writer.serial()
    return writer


# ------------------------------------------------------------------ counts


@pytest.mark.parametrize("kind", KINDS)
def test_the_six_counts_add_up_at_every_point_whatever_was_marked(kind: str) -> None:
    """The product's rule: what was not looked at is never counted as nothing found."""
    rng = random.Random(f"{SEED} {kind}")
    writers, expected = [], []
    for point in POINTS:
        at = KINDS[kind]["points"][point]
        route = [*at["parts"], *at["channels"]]
        none_here, not_due = rng.sample(route, len(route) // 5), rng.sample(route, len(route) // 4)
        writers.append(begun(kind, point, none_here=none_here, not_due=not_due))
        looked = set(rng.sample(route, rng.randint(0, len(route))))
        for part in sorted(looked):
            mark_at_random(rng, writers[-1], part)
        expected.append((len(route), len(set(route) - looked - set(none_here) - set(not_due)), len(looked)))
    for point, stands, (whole, not_looked, looked_at) in zip(POINTS, standings(*writers), expected, strict=True):
        counts = stands.counts
        assert tuple(counts) == SIX and sum(counts.values()) == whole, (point, counts)
        assert counts["not_looked"] == not_looked, point
        assert counts["nothing_found"] + counts["finding"] + counts["could_not_look"] == looked_at, point


def mark_at_random(rng: random.Random, writer: Writer, part: str) -> None:
    match rng.choice(("nothing_found", "nothing_found", "could_not_look", "finding")):
        case "finding":
            writer.find(part, rng.choice(list(FINDINGS)))
        case "could_not_look":
            writer.mark(part, mark="could_not_look", reason="too_wet")
        case _:
            writer.mark(part)


# ------------------------------------------------------------------ decisions


def every_fact() -> list[dict[str, Any]]:
    """Each finding at each point, new or not, at each grade, after none, one or two rounds."""
    return [
        {"what": "finding", "finding": finding, "class": known["class"], "urgency": known["urgency"], "grade": grade,
         "since": since, "part": "lens", "zone": "distal_end", "point": point, "scope_kind": "colonoscope",
         "cleanings": rounds, "dryings": rounds}
        for finding, known in FINDINGS.items()
        for point in POINTS
        for since in ("new", "same", "worse", "unknown")
        for grade in (("minor", "moderate", "severe") if known["grades"] else ("present",))
        for rounds in (0, 1, 2)
    ]  # fmt: skip


def test_every_finding_reaches_a_decision_with_a_reason_and_both_languages_agree(tmp_path: Path) -> None:
    facts = every_fact()
    ours = [suggest(PINS[POLICY], [fact]) for fact in facts]
    told = zip(facts, ours, strict=True)
    silent = {(fact["finding"], fact["point"], fact["since"]) for fact, given in told if not given.rows}
    assert silent == set(), "no row of the policy speaks of these"
    node = shutil.which("node")
    assert node is not None, "node is not there"
    cases = [{"lines": [], "facts": [fact], "fields": FIELDS} for fact in facts]
    (tmp_path / "cases.json").write_text(json.dumps({"pins": {}, "policy": PINS[POLICY], "cases": cases}), "utf-8")
    script = Path(__file__).with_name("twin_rules.mjs")
    files = (str(tmp_path / "cases.json"), str(tmp_path / "answers.json"), str(tmp_path))
    subprocess.run([node, str(script), *files], check=True, timeout=60)
    theirs = [case["suggestion"] for case in json.loads((tmp_path / "answers.json").read_text("utf-8"))]
    assert theirs == [
        {"first": given.first, "goes": given.goes, "rows": [{"row": row, "fact": 0} for row, _ in given.rows]}
        for given in ours
    ]


TRADE = """
soil clean on · debris clean on · film clean on · sticky_droplets whole on · glue_residue clean on ·
stain_wipes_off clean on · opaque_fluid clean on · cloudy_lens clean on · nozzle_blocked clean on ·
weak_jet clean on · outlet_blocked clean on · lint clean on · bristle clean on · filament nothing hold ·
particles clean on · latex_remnant clean on · retained_piece nothing hold · stain_fixed nothing on ·
scratch nothing on · worn_marks nothing on · edge_wear nothing on · scratch_with_peel nothing hold ·
buckle nothing hold · dent nothing hold · loose_cover nothing hold · band_chip nothing hold ·
band_lift nothing hold · nozzle_bent nothing hold · corrosion nothing hold · pitting nothing hold ·
peeling_coat nothing hold · angulation_less nothing hold · play nothing hold · stiff_control nothing hold ·
brake_slip nothing hold · dark_image nothing hold · black_dots nothing hold · flicker nothing hold ·
sticky_surface nothing hold · swollen nothing hold · faded nothing hold · gouge nothing repair ·
burn nothing repair · hole nothing repair · cut nothing repair · bulge nothing repair ·
kink nothing repair · crush nothing repair · bite_mark nothing hold · crack nothing repair ·
seam_gap nothing repair · lens_crack nothing repair · lens_scratch nothing repair ·
fluid_behind_lens nothing repair · moisture_in_connector nothing repair · glue_hardened nothing repair ·
elevator_stiff nothing repair · elevator_travel nothing repair · wire_frayed nothing repair ·
loose_port nothing repair · loose_part nothing repair · missing_part nothing repair ·
tag_differs nothing hold · step_missing nothing hold · not_matched nothing hold · hang_limit whole on ·
process_unknown whole on · unreadable_label nothing on · photo_unusable nothing on · bent_pin nothing hold ·
burr nothing hold · glue_missing nothing hold · delamination nothing hold · face_bubbles nothing hold ·
light_fibres_broken nothing hold · loose_plate nothing repair · needle_mark nothing hold ·
seal_damaged nothing hold · strain_split nothing hold · thread_worn nothing hold ·
torn_switch nothing hold · clear_fluid nothing on · droplets nothing on
"""
"""What each finding asks for after cleaning when it is new (common practice, no source; whoever decides on repair of
what is of the cycle is the lead, so it waits for them). Moisture is judged after drying."""


LINES = [line.strip() for line in TRADE.replace("\n", " ").split("·")]


def test_no_finding_is_missing_from_the_list() -> None:
    assert sorted(line.split()[0] for line in LINES) == sorted(FINDINGS)


@pytest.mark.parametrize("line", LINES)
def test_a_finding_asks_for_what_the_trade_asks_for(line: str) -> None:
    finding, first, goes = line.split()
    known = FINDINGS[finding]
    grade = "minor" if known["grades"] else "present"
    here = {"since": "new", "grade": grade, "point": "after_cleaning", "cleanings": 0, "dryings": 0}
    fact = {"what": "finding", "finding": finding, "class": known["class"], "urgency": known["urgency"]} | here
    given = suggest(PINS[POLICY], [fact])
    assert (given.first, given.goes) == (first, goes)


@pytest.mark.parametrize("finding", ["clear_fluid", "droplets"])
@pytest.mark.parametrize(("point", "dryings", "answer"), [
    ("after_cleaning", 0, "nothing on"), ("after_drying", 0, "dry on"), ("after_drying", 2, "dry hold"),
    ("before_use", 0, "whole on"), ("acceptance", 0, "whole on"),
])  # fmt: skip
def test_moisture_is_dried_again_then_held_and_wet_after_storage_is_processed(
    finding: str, point: str, dryings: int, answer: str
) -> None:
    """Public summary of ANSI/AAMI ST91:2021 (go on drying until nothing wet is seen); the ladder: common practice."""
    fact = {"what": "finding", "finding": finding, "class": "moisture", "urgency": "cycle", "since": "new",
            "point": point, "dryings": dryings}  # fmt: skip
    given = suggest(PINS[POLICY], [fact])
    assert f"{given.first} {given.goes}" == answer


FIELDS: dict[str, Any] = {
    "v": 1, "chain": "a" * 64, "seq": 1, "prev": "b" * 64, "kind": "inspection.abandoned",
    "at": "2026-03-02T08:00:00.000+01:00", "clock": None, "person": "ila_venn",
    "proof": {"how": "pin", "where": "offline"}, "build": "test", "about": {}, "body": {"reason": "other"},
    "photos": [],
}  # fmt: skip


def test_every_row_has_its_words_and_its_source() -> None:
    assert [id for id, row in ROWS.items() if f"policy.{id}" not in WORDS or len(row["source"]) < 10] == []


def test_whoever_a_row_tells_is_told_in_words() -> None:
    assert {who for row in ROWS.values() for who in row.get("tell", [])} <= {
        key.removeprefix("tell.") for key in WORDS if key.startswith("tell.")
    }


def test_damage_of_urgency_stop_goes_to_repair_and_nobody_may_send_it_on() -> None:
    """FDA safety communication on bronchoscopes, 2021 (examples of damage); the action: common practice."""
    policy = PINS[POLICY]
    stops = [name for name, known in FINDINGS.items() if (known["class"], known["urgency"]) == ("damage", "stop")]
    assert len(stops) > 15
    stops.remove("bite_mark")
    for name in stops:
        fact = {"what": "finding", "finding": name, "class": "damage", "urgency": "stop", "since": "same"}
        given = suggest(policy, [fact])
        assert given.goes == "repair", name
        assert not may_choose(policy, given.rows, given.first, "hold"), name


@pytest.mark.parametrize(("test", "goes"), [(None, "hold"), ("held", "hold"), ("bubbles", "repair")])
def test_a_bite_mark_waits_for_the_leak_test_and_goes_to_repair_where_it_leaks(test: str | None, goes: str) -> None:
    """Common practice, no source: the test says whether it goes through the wall."""
    policy = PINS[POLICY]
    facts = [{"what": "finding", "finding": "bite_mark", "class": "damage", "urgency": "stop", "since": "same"}]
    given = suggest(policy, facts + ([] if test is None else [{"what": "leak_test", "result": test}]))
    assert given.goes == goes and not may_choose(policy, given.rows, given.first, "on")


def test_debris_that_shows_again_after_cleaning_is_held() -> None:
    """World J Gastroenterol 2020 linked debris in the channel with growth; the action: common practice, no source."""
    known = FINDINGS["debris"]
    fact = {"what": "finding", "finding": "debris", "class": known["class"], "urgency": "cycle", "since": "new",
            "point": "after_cleaning"}  # fmt: skip
    given = [suggest(PINS[POLICY], [fact | {"cleanings": cleanings}]) for cleanings in (0, 1, 2)]
    assert [(each.first, each.goes) for each in given] == [("clean", "on"), ("clean", "hold"), ("clean", "hold")]


def test_what_nobody_may_override_is_a_closed_list() -> None:
    """A failed test, damage that stops, a number that differs, an elevator that fails (common practice, no source)."""
    assert {id for id, row in ROWS.items() if row["override"] is False} == {
        "leak_failed", "leakage_failed", "serial_differs", "stop_damage", "bite_mark", "missing_part",
        "stop_foreign_body", "elevator_fails",
    }  # fmt: skip


@pytest.mark.parametrize(("cleanings", "goes", "rows"), [
    (0, "on", ["soil_again"]), (1, "on", ["soil_again", "soil_second"]), (2, "hold", ["soil_again", "soil_third"]),
])  # fmt: skip
def test_soil_is_cleaned_again_then_told_to_the_lead_then_held(cleanings: int, goes: str, rows: list[str]) -> None:
    """Ladder after the CDC interim surveillance protocol, 2015 (three times or more); the numbers: the facility's."""
    writer = begun("duodenoscope", "after_cleaning")
    writer.find("elevator_raised", "soil")
    given = standing(writer, cleanings=cleanings).suggested
    assert given is not None
    assert (given.first, given.goes, [row for row, _ in given.rows]) == ("clean", goes, rows)


# ------------------------------------------------------------------ tests and functions


@pytest.mark.parametrize(("what", "result", "goes"), [
    ("leakage_current", "over_limit", "repair"), ("leakage_current", "could_not_test", "hold"),
    ("leakage_current", "within_limit", "on"), ("function_image", "works", "on"), ("function_image", "weak", "hold"),
    ("function_image", "does_not_work", "repair"), ("function_image", "not_checked", "hold"),
    ("something_measured", "value", "on"),
])  # fmt: skip
def test_a_test_or_a_function_tried_reaches_its_decision(what: str, result: str, goes: str) -> None:
    """IAC adult echocardiography standard, as quoted in the trade press (leakage); functions: common practice."""
    writer = begun("tee_probe", "acceptance")
    writer.write("reading.taken", {"what": what, "result": result})
    given = standing(writer).suggested
    assert given is not None and given.goes == goes


def test_a_leakage_current_over_the_limit_needs_no_serial_photo_and_is_an_open_point() -> None:
    writer = Writer("probe")
    writer.begin("at_leak_test", scope_kind="tee_probe")
    over = writer.write("reading.taken", {"what": "leakage_current", "result": "over_limit"})
    found = {point.what: point.about for point in standing(writer).points}
    assert found["leak_test_failed"] == {"entries": [over]}


def test_wet_after_two_more_dryings_is_held() -> None:
    """Still wet twice: common practice, no source."""
    writer = begun("bronchoscope", "after_drying")
    writer.find("ch_instrument", "droplets")
    goes = [given.goes for rounds in (0, 1, 2) if (given := standing(writer, dryings=rounds).suggested)]
    assert goes == ["on", "on", "hold"]


@pytest.mark.parametrize(("firsts", "count"), [
    ([], 0), (["dry"], 1), (["dry", "dry", "nothing"], 2), (["nothing", "dry"], 0), (["dry", "clean", "dry"], 1),
])  # fmt: skip
def test_dryings_are_counted_back_to_the_last_that_asked_for_none(firsts: list[str], count: int) -> None:
    assert dryings_of(("after_drying", first) for first in firsts) == count


def test_a_card_carries_when_the_last_cycles_were_where_the_facility_counts_in_cycles() -> None:
    writer = Writer("Sink 1")
    for point in ("after_cleaning", "after_drying", "after_cleaning"):
        writer.begin(point)
        writer.serial()
        writer.mark("lens")
        writer.conclude("dry" if point == "after_drying" else "nothing", "on")
    tables = taken(writer)
    with tables.reading() as connection:
        found = cards(connection, card_sources(tables), "Harrow Lake", 0, "first")
    card = next(each for each in json.loads(json.dumps(found["scopes"])) if each["scope"] == C14)
    moments = card["cycles_ms"]["after_cleaning"]
    assert list(card["cycles_ms"]) == ["after_cleaning"] and len(moments) == 2
    assert moments == sorted(moments, reverse=True)
    assert card["dryings"] == 0
