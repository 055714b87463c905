"""Every screen of the sink, walked once on a real server and looked at in every form: both themes, both ways round.

Asked of each: axe-core finds nothing (WCAG 2.2 A and AA and its own advice), each target is 64 px and 12 from the next,
no text is cut, small or under another, nothing scrolls sideways, one heading and one filled button. The pictures are
kept as output, for people to look at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import holds, settled
from browser.eyes import Eyes
from browser.sink import SHUTTER, Hands, Sink, at_sink, enrol, scanned_for, sign_in
from browser.sink_house import C_09, C_11, C_14, House
from playwright.sync_api import Playwright

pytestmark = [pytest.mark.sink, pytest.mark.breadth]

NO_CAMERA = (
    "() => { navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('', 'NotAllowedError')); }"
)
NO_ROOM = """() => {
  const put = IDBObjectStore.prototype.put, add = IDBObjectStore.prototype.add;
  window.roomAgain = () => Object.assign(IDBObjectStore.prototype, { put, add });
  const full = () => { throw new DOMException('', 'QuotaExceededError'); };
  Object.assign(IDBObjectStore.prototype, { put: full, add: full });
}"""


def udi_of(scope: object) -> str:
    return f"01{scope.di}21{scope.serial}"  # type: ignore[attr-defined]


def go(hands: Hands, way: str) -> None:
    """A screen by its address, as a reload comes back to it."""
    hands.page.evaluate("(hash) => { location.hash = hash; }", way)
    settled(hands.page)


@pytest.fixture(scope="module")
def walked(
    house: House, playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory, screens: Path
) -> Iterator[Eyes]:
    folder = screens / "walk"
    folder.mkdir(exist_ok=True)
    eyes = Eyes(folder)
    with at_sink(house, tmp_path_factory.mktemp("walk"), playwright, chromium) as sink:
        hands = sink.open("Sink 2", sink.camera(coded=False))
        to_the_person(sink, hands, eyes)
        around_home(sink, hands, eyes)
        to_the_route(sink, hands, eyes)
        on_the_route(sink, hands, eyes)
        at_the_decision(sink, hands, eyes)
        at_the_leak_test(sink, hands, eyes)
        what_is_kept(sink, hands, eyes)
        when_it_does_not_go(sink, hands, eyes)
        yield eyes


def to_the_person(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    hands.wait_for("Enrol this tablet", "h1")
    eyes.at(hands.page, "enrol")
    hands.type("One-time code", "AB12-CD34")
    hands.tap("Enrol")
    hands.page.locator(".notice").wait_for()
    eyes.at(hands.page, "enrol-refused")
    enrol(hands, sink.house.codes["Sink 2"])
    eyes.at(hands.page, "who")
    hands.tap(re.compile("^Others"))
    eyes.at(hands.page, "who-all")
    hands.tap(re.compile("Ila Venn"), "main")
    hands.digits("111111")
    hands.page.locator(".notice").wait_for()
    refused = hands.page.evaluate("performance.now()")
    eyes.at(hands.page, "pin-wrong")
    # The door takes no PIN in the second after a wrong one, as the notice says.
    holds(hands.page, f"performance.now() > {refused + 1_000}")
    hands.digits("704182")
    hands.wait_changed("h1", "Badge in to go on")
    settled(hands.page)
    eyes.at(hands.page, "home-empty")


def around_home(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    for name, text in (
        ("no-serial", "0151022222233336"),
        ("separator", "015102222223333610A213B1211234"),
        ("check", "015102222223333721990001"),
        ("tissue", "=A99991234567800"),
        ("nobody", "LB1:P:nobody"),
    ):
        hands.scan(text)
        settled(hands.page)
        if name == "nobody":
            eyes.at(hands.page, "met-badge")
        else:
            hands.page.locator(".notice").wait_for()
            eyes.at(hands.page, f"met-{name}")
    go(hands, "#/camera-scan")
    eyes.at(hands.page, "scan-by-camera")
    go(hands, "#/type")
    hands.page.locator("#typed").fill("C-")
    settled(hands.page)
    eyes.at(hands.page, "typing")
    hands.page.locator("#typed").fill("015102222223333721990001")
    settled(hands.page)
    eyes.at(hands.page, "typing-check-wrong")
    hands.scan("0151022222233336219990001")
    hands.wait_for("What is it?", "h1")
    eyes.at(hands.page, "unknown-scope")
    hands.scan("K990012345")
    settled(hands.page)
    eyes.at(hands.page, "unknown-number")
    hands.tap(re.compile("^Ila Venn"), ".bar")
    settled(hands.page)
    eyes.at(hands.page, "person")
    hands.tap("Help", ".hand")
    hands.wait_for("Home", "h1")
    eyes.at(hands.page, "help")
    hands.tap("Cautions", ".hand")
    eyes.at(hands.page, "help-cautions")
    hands.tap("The six marks", ".hand")
    eyes.at(hands.page, "help-marks")
    hands.tap("Back", ".bar")
    hands.tap("Test the reader and the camera", ".hand")
    eyes.at(hands.page, "reader")
    hands.scan("+d2015102222223333610YzßAq?7\x1d21LB-wM5")
    hands.page.locator(".hand .notice").first.wait_for()
    eyes.at(hands.page, "reader-faults")
    hands.tap("Camera", "main")
    hands.page.wait_for_selector("video")
    hands.wait_for("1280 × 720", "main")
    eyes.at(hands.page, "reader-camera")
    go(hands, "#/home")


def to_the_route(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    hands.scan(udi_of(C_14))
    hands.wait_screen("serial")
    hands.page.wait_for_selector("video[data-live]")
    eyes.at(hands.page, "serial")
    hands.page.evaluate(NO_CAMERA)
    go(hands, "#/home")
    hands.scan(udi_of(C_14))
    hands.wait_for("may not use the camera", "main")
    eyes.at(hands.page, "serial-no-camera")
    hands.give_file("Choose a file", sink.plate(C_11.serial))
    hands.page.locator(".hand .notice").wait_for()
    eyes.at(hands.page, "serial-differs")
    hands.tap("Again", ".hand")
    hands.give_file("Choose a file", sink.plate(C_14.serial, coded=False))
    hands.wait_for("The code was not read", ".hand")
    hands.tap("1", ".pad")
    eyes.at(hands.page, "serial-last-four")
    for digit in C_14.serial[-3:]:
        hands.tap(digit, ".pad")
    hands.tap("Use this photo", ".hand")
    hands.wait_for("Distal tip", "h1")
    hands.page.reload()
    sign_in(hands, "Ila Venn")
    hands.wait_for("Distal tip", "h1")


def on_the_route(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    eyes.at(hands.page, "route")
    hands.nothing_found()
    hands.could_not_look("Covered")
    eyes.at(hands.page, "route-undo")
    hands.tap("Could not look", ".hand")
    eyes.at(hands.page, "route-why-not")
    hands.tap("Close", ".hand")
    hands.tap(re.compile("^Channels"), "nav")
    eyes.at(hands.page, "route-channels")
    hands.tap(re.compile("^Outside"), "nav")
    hands.page.get_by_role("button", name=re.compile("Part 12 of")).click()
    settled(hands.page)
    hands.tap(re.compile("^(Photo|One more photo)$"), ".hand")
    hands.page.wait_for_selector("video[data-live]")
    eyes.at(hands.page, "camera")
    hands.tap(SHUTTER)
    hands.page.locator(".hand .btn.best").wait_for()
    eyes.at(hands.page, "camera-taken")
    hands.tap("Keep 1 photo")
    settled(hands.page)
    hands.wait_for("You took a photo here", ".hand")
    eyes.at(hands.page, "route-photo")
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    eyes.at(hands.page, "finding-1-what")
    hands.choose("Peeling coat", "Moderate")
    eyes.at(hands.page, "finding-2-since")
    hands.tap(re.compile(r"^\+10"), "main")
    hands.tap("Read off", "main")
    eyes.at(hands.page, "finding-3-where")
    hands.tap("Ring on the photo")
    hands.tap_on(hands.page.locator("main button.field"))
    eyes.at(hands.page, "ring")
    hands.tap("Close", "main")
    hands.tap("Save finding")
    settled(hands.page)
    hands.scan(udi_of(C_11))
    hands.page.get_by_role("alertdialog").wait_for()
    eyes.at(hands.page, "wrong-scope")
    hands.tap(re.compile("^Stay"))


def at_the_decision(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    begun = re.search("begun=([0-9a-f]{64})", hands.page.url)
    assert begun is not None
    go(hands, f"#/conclude?begun={begun[1]}")
    hands.page.locator(".hand .answers").first.wait_for()
    eyes.at(hands.page, "decide-rows")
    hands.tap(re.compile("^On to"), ".hand .answers")
    eyes.at(hands.page, "decide-refused")
    go(hands, "#/home")
    eyes.at(hands.page, "home-begun")
    hands.tap(re.compile("^Colonoscope C-14"), ".hand")
    settled(hands.page)
    hands.tap("Hold", "main")
    hands.wait_for("Put C-14 on hold: why?", "h1")
    eyes.at(hands.page, "hold")
    go(hands, f"#/route?begun={begun[1]}")
    hands.finish_route()
    hands.page.locator(".hand .answers").first.wait_for()
    eyes.at(hands.page, "decide-all-looked")
    hands.tap("The tag is on the scope", ".hand")
    hands.tap_on(hands.page.locator(".hand .btn.best"))
    hands.wait_for("Scan a scope to begin")
    eyes.at(hands.page, "home-concluded")
    go(hands, f"#/conclude?begun={begun[1]}")
    hands.wait_for("This inspection is concluded")
    eyes.at(hands.page, "decided")
    go(hands, f"#/route?begun={begun[1]}")
    hands.wait_for("This inspection is concluded")
    eyes.at(hands.page, "route-concluded")
    go(hands, "#/home")


def at_the_leak_test(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    hands.scan(udi_of(C_09))
    hands.wait_screen("cycle")
    eyes.at(hands.page, "cycle")
    hands.tap("Inspect: at leak test")
    hands.wait_screen("serial")
    eyes.at(hands.page, "serial-leak-first")
    hands.tap("The leak test failed: record it first")
    hands.wait_screen("leak")
    for step in ("Valves and caps are off", "Soaking cap is on"):
        hands.tap(re.compile(f"^{step}"), "main")
    eyes.at(hands.page, "leak-steps")
    hands.tap("Could not test", ".hand")
    eyes.at(hands.page, "leak-could-not")
    hands.tap("Bubbles", ".hand")
    hands.tap(re.compile("^Part 2 of 11, bending cover"), "nav")
    eyes.at(hands.page, "leak-bubbles")


def what_is_kept(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    context = hands.page.context
    hands.wait_sent()
    go(hands, "#/kept")
    eyes.at(hands.page, "kept")
    context.set_offline(True)
    go(hands, "#/home")
    scanned_for(hands, C_11, "After cleaning")
    hands.tap(re.compile("^Put it on hold"), ".hand")
    hands.wait_for("on hold: why?", "h1")
    hands.tap("Doubt", "main")
    hands.tap(re.compile("^No tag at hand"), ".hand")
    hands.wait_for("Scan a scope to begin")
    eyes.at(hands.page, "home-offline")
    go(hands, "#/kept")
    eyes.at(hands.page, "kept-offline")
    context.set_offline(False)


def when_it_does_not_go(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    go(hands, "#/home")
    scanned_for(hands, C_14, "After cleaning")
    hands.tap(re.compile("^Put it on hold"), ".hand")
    hands.wait_for("on hold: why?", "h1")
    hands.page.evaluate(NO_ROOM)
    hands.tap("Doubt", "main")
    hands.tap(re.compile("^No tag at hand"), ".hand")
    hands.page.locator("main .notice").wait_for()
    eyes.at(hands.page, "not-saved")
    hands.page.evaluate("window.roomAgain()")
    hands.tap(re.compile("^Ila Venn"), ".bar")
    settled(hands.page)
    hands.tap("Lock the screen", ".hand")
    hands.wait_for("Badge in to go on")
    eyes.at(hands.page, "locked")


def test_every_screen_of_the_sink_can_be_read_and_touched(walked: Eyes) -> None:
    print(len(walked.seen), "screens")
    assert walked.found == [], "\n".join(walked.found)
