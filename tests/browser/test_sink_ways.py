"""The ways round: a reader that types into a field, a camera that may not be used, a code that cannot be read."""

from __future__ import annotations

import re

import pytest
from browser.sink import Hands, Sink, enrol, sign_in
from browser.sink_house import C_09, C_11, C_14, Scope

pytestmark = pytest.mark.sink

NO_CAMERA = ("--deny-permission-prompts", "--use-fake-device-for-media-stream")
"""Chromium's own switches: each request for the camera is refused (W3C Media Capture: NotAllowedError)."""
WATCH_FIELDS = """() => {
  window.fields = [];
  document.addEventListener('input', (event) => window.fields.push(event.target.value), true);
}"""


def code_of(scope: Scope) -> str:
    return f"01{scope.di}21{scope.serial}"


def begun(hands: Hands) -> list[str]:
    """The kinds of entries that belong to an inspection."""
    return [entry["kind"] for entry in hands.entries() if "inspection" in entry["about"] or "begun" in entry["kind"]]


def test_a_scan_while_a_field_has_the_focus_is_a_scan_and_the_field_stays_as_it_was(sink: Sink) -> None:
    hands = sink.open("Sink 2", sink.camera(), clock=True)
    hands.wait_for("Enrol this tablet", "h1")
    hands.type("One-time code", "AB12")
    hands.page.get_by_label("One-time code", exact=True).focus()
    hands.scan_into_field(code_of(C_14))
    hands.wait_for("Enrol this tablet", "h1")
    assert hands.page.get_by_label("One-time code", exact=True).input_value() == "AB12"

    enrol(hands, sink.house.codes["Sink 2"])
    sign_in(hands, "Ila Venn")
    hands.tap("Type the number")
    hands.wait_for("Type the tag or the serial number", "h1")
    hands.page.evaluate(WATCH_FIELDS)
    hands.page.locator("#typed").fill("C-")
    hands.scan_into_field(code_of(C_11))
    hands.wait_screen("cycle")
    hands.wait_for("Colonoscope C-11", ".bar")
    assert hands.page.evaluate("window.fields.at(-1)") == "C-"

    hands.tap("Back", ".bar")
    hands.scan("0151022222233336219990001")
    hands.wait_for("What is it?", "h1")
    hands.page.get_by_label("Facility tag, if it has one").fill("C-20")
    hands.scan_into_field(code_of(C_09))
    hands.wait_screen("cycle")
    hands.wait_for("Colonoscope C-09", ".bar")
    assert hands.page.evaluate("window.fields.at(-1)") == "C-20"


def test_without_the_camera_a_file_begins_in_the_same_tap(sink: Sink) -> None:
    hands = sink.tablet("Sink 3", camera="none", flags=NO_CAMERA)
    hands.scan(code_of(C_14))
    hands.wait_screen("serial")
    hands.wait_for("The browser may not use the camera.")
    hands.wait_for("Allow it in the browser, or use the tablet’s camera or a file.")
    for way in ("Tablet's camera", "Choose a file"):
        box = hands.page.locator(".way", has_text=way).bounding_box()
        assert box is not None and min(box["width"], box["height"]) >= 64
    hands.give_file("Tablet's camera", sink.plate(C_14.serial))
    hands.wait_screen("Distal tip")
    (serial,) = [entry for entry in hands.entries() if entry["kind"] == "serial.photographed"]
    assert (serial["body"]["how"], serial["body"]["agrees"]) == ("code", "yes")


def test_a_number_that_differs_stops_with_both_numbers_and_a_hold_is_still_possible(sink: Sink) -> None:
    hands = sink.tablet("Sink 4", camera="none", flags=NO_CAMERA)
    hands.scan(code_of(C_14))
    hands.wait_screen("serial")
    hands.give_file("Choose a file", sink.plate(C_11.serial))
    differs(hands, C_11.serial, C_14.serial)

    hands.page.reload()
    sign_in(hands, "Ila Venn")
    hands.wait_screen("serial")
    differs(hands, C_11.serial, C_14.serial)

    hands.tap("Again", ".hand")
    hands.give_file("Choose a file", sink.plate(C_14.serial, coded=False))
    hands.wait_for("The code was not read", ".hand")
    assert C_14.serial not in hands.page.content()
    for digit in "1111":
        hands.tap(digit, ".pad")
    differs(hands, "1111", C_14.serial)

    hands.tap(re.compile("^Hold C-14"), ".hand")
    hands.wait_for("Put C-14 on hold: why?", "h1")
    hands.tap("Number differs", "main")
    hands.tap(re.compile("^No tag at hand"), ".hand")
    hands.wait_for("Scan a scope to begin")
    assert [entry["kind"] for entry in hands.entries()] == ["hold.placed"]

    hands.scan(code_of(C_14))
    hands.wait_screen("serial")
    hands.give_file("Choose a file", sink.plate(C_14.serial, coded=False))
    hands.wait_for("The code was not read", ".hand")
    for digit in C_14.serial[-4:]:
        hands.tap(digit, ".pad")
    assert C_14.serial not in hands.page.content()
    hands.tap("Use this photo", ".hand")
    hands.wait_screen("Distal tip")
    (serial,) = [entry for entry in hands.entries() if entry["kind"] == "serial.photographed"]
    assert serial["body"]["how"] == "last_four" and serial["body"]["last_four"] == C_14.serial[-4:]


def differs(hands: Hands, read: str, record: str) -> None:
    """The screen stopped: both numbers, nothing begun, nothing offered that would begin."""
    hands.wait_for(read, ".hand")
    words = hands.page.locator(".hand").inner_text()
    assert read in words and record in words and "Nothing is begun yet." in words
    assert hands.button("Use this photo").count() == 0
    assert begun(hands) == []
