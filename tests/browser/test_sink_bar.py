"""The bar of every screen: what was read stands beside the title, one tap goes on as another, and the wiped screen."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import holds, settled
from browser.eyes import keep_picture
from browser.sink import LANDSCAPE, PORTRAIT, Hands, Sink, begun_at, enrol, sign_in
from browser.sink_house import C_11, C_14, PIN
from browser.test_sink_people import draft, draft_stands, whose
from PIL import Image
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

PHONE = {"width": 390, "height": 844}
STANDS = """() => {
  const real = window.setTimeout;
  window.setTimeout = (act, ms, ...rest) => (ms === 4000 || ms === 10000 ? 0 : real(act, ms, ...rest));
}"""
"""What was read stands for as long as it is looked at here, however slow the machine is."""
UNCOVERED = """() => {
  const title = document.querySelector('.bar .title'), range = document.createRange();
  range.selectNodeContents(title);
  const strip = document.querySelector('.bar .heard').getBoundingClientRect();
  return [...range.getClientRects()].every((line) =>
    line.right <= strip.left || line.left >= strip.right
    || line.bottom <= strip.top + 2 || line.top >= strip.bottom - 2);
}"""
"""No line of the title lies under what was read, wherever each of them is (2 px of a line are air)."""


def drawn_over_all(hands: Hands) -> bool:
    """Whether the ground of the words is what is seen beside them: nothing is drawn over it, no word runs out of it."""
    strip = hands.page.locator(".bar .heard")
    box = strip.bounding_box()
    assert box is not None
    ground = strip.evaluate("(at) => getComputedStyle(at).backgroundColor.match(/\\d+/g).slice(0, 3).map(Number)")
    shot = Image.open(io.BytesIO(hands.page.screenshot(scale="css"))).convert("RGB")
    y = round(box["y"] + box["height"] / 2)
    ends = [shot.getpixel((round(x), y)) for x in (box["x"] + 7, box["x"] + box["width"] - 7)]
    runs_out = strip.evaluate("(at) => at.scrollWidth > at.clientWidth + 1 || at.scrollHeight > at.clientHeight + 1")
    return ends == [tuple(ground)] * 2 and not runs_out


def at_every_size(hands: Hands, screens: Path, name: str) -> None:
    for turned, size in (("landscape", LANDSCAPE), ("portrait", PORTRAIT), ("phone", PHONE)):
        hands.page.set_viewport_size(size)  # type: ignore[arg-type]
        expect(hands.page.locator(".bar .heard")).to_be_visible()
        keep_picture(hands.page, screens / f"bar-{name}-{turned}.png")
        assert hands.page.evaluate(UNCOVERED), f"{name} {turned}: the title is covered"
        assert drawn_over_all(hands), f"{name} {turned}: something lies over the words"
    hands.page.set_viewport_size(LANDSCAPE)  # type: ignore[arg-type]


def test_what_was_read_stands_beside_the_title_and_never_over_it(sink: Sink, screens: Path) -> None:
    hands = sink.tablet("Sink 2")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    expect(hands.page.locator(".bar .heard")).to_have_count(0)  # it goes by itself
    hands.page.evaluate(STANDS)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_for("Colonoscope C-14", ".bar .title")
    hands.wait_for("C-14", ".bar .heard")
    at_every_size(hands, screens, "same")
    hands.scan("LB1:C:answer-7")
    hands.wait_for("Has no meaning here", ".bar .heard")
    at_every_size(hands, screens, "card")


def test_one_tap_and_the_pin_go_on_as_who_was_here_before_without_the_network_too(sink: Sink) -> None:
    sink.guard.allow("net::ERR_")
    hands = sink.tablet("Sink 3", "Ila Venn")
    hands.tap("Next person")
    hands.wait_screen("Who is here?")
    hands.scan("LB1:P:rin.oake")
    hands.wait_for("PIN for Rin Oake")
    hands.digits(PIN)
    whose(hands, "Rin Oake")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    draft(hands)
    hands.wait_sent()

    before = len(hands.taps)
    hands.tap("Go on as Ila Venn", ".bar")
    whose(hands, "Ila Venn")
    draft_stands(hands)
    assert len(hands.taps) - before == 1, "both gave their PIN since the last lock"
    hands.wait_for("Here now: Ila Venn", ".bar")

    hands.page.reload()  # what proved them is gone
    sign_in(hands, "Ila Venn")
    draft_stands(hands)
    hands.page.context.set_offline(True)
    before = len(hands.taps)
    hands.tap("Go on as Rin Oake", ".bar")
    hands.wait_for("PIN for Rin Oake")
    hands.digits(PIN)
    whose(hands, "Rin Oake")
    draft_stands(hands)
    assert len(hands.taps) - before == 1 + len(PIN) + 1, "one tap, then the PIN"
    hands.tap("Save finding")
    hands.wait_for("Nozzle", "h1")
    last = hands.entries()[-1]
    assert (last["person"], last["proof"]) == ("rin.oake", {"how": "pin", "where": "offline"})

    hands.page.context.set_offline(False)


def test_while_the_screen_is_wiped_no_touch_counts_and_it_ends_by_itself_a_key_or_a_code(
    sink: Sink, screens: Path
) -> None:
    hands = sink.open("Sink 4", sink.camera(), clock=True)
    enrol(hands, sink.house.codes["Sink 4"])
    sign_in(hands, "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    page, before = hands.page, len(hands.entries())
    hands.tap(re.compile("Ila Venn"), ".bar")
    hands.wait_for("Who is here?", "h1")
    hands.tap(re.compile("^Wipe the screen"))
    cover = page.get_by_role("alertdialog", name="Wipe the screen now")
    expect(cover).to_be_visible()
    expect(page.locator("h1", has_text="Distal tip")).to_be_attached()  # the screen they came from lies below
    hands.wait_for("seconds left", ".wipe")
    page.clock.pause_at(page.evaluate("Date.now()") / 1000 + 2)
    view = page.viewport_size
    assert view is not None
    for part in range(1, 10):  # a cloth goes over all of it
        page.touchscreen.tap(view["width"] * part / 10, view["height"] * part / 10)
        page.touchscreen.tap(view["width"] * 0.85, view["height"] * part / 10)
    left = page.locator(".wipe .left")
    before_s = int(left.inner_text().split()[0])
    page.clock.run_for(6_000)
    assert int(left.inner_text().split()[0]) == before_s - 6
    page.clock.run_for(1_000 * (before_s - 6) - 400)
    page.touchscreen.tap(900, 700)
    page.clock.run_for(600)
    expect(left).to_have_text("Lift the cloth")
    page.clock.run_for(1_200)
    expect(cover).to_have_count(0)
    page.clock.resume()
    assert hands.heading() == "Distal tip" and len(hands.entries()) == before

    page.evaluate(
        "() => { window.realNow = performance.now; const now = performance.now(); performance.now = () => now; }"
    )
    hands.scan("LB1:C:wipe")
    expect(cover).to_be_visible()
    found = Axe().run(page)
    assert [each["id"] for each in found.response["violations"] if each["impact"] in ("serious", "critical")] == []
    for turned, size in (("landscape", LANDSCAPE), ("portrait", PORTRAIT), ("phone", PHONE)):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        keep_picture(page, screens / f"wipe-{turned}.png")
    page.set_viewport_size(LANDSCAPE)  # type: ignore[arg-type]
    page.evaluate("() => { performance.now = window.realNow; }")
    page.keyboard.press("Escape")
    expect(cover).to_have_count(0)

    hands.scan("LB1:C:wipe")
    expect(cover).to_be_visible()
    hands.scan("LB1:C:nothing-found")  # another card: what it asks for is done
    expect(cover).to_have_count(0)
    holds(page, "document.querySelector('h1').textContent !== 'Distal tip'")
    settled(page)
    assert len(hands.entries()) == before + 1

    hands.scan("LB1:C:wipe")
    expect(cover).to_be_visible()
    hands.scan(f"01{C_11.di}21{C_11.serial}")
    expect(cover).to_have_count(0)
    hands.wait_for("Another scope", "body")


def test_the_sounds_are_switched_in_one_tap_where_scans_begin_and_stay_so_on_this_station(sink: Sink) -> None:
    hands = sink.open("Desk", sink.camera())
    enrol(hands, sink.house.codes["Desk"])
    sign_in(hands, "Ila Venn")
    page = hands.page
    expect(page.get_by_role("button", name="Sounds of this tablet")).to_have_attribute("aria-pressed", "true")
    before = len(hands.taps)
    hands.tap("Sounds of this tablet")
    assert len(hands.taps) - before == 1
    page.reload()
    sign_in(hands, "Rin Oake")
    expect(page.get_by_role("button", name="Sounds of this tablet")).to_have_attribute("aria-pressed", "false")
