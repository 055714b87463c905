"""Photos that can be trusted: what is laid over a photo, how long a thing is, and a photo then against a photo now.

The ruler is drawn here, so many pixels to the millimetre; what the tablet says is held against that.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
import time
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import LONGEST_WAIT_MS, holds, settled
from browser.eyes import keep_picture
from browser.sink import LANDSCAPE, PORTRAIT, Hands, Sink, begun_at
from browser.sink_desk import hear
from browser.sink_house import C_14, PLACE
from PIL import Image, ImageDraw
from playwright.sync_api import Page
from sink_tablet import SinkTablet

pytestmark = pytest.mark.photos

PX_PER_MM = 40
THING_MM = 12.5
KNOWN = ((400, 1200), (400 + 20 * PX_PER_MM, 1200))
"""Two marks of the ruler, 20 mm from each other."""
THING = ((500, 420), (500 + 300, 420 + 400))
"""3-4-5: 500 px, 12.5 mm."""


def ruler(folder: Path) -> Path:
    """A ruler with a mark each millimetre, and a thing 12.5 mm long lying aslant above it."""
    picture = Image.new("RGB", (2000, 1500), (70, 78, 82))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((300, 1150, 1700, 1400), fill=(230, 232, 228))
    for mm in range(35):
        x = 400 + mm * PX_PER_MM - 200
        draw.line((x, 1150, x, 1250 if mm % 5 == 0 else 1200), fill=(10, 10, 10), width=3)
    draw.line((*THING[0], *THING[1]), fill=(190, 150, 110), width=14)
    target = folder / "ruler.png"
    picture.save(target)
    return target


NARROW = {"width": 390, "height": 700}
"""A phone: the hand lies below the look, and what stands in it below the edge."""
BOTH_LOADED = """(() => {
  const small = [...(document.querySelector('.hand .two')?.querySelectorAll('img') ?? [])];
  return small.length === 2 && small.every((image) => image.complete && image.naturalWidth > 0);
})()"""


def tap_photo(page: Page, spot: tuple[int, int]) -> None:
    """A tap on a pixel of the photo, as it lies on the screen."""
    field = page.locator("main button.field")
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    assert box is not None
    field.click(position={"x": spot[0] / 2000 * box["width"], "y": spot[1] / 1500 * box["height"]})


def told_mm(page: Page) -> tuple[float, float]:
    """The length and its uncertainty, as they stand on the screen."""
    words = page.locator(".editor .is").inner_text()
    found = re.search(r"Length ([\d.]+) ± ([\d.]+) mm", words)
    assert found is not None, words
    return float(found[1]), float(found[2])


def press(hands: Hands, name: str) -> None:
    """A button of the hand, which scrolls where it is long."""
    button = hands.button(name, ".hand")
    button.scroll_into_view_if_needed()
    hands.tap_on(button)


def all_in_reach(hands: Hands) -> None:
    """No button of the hand lies under another or below the edge, either way round: nothing has to be scrolled to."""
    for size in (PORTRAIT, LANDSCAPE):
        hands.page.set_viewport_size(size)
        settled(hands.page)
        covered = hands.page.evaluate(
            """() => [...document.querySelectorAll('.hand button')].filter((button) => {
              const box = button.getBoundingClientRect();
              const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
              return box.bottom > innerHeight || top?.closest('button') !== button;
            }).map((button) => button.innerText)"""
        )
        assert covered == [], size


def checked(page: Page) -> None:
    """axe-core finds nothing."""
    found = Axe().run(page, options={"resultTypes": ["violations"]})
    assert found.response["violations"] == [], found.generate_report()


def bodies(hands: Hands, kind: str) -> list[dict[str, Any]]:
    return [entry["body"] for entry in hands.entries() if entry["kind"] == kind]


def test_a_length_against_a_drawn_ruler_is_right_within_what_is_said(sink: Sink) -> None:
    hands = sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.tap(re.compile("^Photo$"), ".hand")
    hands.give_file("Choose files", ruler(sink.folder))
    hands.tap("Where in the photo", ".hand")
    page = hands.page
    hands.tap("Length", ".hand")
    hands.wait_for("No millimetres", ".editor")
    for spot in KNOWN:
        tap_photo(page, spot)
    hands.wait_for("No millimetres", ".editor")
    for spot in THING:
        tap_photo(page, spot)
    hands.tap(re.compile("10 mm between its two points"), ".hand")
    all_in_reach(hands)
    # The tube's outer diameter stands in the scope's record, and offers itself.
    hands.tap("Insertion tube", ".hand")
    hands.wait_for("12.8 mm between its two points, within 0.66 mm", ".hand")
    hands.tap("Ruler", ".hand")
    hands.tap("+10 mm", ".hand")
    hands.wait_for("20 mm between its two points", ".hand")
    hands.tap("Back to the points", ".hand")
    all_in_reach(hands)
    hands.wait_for("Length", ".editor .is")
    length, off = told_mm(page)
    assert abs(length - THING_MM) <= off, "by taps"
    assert off < 1.5
    hands.wait_for("Right only where both lie in one plane", ".editor")

    # The last point by keys alone: away, and back again.
    field = page.locator("main button.field")
    field.focus()
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    further, _ = told_mm(page)
    assert further > length + 1
    for _ in range(3):
        page.keyboard.press("Shift+ArrowLeft")
    length, off = told_mm(page)
    assert abs(length - THING_MM) <= off, "by keys"
    # And by the big buttons.
    for name in ("Small steps", "Right", "Left"):
        hands.tap(name, ".hand")
    length, off = told_mm(page)
    assert abs(length - THING_MM) <= off, "by buttons"
    checked(page)

    hands.tap("Close", ".hand")
    page.wait_for_selector(".finder [data-laid]")
    hands.tap("Keep 1 photo", ".hand")
    hands.wait_for("Distal tip", "h1")
    page.wait_for_selector("main .strip [data-laid]")
    hands.wait_sent()
    (added,) = [entry for entry in hands.entries() if entry["kind"] == "photo.added"]
    (laid,) = added["body"]["lengths"]
    assert (laid["against"]["what"], laid["against"]["size_um"]) == ("ruler", 20_000)
    assert "um" not in laid, "what it says is made from the points, wherever it is shown"
    (row,) = [each for each in sink.lead().get(f"/lead/inspections/{root_of(hands)}")["laid"] if each["lengths"]]
    says = row["lengths"][0]["says"]
    assert abs(says["um"] - THING_MM * 1000) <= says["plus_minus_um"], "the server says so too"


def then_photo(sink: Sink, hands: Hands, part: str) -> Image.Image:
    """Last time's photo of a part, from the server."""
    (card,) = [
        row["row"] for row in hands.stored("cards") if row["table"] == "scopes" and row["row"].get("tag") == "C-14"
    ]
    (found,) = [each for each in card["parts"] if each["part"] == part]
    answer = sink.lead()._desk.get(f"/photos/{found['photo']['sha256']}?size=full")
    assert answer.status_code == 200
    return Image.open(io.BytesIO(answer.content)).convert("RGB")


def at_part(hands: Hands, begun: str, part: str, screen: str = "route") -> None:
    hands.page.evaluate("(hash) => { location.hash = hash; }", f"#/{screen}?begun={begun}&part={part}")
    settled(hands.page)


def worn_before(sink: Sink) -> None:
    """Another tablet found a chipped band at the tip of C-14 today; its photo is that of before, kept anew."""
    lead, sides = sink.lead()._desk, {"side": "both", "points": ["after_cleaning"]}
    code = str(sink.lead().post("/door/invite", {"name": "Sink 5", "place": PLACE, **sides})["code"])
    (photo, *_) = lead.get(f"/lead/history/part?key={C_14.key}&part=band_tip").json()["photos"]
    out, end = io.BytesIO(), time.monotonic() + LONGEST_WAIT_MS / 1000
    while (full := lead.get(f"/photos/{photo['sha256']}?size=full")).status_code == 202:  # the server looks at it first
        assert time.monotonic() < end
    picture = Image.open(io.BytesIO(full.content)).convert("RGB")
    picture.save(out, "JPEG", quality=95)
    other = SinkTablet(sink.server.url, "Sink 5").enrol(code)
    chain = other.chain
    chain.scope, chain.person = C_14.key, "ila.venn"
    chain.begin("after_cleaning")
    chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [other.photo("SN 2741906", "serial")])
    sha256 = hashlib.sha256(out.getvalue()).hexdigest()
    other.photos[sha256] = out.getvalue()
    size = {"width": picture.width, "height": picture.height}
    named = {"sha256": sha256, "bytes": len(out.getvalue()), "type": "image/jpeg", **size, "shows": "finding"}
    chain.find("band_tip", "band_chip", [named], grade="minor")
    chain.write("inspection.abandoned", {"reason": "interrupted"})
    assert {each["verdict"] for each in other.send()} == {"counted"}
    other.put_photos()
    other.close()


def test_then_and_now_side_by_side_wiped_and_in_turn_without_a_network(sink: Sink) -> None:
    worn_before(sink)
    hands = sink.tablet("Sink 3")
    page = hands.page
    page.emulate_media(reduced_motion="no-preference")
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    at_part(hands, begun, "band_tip")
    page.wait_for_selector("main .strip img")
    then = then_photo(sink, hands, "band_tip")
    turned = then.rotate(4, resample=Image.Resampling.BICUBIC).crop((20, 15, then.width - 40, then.height - 30))
    now = sink.folder / "turned.png"
    turned.point(lambda value: int(value * 0.9)).save(now)
    sink.guard.allow("net::ERR_")
    page.context.set_offline(True)

    # What is known here waits for both photos, and "same" is not offered before.
    hands.tap("Finding", ".hand")
    hands.wait_for("Known here: chipped band, minor", "main")
    known = hands.button(re.compile("^Same as before: chipped band, minor"))
    assert known.get_attribute("aria-disabled") == "true", "first both photos side by side"
    assert hands.button("Same as before", ".hand").count() == 0
    at_part(hands, begun, "band_tip")

    hands.tap(re.compile("^Photo$"), ".hand")
    hands.wait_for("Compare with", ".hand")
    page.wait_for_selector(".live.beside img")
    wiped_over_the_live_picture(sink, hands)
    hands.give_file("Choose files", now)
    hands.tap("Keep 1 photo")
    hands.wait_for("You took a photo here. What is it?", ".hand")

    # Known here or not: "same" is offered once both photos have stood side by side, not while they lie below the edge.
    page.set_viewport_size(NARROW)
    at_part(hands, begun, "band_tip", "finding")
    holds(page, BOTH_LOADED)
    assert hands.button("Same as before", ".hand").count() == 0, "loaded, and not seen"
    page.locator(".hand .two").first.scroll_into_view_if_needed()
    hands.wait_for("Same as before", ".hand")
    page.set_viewport_size(LANDSCAPE)
    settled(page)
    hands.tap("Large, then and now", ".hand")
    page.wait_for_selector("[data-beside]")
    settled(page)
    keep_picture(page, sink.folder / "then-beside-landscape.png")
    checked(page)

    hands.tap("Wipe", ".hand")
    hands.wait_for("Laid over each other by what both show, and checked.", ".hand")
    knob = page.get_by_role("slider")
    assert knob.get_attribute("aria-valuenow") == "50"
    knob.focus()
    page.keyboard.press("PageUp")
    page.keyboard.press("ArrowLeft")
    assert knob.get_attribute("aria-valuenow") == "59"
    hands.tap("Show more of now", "main")
    assert knob.get_attribute("aria-valuenow") == "49"
    assert page.locator("[data-how=by_itself]").count() == 1
    keep_picture(page, sink.folder / "then-wipe-landscape.png")
    checked(page)

    hands.tap("Move it by hand", ".hand")
    hands.tap("Turn left", ".hand")
    hands.wait_for("Laid over each other by hand.", ".hand")
    page.locator("[data-how=by_hand]").focus()
    page.keyboard.press("ArrowLeft")
    hands.tap("Lay it over again", ".hand")
    hands.wait_for("Laid over each other by what both show, and checked.", ".hand")
    assert hands.button("Point to differences", ".hand").get_attribute("aria-pressed") == "false"
    hands.tap("Point to differences", ".hand")
    hands.wait_for("A hint, no finding", ".hand")

    hands.tap("Blink", ".hand")
    blinking = page.locator("[data-top]")
    holds(page, "document.querySelector('[data-top]')?.dataset.top === 'then'")
    hands.tap("Stop blinking", ".hand")
    was = blinking.get_attribute("data-top")
    hands.tap(re.compile("^Show (before|now)$"), ".hand")
    assert blinking.get_attribute("data-top") != was

    page.set_viewport_size(PORTRAIT)
    hands.tap("Beside", ".hand")
    page.wait_for_selector("[data-beside]")
    keep_picture(page, sink.folder / "then-beside-portrait.png")
    checked(page)
    hands.tap("Close", ".hand")

    hands.tap_on(known)
    hands.tap("Save finding")
    (finding,) = bodies(hands, "finding.recorded")
    assert (finding["finding"], finding["grade"], finding["since"]) == ("band_chip", "minor", "same")
    assert finding["beside"]["before"] == finding["compared"]
    assert (finding["beside"]["size"], finding["beside"]["now"]) == ("large", newest(hands, "photo.added"))
    page.context.set_offline(False)


def wiped_over_the_live_picture(sink: Sink, hands: Hands) -> None:
    """Last time's photo over the live picture up to a line: by a tap on either side, by keys, and by dragging."""
    page = hands.page
    hands.tap("Wipe", ".hand")
    page.wait_for_selector(".finder [data-wipe] img")
    page.wait_for_selector(".finder video[data-live]")
    over, live = (page.locator(f".finder {one}").bounding_box() for one in ("[data-wipe] img", "video"))
    assert over == live, "both lie whole in the same frame"
    knob = page.get_by_role("slider")
    hands.tap("Show more of now", "main")
    hands.tap("Show more of now", "main")
    hands.tap("Show more of before", "main")
    assert knob.get_attribute("aria-valuenow") == "30"
    knob.focus()
    page.keyboard.press("PageUp")
    assert knob.get_attribute("aria-valuenow") == "40"
    at = knob.bounding_box()
    assert at is not None and over is not None
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    page.mouse.down()
    page.mouse.move(over["x"] + over["width"] * 0.7, at["y"])
    page.mouse.up()
    assert knob.get_attribute("aria-valuenow") == "70"
    keep_picture(page, sink.folder / "live-wipe-landscape.png")
    checked(page)


def root_of(hands: Hands) -> str:
    """The inspection in hand: its own beginning, or the one that it goes on with."""
    begun = [row for row in hands.stored("entries") if row["kind"] == "inspection.begun"][-1]
    return str(json.loads(begun["line"])["body"].get("continues", begun["hash"]))


def newest(hands: Hands, kind: str) -> str:
    return str([entry for entry in hands.entries() if entry["kind"] == kind][-1]["photos"][0]["sha256"])


def test_blinking_waits_where_motion_is_not_wanted_and_marks_are_taken_back_by_an_entry(sink: Sink) -> None:
    hands = sink.tablet("Sink 4")
    page = hands.page
    page.emulate_media(reduced_motion="reduce")
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    at_part(hands, begun, "band_tip")
    hands.take_photo()
    at_part(hands, begun, "band_tip", "then-now")
    page.wait_for_selector("[data-beside]")
    hands.tap("Wipe", ".hand")
    hands.wait_for("do not lie over each other by themselves", ".hand")
    assert page.locator("[data-how=as_they_are]").count() == 1
    hands.tap("Blink", ".hand")
    assert hands.button("Blink by itself", ".hand").count() == 1, "it does not blink by itself"
    hands.tap("Show before", ".hand")
    assert page.locator("[data-top=then]").count() == 1

    hands.tap("Mark this photo", ".hand")
    hands.tap("Arrow", ".hand")
    tap_photo(page, (1000, 700))
    tap_photo(page, (600, 400))
    keep_picture(page, sink.folder / "marks-landscape.png")
    checked(page)
    press(hands, "Save these marks")
    hands.wait_for("marks on the photo", ".hand")
    (marked,) = bodies(hands, "photo.marked")
    (arrow,) = marked["arrows"]
    assert math.isclose(arrow["tip"]["x"], 5000, abs_tol=60) and math.isclose(arrow["tail"]["y"], 2667, abs_tol=60)
    hands.tap(re.compile("^Undo"), ".hand")
    holds(page, "document.querySelector('.hand')?.textContent.includes('marks on the photo') === false")
    (taken,) = bodies(hands, "entry.withdrawn")
    hands.wait_sent()
    laid = sink.lead().get(f"/lead/inspections/{root_of(hands)}")["laid"]
    assert [row for row in laid if row["photo"] == marked["photo"]] == []
    assert taken["reason"] == "undo"
    hidden_while_it_stands_open(sink, hands)


def hidden_while_it_stands_open(sink: Sink, hands: Hands) -> None:
    """Goes on: a lead hides last time's photo, then this one, while they stand side by side on this tablet."""
    page = hands.page
    hands.tap("Beside", ".hand")
    page.wait_for_selector("[data-beside]")
    assert page.locator("main figure img").count() == 2
    (card,) = [row["row"] for row in hands.stored("cards") if row["table"] == "scopes" and row["row"]["tag"] == "C-14"]
    (part,) = [each for each in card["parts"] if each["part"] == "band_tip"]
    for photo, left in ((part["photo"]["sha256"], 1), (newest(hands, "photo.added"), 0)):
        sink.lead().post("/lead/commands/photo.hidden", {"about": {"scope": card["scope"]}, "body": {"photo": photo}})
        hear(hands)
        holds(page, f"document.querySelectorAll('main figure img').length === {left}")
        assert page.locator("[data-beside]").count() == 0, "they stand side by side no more"
        hands.wait_for("Hidden: it may show a person or patient data", "main")
    hands.tap("Wipe", ".hand")
    assert page.locator("main .frame img").count() == 0
