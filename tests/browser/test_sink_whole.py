"""A whole colonoscope with nothing found: twelve taps, both ways round and on a low screen, all on the server."""

from __future__ import annotations

import re
from typing import Any

import pytest
from browser.sink import LANDSCAPE, LOW, PORTRAIT, ZONE, Sink
from browser.sink_house import C_14

pytestmark = pytest.mark.sink

MOST_TAPS = 12
"""The product's own promise for a colonoscope after cleaning with nothing found."""
ON = "On to disinfection"


@pytest.mark.parametrize("turned", [LANDSCAPE, PORTRAIT, LOW], ids=["landscape", "portrait", "low"])
def test_a_colonoscope_with_nothing_found_takes_twelve_taps(own_sink: Sink, turned: dict[str, int]) -> None:
    hands = own_sink.tablet(viewport=turned)
    hands.wait_for("Scan a scope to begin")
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    assert hands.button("After cleaning").get_attribute("aria-checked") == "true"
    hands.serial_photo()

    line = hands.page.get_by_role("list", name="Route from tip to plug")
    here, left = line.locator("[aria-current=step]"), line.get_by_role("button", name=re.compile("not looked yet$"))
    assert here.get_attribute("aria-label") == "Part 1 of 30, distal tip, not looked yet", "where I am"
    assert left.count() == 30, "what is left"
    hands.answer(ZONE)
    marked = [entry for entry in hands.entries() if entry["kind"] == "part.marked"]
    assert left.count() == 30 - sum(len(entry["body"]["parts"]) for entry in marked) < 30
    assert "nozzle" in str(here.get_attribute("aria-label"))
    assert hands.heading() == "Nozzle", "the part of the zone that is looked at by itself comes next"
    hands.finish_route()
    hands.tap(re.compile(f"^{ON}"), ".hand .end")
    hands.wait_for("Scan a scope to begin")

    assert len(hands.taps) <= MOST_TAPS, hands.taps
    hands.wait_sent()
    everything_counts_up(own_sink, hands.entries())


def everything_counts_up(sink: Sink, kept: list[dict[str, Any]]) -> None:
    """The server has exactly these entries in their order, and the six counts are those of the marks."""
    on_server = sink.log(kept[0]["chain"])
    assert [row["entry"] for row in on_server] == kept
    assert {row["verdict"] for row in on_server} == {"counted"}
    kinds = [entry["kind"] for entry in kept]
    marks = [entry for entry in kept if entry["kind"] == "part.marked"]
    assert kinds == ["inspection.begun", "serial.photographed", *["part.marked"] * len(marks), "inspection.concluded"]
    marked = [part for mark in marks for part in mark["body"]["parts"]]
    assert len(marked) == len(set(marked)) == 30
    counts = kept[-1]["body"]["counts"]
    assert counts["nothing_found"] == 30
    assert counts["not_due"] == 6 and sum(counts.values()) == 36
    serial = kept[1]
    assert (serial["body"]["how"], serial["body"]["agrees"]) == ("code", "yes")
    assert serial["photos"][0]["sha256"] in sink.photos()
