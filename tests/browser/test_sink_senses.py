"""What a technician hears, sees and is told at a scan and at a photo; a screen that stays awake; sizes of all targets.

The product's own promises. The tones are read where the browser starts them, the wake lock where it is asked for
(W3C Screen Wake Lock); how loud a sink is, is not measured.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.conftest import holds, settled
from browser.plates import film, plate
from browser.sink import SHUTTER, Hands, Sink, begun_at
from browser.sink_house import C_11, C_14
from PIL import Image, ImageFilter

pytestmark = pytest.mark.sink

EARS = """() => {
  window.tones = [];
  window.shakes = [];
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (at) {
    window.tones.push(this.frequency.value);
    return start.call(this, at);
  };
  Navigator.prototype.vibrate = function (how) { window.shakes.push(how); return true; };
}"""
LOCKS = """() => {
  window.locks = [];
  Object.defineProperty(Navigator.prototype, 'wakeLock', { value: { request: async (what) => {
    const lock = { what, released: false, release: async () => { lock.released = true; } };
    window.locks.push(lock);
    return lock;
  } } });
}"""


def heard(hands: Hands) -> list[float]:
    """The tones since this was last asked."""
    return list(hands.page.evaluate("() => window.tones.splice(0)"))


def seen(hands: Hands) -> tuple[str, str]:
    """The strip that says what became of the last scan: its kind and its words."""
    strip = hands.page.locator("[data-scan]")
    strip.wait_for()
    return str(strip.get_attribute("data-scan")), strip.inner_text()


def test_every_scan_is_heard_seen_and_said_and_the_sound_can_be_switched_off(own_sink: Sink) -> None:
    hands = own_sink.tablet(script=EARS)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    assert seen(hands) == ("read", "Read: Colonoscope C-14")
    read = heard(hands)
    assert len(read) == 1 and read[0] > 1000, "one short high note"
    colour = hands.page.locator("[data-scan]").evaluate("(strip) => getComputedStyle(strip).backgroundColor")

    hands.tap("Back", ".bar")
    hands.scan("01510222222333362199999")
    hands.wait_for("Read, but not on record", "[data-scan]")
    assert seen(hands)[0] == "refused"
    refused = heard(hands)
    assert len(refused) == 2 and max(refused) < 300, "two low notes"
    assert hands.page.locator("[data-scan]").evaluate("(strip) => getComputedStyle(strip).backgroundColor") != colour
    assert hands.page.evaluate("window.shakes.length") == 2

    hands.page.evaluate("() => { location.hash = '#/person'; }")
    settled(hands.page)
    hands.tap("Off", "main")
    heard(hands)
    hands.page.evaluate("() => { location.hash = '#/home'; }")
    settled(hands.page)
    hands.scan(f"01{C_11.di}21{C_11.serial}")
    hands.wait_for("Read: Colonoscope C-11", "[data-scan]")
    assert seen(hands) == ("read", "Read: Colonoscope C-11"), "the words and the colour stay"
    assert heard(hands) == []
    hands.page.reload()
    settled(hands.page)
    assert hands.page.evaluate("localStorage.getItem('loupebook.sounds')") == "off"


def test_another_scope_while_one_is_in_hand_is_refused_with_sound_and_colour(own_sink: Sink) -> None:
    hands = own_sink.tablet(script=EARS)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    heard(hands)
    hands.scan(f"01{C_11.di}21{C_11.serial}")
    hands.wait_for("Another scope: nothing moves", "[data-scan]")
    assert seen(hands)[0] == "refused"
    assert len(heard(hands)) == 2


def test_the_screen_stays_awake_while_a_scope_is_in_hand_and_no_longer(own_sink: Sink) -> None:
    hands = own_sink.tablet(script=LOCKS)
    assert hands.page.evaluate("window.locks.length") == 0
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    holds(hands.page, "window.locks.filter((lock) => !lock.released).length === 1")
    assert hands.page.evaluate("window.locks.at(-1).what") == "screen"
    hands.nothing_found()
    assert hands.page.evaluate("window.locks.filter((lock) => !lock.released).length") == 1
    # A browser lets go of the lock when the page is hidden; it is asked for again when it comes back.
    hands.page.evaluate(
        "() => { for (const lock of window.locks) lock.released = true;"
        " document.dispatchEvent(new Event('visibilitychange')); }"
    )
    holds(hands.page, "window.locks.filter((lock) => !lock.released).length === 1")
    hands.tap("Back", ".bar")
    hands.wait_for("Scan a scope to begin")
    holds(hands.page, "window.locks.every((lock) => lock.released)")
    hands.page.evaluate("() => { location.hash = '#/person'; }")
    settled(hands.page)
    assert "The screen stays awake while a scope is in hand" in hands.text()
    assert "brightness to full" in hands.text()


def frames(sink: Sink, serial: str) -> tuple[Image.Image, Image.Image, Image.Image]:
    """The plate without a code: sharp, out of focus, and in the dark."""
    sharp = plate(serial, sink.folder, None)
    return sharp, sharp.filter(ImageFilter.GaussianBlur(5)), sharp.point(lambda value: value // 12)


def state(hands: Hands) -> str:
    return str(hands.page.locator(".finder").get_attribute("data-tells"))


def test_the_shutter_says_sharp_not_sharp_and_too_dark_before_the_tap(own_sink: Sink) -> None:
    sharp, soft, dark = frames(own_sink, C_14.serial)
    camera = film(own_sink.folder / "changing.mjpeg", [sharp, soft, dark], times=30)
    hands = own_sink.tablet(camera=camera)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    for told, words in (("sharp", "Sharp"), ("not_sharp", "Not sharp"), ("too_dark", "Too dark")):
        holds(hands.page, f"document.querySelector('.finder').dataset.tells === '{told}'")
        holds(hands.page, f"document.querySelector('[aria-label=\"Take the photo: {words}\"]') !== null")


def test_a_photo_that_is_not_sharp_is_told_before_it_is_kept_and_is_never_barred(own_sink: Sink) -> None:
    sharp, soft, _ = frames(own_sink, C_14.serial)
    camera = film(own_sink.folder / "soft.mjpeg", [sharp, soft], times=45)
    hands = own_sink.tablet(camera=camera)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.tap("After cleaning", "main")
    holds(hands.page, "document.querySelector('.finder').dataset.tells === 'sharp'")
    holds(hands.page, "document.querySelector('.finder').dataset.tells === 'not_sharp'")
    hands.tap(SHUTTER)
    hands.wait_for("The code was not read", ".hand")
    if state(hands) == "not_sharp":
        assert "Nearer or farther until the ring is full" in hands.text()
    assert hands.button("Again", ".hand").get_attribute("aria-disabled") is None
    assert hands.button(re.compile("^Nothing is readable|^Nothing can be read|readable"), ".hand").count() == 1


DEAF = """() => {
  const Real = Worker;
  const held = [];
  let deaf = true;
  globalThis.hear = () => { deaf = false; for (const say of held.splice(0)) say(); };
  globalThis.Worker = class extends Real {
    postMessage(message, ...rest) {
      const say = () => super.postMessage(message, ...rest);
      if (deaf && message?.effort === 'still') held.push(say); else say();
    }
  };
}"""
"""A code reader that hears nothing of a kept photo until it is let."""


def test_a_reader_that_gives_no_answer_is_not_taken_for_a_photo_without_codes(own_sink: Sink) -> None:
    """The photo is kept, the number can be read off, and the reader can be asked again."""
    own_sink.guard.allow("net::ERR_")
    own_sink.guard.allow("scan.worker")
    hands = own_sink.tablet(script=DEAF)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.tap("After cleaning", "main")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.wait_for("The code reader gave no answer", ".hand")
    assert "The code was not read" not in hands.text()
    hands.page.evaluate("() => globalThis.hear()")
    hands.tap("Look for the code again")
    hands.wait_for("Distal tip", "h1")
    (photographed,) = [entry for entry in hands.entries() if entry["kind"] == "serial.photographed"]
    assert (photographed["body"]["how"], photographed["body"]["agrees"]) == ("code", "yes")


GESTURES = re.compile(r"ondblclick|oncontextmenu|\bdraggable\b|ondragstart|longpress|touchhold", re.IGNORECASE)


def test_nothing_is_hidden_behind_a_long_press_a_drag_or_a_double_tap(root: Path) -> None:
    """Where something is dragged (the wipe, a mark over a photo, the place), the same file has a button for it."""
    sources = sorted((root / "frontend" / "src").rglob("*.svelte"))
    assert len(sources) > 60
    assert [path.name for path in sources if GESTURES.search(path.read_text("utf-8"))] == []
    dragged = [path for path in sources if "onpointermove" in path.read_text("utf-8")]
    known = {"Wipe.svelte", "MarksPhoto.svelte", "PlaceRuler.svelte", "ThenNow.svelte"}
    assert {path.name for path in dragged} <= known
    for path in dragged:
        assert "<button" in path.read_text("utf-8") or "<Button" in path.read_text("utf-8"), path.name
