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
from browser.eyes import Eyes, drawn_by, frameless
from browser.look_rest import (
    a_call_and_what_is_asked,
    an_empty_installation,
    at_acceptance,
    by_a_code,
    go,
    in_practice,
    on_record,
    round_the_cycle,
    withdrawn,
    without_a_store,
    without_touch,
)
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


PIECES = {
    "screens/another": "[role=alertdialog][aria-labelledby=another]",
    "screens/camera-panel": "section[aria-label='Camera and focus']",
    "screens/channel-hand": "text=Look with a borescope",
    "screens/command-sheet": ".print-only.sheet",
    "screens/heard-sign": "[data-card]",
    "screens/home-meeting": ".notice",
    "screens/home-work": "h2:text-is('Waiting here')",
    "screens/new-tool": "label:has-text('Outer diameter in mm')",
    "screens/next-scan": "text=The next scan",
    "screens/problem": "text=This was not saved",
    "screens/record-says": "h2:text-is('What the record says')",
    "screens/stopped": "text=A lead withdrew this tablet.",
    "screens/trying-hand": "h2:has-text('About:')",
    "screens/viewfinder": "video",
    "screens/without-result": "button:has-text('End it without a result')",
}
"""Files without a frame of their own, and what is seen where one of them stands."""
NOT_SEEN = {
    "screens/lazy",
    "screens/repair-screens",
    "screens/lost",
    "screens/example-pictures",
    "screens/recorded-photos",
}
"""What draws nothing of its own but another screen; a tablet that lost its store, at which test_sink_lost.py looks;
and the photos under a finding or an entry, which need a lead's choice or a photo: test_photos_hidden.py goes past
them."""
SHOWN_BY = {
    "screens/photo-waits": "test_hand_over.py",
    "screens/repair-photos": "test_repair.py",
    "screens/came-back": "test_repair.py",
    "screens/use-stopped": "test_repair.py",
    "screens/from-card": "test_photo_burst.py",
    "screens/new-chain": "test_sink_unreadable.py",
    "screens/wipe": "test_sink_bar.py",
}
"""Pieces that stand for a few seconds or need files of their own, and the tests in which they are seen."""


@pytest.fixture(scope="module")
def walked(
    house: House, playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory, screens: Path
) -> Iterator[Eyes]:
    folder = screens / "walk"
    folder.mkdir(exist_ok=True)
    eyes = Eyes(folder, PIECES)
    walk(house, playwright, chromium, tmp_path_factory.mktemp("walk"), eyes)
    yield eyes


def walk(house: House, playwright: Playwright, chromium: str, temporary: Path, eyes: Eyes) -> None:
    """All of it, on one server and one tablet; an empty installation beside it."""
    with at_sink(house, temporary, playwright, chromium) as sink:
        on_record(sink)
        hands = sink.open("Sink 2", sink.camera(coded=False))
        to_the_person(sink, hands, eyes)
        around_home(sink, hands, eyes)
        to_the_route(sink, hands, eyes)
        on_the_route(sink, hands, eyes)
        at_the_decision(sink, hands, eyes)
        at_the_leak_test(sink, hands, eyes)
        what_is_kept(sink, hands, eyes)
        when_it_does_not_go(sink, hands, eyes)
        sign_in(hands, "Ila Venn")
        round_the_cycle(hands, eyes)
        a_call_and_what_is_asked(sink, hands, eyes)
        at_acceptance(hands, eyes)
        without_touch(hands, eyes)
        in_practice(hands, eyes)
        by_a_code(hands, eyes)
        without_a_store(sink, hands, eyes)
        withdrawn(sink, hands, eyes)
        an_empty_installation(sink, eyes, temporary)


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
    hands.tap("Camera and focus", "main")
    eyes.at(hands.page, "camera-set")
    hands.tap("Close", "main")
    hands.tap(SHUTTER)
    hands.page.locator(".hand .btn.best").wait_for()
    eyes.at(hands.page, "camera-taken")
    hands.tap("Shows a person or patient data", ".hand")
    eyes.at(hands.page, "camera-person")
    hands.tap("It shows no person", ".hand")
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
    hands.tap("Where in the photo")
    hands.tap_on(hands.page.locator("main button.field"))
    eyes.at(hands.page, "ring")
    hands.tap("Close", ".hand")
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
    go(hands, f"#/then-now?begun={begun[1]}&part=distal_tip")
    hands.page.locator("main figure, main .empty").first.wait_for()
    eyes.at(hands.page, "then-now")
    go(hands, "#/home")
    eyes.at(hands.page, "home-begun")
    hands.tap(re.compile("^Colonoscope C-14"), ".hand")
    settled(hands.page)
    hands.tap("Hold", "main")
    hands.wait_for("Put C-14 on hold: why?", "h1")
    hands.tap("Harm or infection suspected", "main")
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
    hands.type("Pressure", "21.5")
    hands.tap("Start the clock", "main")
    hands.wait_for("Stop the clock", "main")
    eyes.at(hands.page, "leak-steps")
    hands.tap("Stop the clock", "main")
    hands.wait_for("Start it again", "main")
    hands.tap("Could not test", ".hand")
    eyes.at(hands.page, "leak-could-not")
    hands.tap("Bubbles", ".hand")
    hands.tap(re.compile("^Part 9 of 30, bending cover"), "nav")
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


def test_no_screen_of_the_source_is_left_out(walked: Eyes, root: Path) -> None:
    """Read from the source tree: a file that draws a frame was looked at, and so was every piece of one."""
    assert drawn_by(root, "screens") - walked.drawn - NOT_SEEN == set()
    assert [name for name in SHOWN_BY.values() if not (root / "tests" / "browser" / name).is_file()] == []
    assert frameless(root, "screens") - NOT_SEEN - set(SHOWN_BY) == set(PIECES), (
        "a piece of a screen without a sign by which it is seen"
    )
    assert set(PIECES) - walked.met == set()


NOBODY = {
    "by-code", "enrol", "enrol-refused", "locked", "pin-wrong", "recovery", "store-closed", "who", "who-all",
    "begin-you", "begin-facility", "begin-places", "begin-shifts", "begin-tablet",
}  # fmt: skip
"""The screens at which nobody is signed in: before, between and after people, and before there is a tablet."""


def test_the_name_of_who_works_here_stands_on_every_screen(walked: Eyes) -> None:
    """At both sizes and on a phone by what eyes.js measures; here that no screen leaves the person out."""
    assert {name for name, person in walked.people.items() if person == ""} == NOBODY


MATTERS = {
    "begin-you": "The makers' instructions, your facility's rules and infection prevention come first.",
    "serial": "No patient name, number, face, wristband or whiteboard in the picture. Treat the scope as contaminated",
    "camera": "No patient name, number, face, wristband or whiteboard in the picture.",
    "channel": "Do not force a borescope. Do not look into a lit light guide or borescope tip.",
    "functions": "Do not look into a lit light guide or borescope tip.",
    "hold": "Write nothing about the patient here.",
    "leak-steps": "A scope that leaks: keep the pressure on, lift it out, then vent.",
    "before-use": "Nothing found means not seen with the named tool, where looked.",
    "decide-all-looked": "This is no diagnosis, no reporting decision and no repair estimate.",
    "person": "Wipe the tablet with an agreed product. Keep dirty-side and clean-side tablets apart. Gloves",
    "step-received": "The scope counts as contaminated: gloves, gown, face protection.",
    "tools": "Processed as its own instructions say",
    "practice": "The makers' instructions",
}
"""Each caution stands on the screen where it matters, not as a wall: common practice, no source."""


def test_cautions_stand_where_they_matter(walked: Eyes) -> None:
    assert [name for name, words in MATTERS.items() if words not in walked.words[name].replace("\n", " ")] == []


@pytest.mark.slow
def test_and_on_a_phone_at_200_per_cent_with_the_left_hand_and_in_forced_colours(
    house: House, playwright: Playwright, chromium: str, tmp_path: Path, screens: Path
) -> None:
    folder = screens / "walk-long"
    folder.mkdir(exist_ok=True)
    eyes = Eyes(folder, PIECES, long=True)
    try:
        walk(house, playwright, chromium, tmp_path, eyes)
    finally:
        print("\n".join(eyes.found))
    assert eyes.found == [], "\n".join(eyes.found)
