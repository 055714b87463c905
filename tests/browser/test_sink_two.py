"""Two tablets on one inspection: each writes its own part of it, both are shown, the stricter counts, nothing twice."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import settled
from browser.eyes import keep_picture
from browser.sink import Hands, Sink, begun_at, conclude
from browser.sink_desk import Desk, hear, open_desk
from browser.sink_house import C_14
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

CODE = f"01{C_14.di}21{C_14.serial}"
GUIDES = re.compile("^Part 4 of 30, light guides")
BROKEN = "Broken light fibres"


def part_of(hands: Hands) -> dict[str, Any]:
    """The only inspection part a tablet began."""
    (begun,) = [entry for entry in hands.entries() if entry["kind"] == "inspection.begun"]
    return dict(begun)


def on_server_once(sink: Sink, *tablets: Hands) -> None:
    """The server has each chain as its tablet wrote it, each entry once, all of them counted."""
    hashes = []
    for hands in tablets:
        kept = hands.entries()
        rows = sink.log(kept[0]["chain"])
        assert [row["entry"] for row in rows] == kept
        assert {row["verdict"] for row in rows} == {"counted"}
        hashes += [row["hash"] for row in rows]
    assert len(hashes) == len(set(hashes))


def finds(hands: Hands, grade: str) -> None:
    """Broken light fibres, at the light guides."""
    hands.tap(GUIDES, "nav")
    hands.wait_for("Light guides", "h1")
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose(BROKEN, grade)
    hands.tap("Save finding")
    hands.wait_changed("h1", "What, and how much: one tap")
    settled(hands.page)


def both_marks_are_shown(desk: Desk, root: str) -> None:
    told = desk.told(f"inspections/{root}")
    assert len(told["parts"]) == 2 and {each["by"]["station"] for each in told["parts"]} == {"Sink 2", "Sink 3"}
    assert {each["begun"] for each in told["serials"]} == {each["begun"] for each in told["parts"]}
    (guides,) = [stop for stop in told["route"] if stop["id"] == "light_guides"]
    assert guides["mark"] == "finding"
    assert sorted(mark["mark"] for mark in guides["marks"]) == ["finding", "nothing_found"]
    assert "two_marks" in {point["what"] for point in told["points"]}
    page = desk.go(f"/inspection?root={root}")
    expect(
        page.get_by_text("Two tablets say different things of the light guides: counted as finding.")
    ).to_be_visible()
    page.get_by_role("button", name=re.compile("light guides, finding")).click()
    shown = page.locator(".part")
    expect(shown).to_contain_text("Ila Venn · Sink 2")
    expect(shown).to_contain_text("Rin Oake · Sink 3")


def test_one_begins_another_scans_and_concludes(own_sink: Sink, screens: Path) -> None:
    sink = own_sink
    first = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(first, C_14, "After cleaning", then="Distal tip")
    first.nothing_found()
    first.nothing_found()
    first.wait_sent()

    second = sink.tablet("Sink 3", "Rin Oake")
    second.wait_for("Begun on another tablet")
    second.scan(CODE)
    second.wait_screen("serial")
    second.wait_for("Begun on Sink 2 at ")
    assert second.button("Go on with it", "main").get_attribute("aria-checked") == "true"
    assert second.button("Before use", "main").count() == 0
    keep_picture(second.page, screens / "sink-take-over.png")
    second.serial_photo(then="Lens")
    assert part_of(second)["body"]["continues"] == root

    second.nothing_found()
    second.wait_for("Light guides", "h1")
    second.nothing_found()
    second.wait_sent()
    hear(first)
    first.wait_for("26 left", "nav")
    finds(first, "Minor")
    first.wait_sent()

    second.finish_route()
    conclude(second)
    second.wait_sent()
    on_server_once(sink, first, second)
    both_marks_are_shown(open_desk(sink), root)

    hear(first)
    first.tap("Back", ".bar")
    first.wait_for("goes to disinfection", ".hand")
    first.scan(CODE)
    first.wait_screen("serial")
    assert "begun=" not in first.page.url, "what another tablet concluded is not gone on with"


def test_the_first_goes_on_without_a_network_while_the_second_takes_over(own_sink: Sink) -> None:
    sink = own_sink
    sink.guard.allow("net::ERR_")
    first = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(first, C_14, "After cleaning", then="Distal tip")
    first.nothing_found()
    first.wait_sent()
    first.page.context.set_offline(True)
    finds(first, "Moderate")

    second = sink.tablet("Sink 3", "Rin Oake")
    second.tap(re.compile("Go on with it$"), ".hand")
    second.serial_photo(then="End cover")
    for part in ("Lens", "Light guides", "Nozzle"):
        second.nothing_found()
        second.wait_for(part, "h1")
    second.wait_sent()

    first.finish_route()
    conclude(first)
    assert "saved here" in first.corner()
    first.page.context.set_offline(False)
    first.wait_sent()
    on_server_once(sink, first, second)
    both_marks_are_shown(open_desk(sink), root)

    hear(second)
    second.tap("Back", ".bar")
    second.wait_for("Nothing waits here")
    hear(first)
    assert "Begun on another tablet" not in first.text()
