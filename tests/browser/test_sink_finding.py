"""Inspections where something is found or missing: photo and ring, could not look, undo, leak test, the lead's list."""

from __future__ import annotations

import re
from typing import Any

import pytest
from browser.conftest import holds, settled
from browser.sink import SHUTTER, Sink, begun_at, conclude, scanned_for
from browser.sink_house import C_09, C_11, C_14
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

RING = ("Where in the photo", "No ring yet", "Close")
"""Taps that put a ring on the photo, beside the three of the finding."""


def body_of(entries: list[dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    return [entry["body"] for entry in entries if entry["kind"] == kind]


def test_a_leak_test_that_held_leads_on_to_the_look_after_cleaning(sink: Sink) -> None:
    hands = sink.tablet(camera=sink.camera(C_11.serial))
    begun_at(hands, C_11, "At leak test", then="leak")
    hands.tap("No bubbles, pressure held")
    for step in ("Valves and caps are off", "Soaking cap is on", "Pressure on, before water"):
        hands.tap(re.compile(f"^{step}"), "main")
    hands.tap("Save: no bubbles, pressure held")
    hands.wait_for("Distal tip", "h1")
    hands.finish_route()
    conclude(hands)
    hands.wait_sent()
    kept = hands.entries()
    (reading,) = body_of(kept, "reading.taken")
    assert (reading["result"], reading["steps"]) == ("held", ["valves_off", "cap_on", "pressure_before_water"])
    assert {row["verdict"] for row in sink.log(kept[0]["chain"])} == {"counted"}

    hands.scan(f"01{C_11.di}21{C_11.serial}")
    hands.wait_screen("serial")
    hands.wait_for("From the last step: at leak test")
    assert hands.button("After cleaning", "main").get_attribute("aria-checked") == "true"


def test_a_finding_takes_three_taps_and_the_whole_inspection_reaches_the_lead(sink: Sink) -> None:
    hands = sink.tablet("Sink 3")
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")

    hands.take_photo()
    hands.wait_for("You took a photo here. What is it?", ".hand")
    assert hands.button(re.compile("^Whole distal end"), ".hand").get_attribute("aria-disabled") == "true"
    before = len(hands.taps)
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose("Burr or nick", "Minor")
    hands.tap("Where in the photo")
    hands.tap_on(hands.page.locator("main button.field"))
    hands.tap("Close", ".hand")
    hands.tap("Save finding")
    hands.wait_for("End cover", "h1")
    assert hands.taps[before + 1 :] == ["Minor", "New", *RING, "Save finding"]

    hands.could_not_look("Covered")
    hands.wait_for("Lens", "h1")
    hands.nothing_found()
    hands.tap(re.compile(r"^Undo \d+ s"), ".hand")
    hands.wait_for("Lens", "h1")
    hands.nothing_found()
    hands.finish_route()
    stricter = hands.button(re.compile("^Ask for repair"), ".hand .answers")
    expect(stricter).to_have_attribute("aria-checked", "false")
    hands.tap_on(stricter)
    before = len(hands.taps)
    conclude(hands)
    assert [tap for tap in hands.taps[before:] if "tag" not in tap] == ["Ask for repair of C-14"], "nothing is asked"
    hands.wait_sent()

    kept = hands.entries()
    (finding,) = body_of(kept, "finding.recorded")
    (could_not,) = [mark for mark in body_of(kept, "part.marked") if mark["mark"] == "could_not_look"]
    (taken_back,) = body_of(kept, "entry.withdrawn")
    assert finding["rings"] and finding["rings"][0]["photo"] == body_photo(kept)
    assert (could_not["parts"], could_not["reason"]) == (["end_cover"], "covered")
    on_server = sink.log(kept[0]["chain"])
    assert [row["entry"] for row in on_server] == kept
    assert {row["verdict"] for row in on_server} == {"counted"}
    (withdrawn,) = [row["entry"] for row in on_server if row["hash"] == taken_back["entry"]]
    assert withdrawn["body"] == {"mark": "nothing_found", "parts": ["lens"]}
    assert [mark["parts"] for mark in body_of(kept, "part.marked")].count(["lens"]) == 2
    counts = body_of(kept, "inspection.concluded")[0]["counts"]
    assert (counts["finding"], counts["could_not_look"], counts["not_looked"]) == (1, 1, 0)
    assert sum(counts.values()) == 36
    (concluded,) = body_of(kept, "inspection.concluded")
    assert (concluded["suggested_goes"], concluded["goes"]) == ("hold", "repair")

    (line,) = [each for each in sink.lead().today()["inspections"] if each["root"] == begun]
    assert (line["state"], line["total"], line["counts"]) == ("concluded", 36, counts)
    assert [found["part"] for found in line["findings"]] == ["distal_tip"]
    assert "asked_laxer" not in [point["what"] for point in line["points"]], "stricter is free"
    held = [hold["cause"] for hold in sink.lead().today()["holds"] if hold["scope"]["tag"] == line["scope"]["tag"]]
    assert held == ["concluded"], "one decision is one hold for the lead to decide"


def body_photo(kept: list[dict[str, Any]]) -> str:
    """The photo of the part, by its name."""
    (added,) = [entry for entry in kept if entry["kind"] == "photo.added"]
    return str(added["photos"][0]["sha256"])


def test_a_failed_leak_test_waits_for_no_photo_and_nobody_decides_laxer(sink: Sink) -> None:
    """That a failed test goes before everything, and what it asks for, is the product's own rule and shipped policy."""
    hands = sink.tablet("Sink 4", camera=sink.camera(C_09.serial))
    scanned_for(hands, C_09, "At leak test")
    hands.tap("The leak test failed: record it first")
    hands.wait_screen("leak")
    hands.type("Pressure", "no")
    hands.wait_for("the pressure is no number, like 21.5", ".hand")
    hands.type("Pressure", "3,1")
    hands.tap("psi", "main")
    hands.tap("Start the clock", "main")
    holds(hands.page, "/[1-9]/.test(document.querySelector('[data-held]').textContent)")
    hands.tap(re.compile("^Held for the maker's time"), "main")
    hands.wait_for("Start it again", "main")
    hands.tap("Bubbles", ".hand")
    hands.tap(re.compile("^Part 8 of 30, adhesive band, tip"), "nav")
    hands.tap(re.compile("^Save: leak test failed"), ".hand")
    hands.wait_screen("serial")
    assert [entry["kind"] for entry in hands.entries()] == ["inspection.begun", "reading.taken", "hold.placed"]
    (reading,) = body_of(hands.entries(), "reading.taken")
    # 3.1 psi: NIST SP 811, appendix B.8 (from memory). A band is not due at the leak test: it leaks all the same.
    assert (reading["pressure_pa"], reading["unit"], reading["parts"]) == (21_374, "[psi]", ["band_tip"])
    assert reading["held_s"] >= 1 and reading["steps"] == ["time_held"]
    hands.wait_sent()
    chain = hands.entries()[0]["chain"]
    assert [row["verdict"] for row in sink.log(chain)] == ["counted"] * 3
    root = sink.log(chain)[0]["hash"]
    (line,) = [each for each in sink.lead().today()["inspections"] if each["root"] == root]
    assert line["failed_test"] and [point["what"] for point in line["points"]] == ["leak_test_failed", "without_tag"]

    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.wait_for("failed leak test goes to repair", "main")
    settled(hands.page)
    hands.wait_for("Ask for repair of C-09", ".hand")
    for laxer in ("On to cleaning", "Hold"):
        hands.tap(re.compile(f"^{laxer}"), ".hand .answers")
        hands.wait_for("nobody may decide otherwise before a newer look or test", ".hand")
        assert hands.page.locator(".hand .btn.best").get_attribute("aria-disabled") == "true"
    hands.tap(re.compile("^Ask for repair"), ".hand .answers")
    conclude(hands)
    hands.wait_sent()
    concluded = hands.entries()[-1]
    assert concluded["kind"] == "inspection.concluded" and concluded["body"]["goes"] == "repair"
    assert {left["reason"] for left in concluded["body"]["left"]} == {"leak_test_failed"}
    assert {row["verdict"] for row in sink.log(chain)} == {"counted"}
    held = [hold["scope"]["tag"] for hold in sink.lead().today()["holds"]]
    assert held.count("C-09") >= 1
