"""Another scope is scanned in the middle of an inspection: both identities stand side by side, and nothing moves."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from browser.conftest import settled
from browser.eyes import keep_picture
from browser.sink import Hands, Sink, begun_at
from browser.sink_house import C_11, C_14
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

OTHER = f"01{C_11.di}21{C_11.serial}"
NOT_ON_RECORD = "0151022222233336219990001"
TISSUE = "=W123456789012300"
"""A donation number of blood or tissue (ISBT 128 data structure 001): no scope, and never taken for one."""


def at_finding(hands: Hands) -> None:
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")


def at_photo(hands: Hands) -> None:
    hands.tap("Photo", ".hand")
    hands.page.wait_for_selector("video[data-live]")


def at_conclude(hands: Hands) -> None:
    hands.page.evaluate("() => { location.hash = location.hash.replace('#/route', '#/conclude'); }")
    hands.wait_for("What is done first")


def at_kept(hands: Hands) -> None:
    hands.tap(re.compile("on the server|saved here", re.IGNORECASE), ".bar")
    hands.wait_for("Last entries")


def at_person(hands: Hands) -> None:
    hands.tap(re.compile("Ila Venn"), ".bar")
    hands.wait_for("Who is here?")


SCREENS: dict[str, Callable[[Hands], None]] = {
    "route": lambda _: None,
    "finding": at_finding,
    "photo": at_photo,
    "conclude": at_conclude,
    "kept": at_kept,
    "person": at_person,
}


def stops(hands: Hands, code: str, says: str, number: str) -> None:
    """The code stops: nothing is written, the screen below stays, both stand side by side; then the way back."""
    url, before = hands.page.url, hands.entries()
    hands.scan(code)
    panel = hands.page.get_by_role("alertdialog")
    expect(panel).to_contain_text(says)
    mine, other = panel.locator("dl").all()
    expect(mine).to_contain_text("Colonoscope C-14")
    expect(mine).to_contain_text(C_14.serial)
    expect(other).to_contain_text(number)
    expect(panel).to_contain_text("What was recorded for Colonoscope C-14 stays as it is.")
    left, right = mine.bounding_box(), other.bounding_box()
    assert left is not None and right is not None and abs(left["y"] - right["y"]) < 2, "side by side"
    hands.tap("Stay here")
    expect(panel).to_have_count(0)
    settled(hands.page)
    assert (hands.page.url, hands.entries()) == (url, before)


def test_another_scope_stops_on_every_screen_of_an_inspection(own_sink: Sink, screens: Path) -> None:
    hands = own_sink.tablet("Sink 2", "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    home = hands.page.url
    for there in SCREENS.values():
        there(hands)
        stops(hands, OTHER, "The code belongs to Colonoscope C-11, not to Colonoscope C-14.", C_11.serial)
        hands.page.evaluate("(hash) => { location.hash = hash; }", home.split("#")[1])
        hands.wait_for("Distal tip", "h1")
        settled(hands.page)

    stops(hands, NOT_ON_RECORD, "a scope that is not on record", "9990001")
    stops(hands, TISSUE, "This is a label for tissue or blood.", TISSUE)
    hands.scan(OTHER)
    expect(hands.page.get_by_role("alertdialog")).to_be_visible()
    keep_picture(hands.page, screens / "sink-another-scope.png")
    hands.tap("Stay here")
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.nothing_found()
    hands.wait_for("End cover", "h1")
    hands.wait_sent()
    assert [entry["kind"] for entry in hands.entries()] == ["inspection.begun", "serial.photographed", "part.marked"]


def test_a_scope_is_left_by_the_way_home_and_waits_there(own_sink: Sink) -> None:
    hands = own_sink.tablet("Sink 2", "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.tap("Back", ".bar")
    hands.wait_for("Scan a scope to begin")
    hands.scan(OTHER)
    hands.wait_for("Colonoscope C-11", ".bar")
    settled(hands.page)
    hands.tap("Back", ".bar")
    hands.tap(re.compile("^Colonoscope C-14"), ".hand")
    hands.wait_for("Distal tip", "h1")
