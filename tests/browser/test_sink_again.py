"""Begun and cut off: a scan goes on with what is there, never beside it, and no step leaves the page blank."""

from __future__ import annotations

import re

import pytest
from browser.sink import Hands, Sink, begun_at, sign_in
from browser.sink_house import C_14, Scope

pytestmark = pytest.mark.sink

NO_SERIAL_ENTRY = """() => {
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function (row, ...rest) {
    if (this.name === 'entries' && row.kind === 'serial.photographed') throw new DOMException('gone', 'AbortError');
    return add.call(this, row, ...rest);
  };
}"""
"""The store gives way between the two entries of one tap, as a browser that is ended there leaves it."""

WATCH_BLANK = """() => {
  window.blank = 0;
  const look = () => {
    if (document.querySelector('.bar') === null) window.blank += 1;
    requestAnimationFrame(look);
  };
  look();
}"""
"""Counts the frames that are painted without the bar that every screen has."""


def scan(hands: Hands, scope: Scope) -> None:
    hands.scan(f"01{scope.di}21{scope.serial}")


def begun(hands: Hands) -> list[str]:
    return [row["hash"] for row in hands.stored("entries") if row["kind"] == "inspection.begun"]


def test_an_inspection_without_its_serial_entry_goes_on_and_no_second_one_begins(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    scan(hands, C_14)
    hands.wait_screen("serial")
    hands.tap("After cleaning", "main")
    hands.page.evaluate(NO_SERIAL_ENTRY)
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(re.compile("^Take the photo"))
    hands.wait_for("Everything before it is saved here.")
    (root,) = begun(hands)
    hands.tap("Use this photo")
    hands.wait_for("Everything before it is saved here.")
    assert begun(hands) == [root], "a second tap begins no second one"
    own_sink.kill("Sink 2")

    hands = own_sink.open("Sink 2", own_sink.camera())
    sign_in(hands, "Ila Venn")
    hands.wait_screen("serial")
    hands.tap("Back", ".bar")
    hands.wait_for("Scan a scope to begin")
    scan(hands, C_14)
    hands.wait_screen("serial")
    assert hands.page.url.endswith(f"#/route?begun={root}")
    hands.tap("Use this photo")
    hands.wait_screen("Distal tip")
    assert [entry["kind"] for entry in hands.entries()] == ["inspection.begun", "serial.photographed"]
    assert hands.entries()[1]["about"]["inspection"] == root


def test_a_scan_of_a_scope_that_is_begun_here_goes_on_where_it_was(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    root = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    hands.wait_for("End cover", "h1")
    hands.tap("Back", ".bar")
    hands.wait_for("Scan a scope to begin")
    scan(hands, C_14)
    hands.wait_screen("End cover")
    assert begun(hands) == [root]


def test_an_inspection_that_cannot_be_concluded_is_ended_with_its_reason(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.page.goto(hands.page.url.replace("#/route", "#/conclude"))
    hands.tap("End it without a result")
    hands.tap("Interrupted")
    hands.wait_for("Scan a scope to begin")
    hands.wait_for("goes to cleaning", ".hand")  # by its leak test: the look is not gone on with
    assert hands.button(re.compile("Go on$"), ".hand").count() == 0
    last = hands.entries()[-1]
    assert (last["kind"], last["body"]) == ("inspection.abandoned", {"reason": "interrupted"})
    scan(hands, C_14)
    hands.wait_screen("serial")
    assert "begun=" not in hands.page.url
    hands.wait_sent()
    assert {row["verdict"] for row in own_sink.log(last["chain"])} == {"counted"}


def test_no_step_of_an_inspection_leaves_the_page_blank(own_sink: Sink) -> None:
    """A failed leak test comes before the photo of the serial number, the decision after it; then the way back."""
    hands = own_sink.tablet()
    hands.page.evaluate(WATCH_BLANK)
    scan(hands, C_14)
    hands.wait_screen("serial")
    hands.tap("At leak test", "main")
    hands.tap("The leak test failed: record it first")
    hands.wait_screen("leak")
    hands.tap(re.compile("^Pressure dropped"))
    hands.tap(re.compile("^Save: leak test failed"), ".hand")
    hands.wait_screen("serial")
    hands.serial_photo()
    hands.wait_for("What is done first")
    hands.tap("Back", ".bar")
    hands.wait_for("Distal tip", "h1")
    hands.nothing_found()
    assert hands.page.evaluate("window.blank") == 0
