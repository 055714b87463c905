"""Two taps hide a photo on every screen, a lead shows it again with a reason; examples stand beside the grades."""

from __future__ import annotations

import re
import time

import pytest
from browser.conftest import LONGEST_WAIT_MS, holds, settled
from browser.sink import SHUTTER, Hands, Sink, begun_at, scanned_for
from browser.sink_desk import Desk, hear, open_desk
from browser.sink_house import C_14
from playwright.sync_api import expect

pytestmark = pytest.mark.photos

HIDDEN = "Hidden: it may show a person or patient data"
AGREE = "Agree: erase this photo for good"
ASK, HIDE = "Shows a person or patient data", "Hide this photo"


def photographed(hands: Hands) -> None:
    """A photo of the part in hand was taken and is not kept yet."""
    hands.tap(re.compile("^(Photo|One more photo)$"), ".hand")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)


def status_of(desk: Desk, photo: str) -> set[int]:
    """What the server answers this browser for each size."""
    ask = desk.page.context.request
    return {ask.get(f"{desk.url}/photos/{photo}?size={size}").status for size in ("320", "640", "full")}


def test_hidden_in_two_taps_everywhere_and_shown_again_by_a_lead_with_a_reason(sink: Sink) -> None:
    hands = sink.tablet("Sink 3")
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    photographed(hands)
    before = len(hands.taps)
    hands.tap(ASK)
    hands.tap(HIDE)
    holds(hands.page, "!location.hash.startsWith('#/photo')")
    assert hands.taps[before:] == [ASK, HIDE]
    hands.wait_for(HIDDEN, "main")

    # hidden before any entry names it; on the server its bytes are kept and go to nobody; here they are gone
    kinds = [(entry["kind"], entry) for entry in hands.entries()][-2:]
    assert [kind for kind, _ in kinds] == ["photo.restricted", "photo.added"]
    photo = str(kinds[0][1]["body"]["photo"])
    assert [named["sha256"] for named in kinds[1][1]["photos"]] == [photo]
    hands.wait_sent()
    assert photo in sink.photos()
    assert photo not in [row["sha256"] for row in hands.stored("photos")]

    sink.guard.allow("403")  # the console names the answer this test asks for
    desk = open_desk(sink)
    page = desk.go(f"/inspection?root={begun}")
    assert status_of(desk, photo) == {403}
    tile = page.get_by_role("button", name=HIDDEN).first
    tile.click()
    expect(page.get_by_text("Hidden at a tablet")).to_be_visible()
    expect(page.locator("main img")).to_have_count(0)
    look = page.get_by_role("button", name="Look at it")
    assert look.get_attribute("aria-disabled") == "true", "not without a reason"
    page.get_by_label("Why, in words").fill("is it a face")
    look.click()
    expect(page.locator("main img")).to_have_count(1)
    page.get_by_label("Why, in words").fill("a glove")
    page.get_by_role("button", name="It shows no person: show it again to everybody").click()
    expect(page.get_by_text("Shown again: a glove")).to_be_visible()
    expect(page.get_by_text("Looked at although hidden: is it a face")).to_be_visible()
    assert status_of(desk, photo) == {200}
    hear(hands)
    holds(hands.page, f"!document.querySelector('main').textContent.includes('{HIDDEN}')")

    examples_stand_beside_the_grades(sink, hands, desk, begun)


def examples_stand_beside_the_grades(sink: Sink, hands: Hands, desk: Desk, begun: str) -> None:
    """Goes on with the same tablet and desk: an example is chosen, shown offline, and hidden again."""
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose("Burr or nick", "Minor")
    photographed(hands)
    hands.tap("Keep 1 photo")
    hands.wait_screen("finding")
    hands.tap("Save finding")
    hands.wait_for("End cover", "h1")
    hands.wait_sent()
    page = desk.go("")
    page = desk.go(f"/inspection?root={begun}")
    page.locator("article .photos button").first.click()
    page.get_by_role("button", name=re.compile("^Keep as our example")).click()
    settled(page)
    hear(hands)
    holds(hands.page, "navigator.onLine")
    (row,) = [each for each in hands.stored("cards") if each["table"] == "examples"]
    chosen = row["row"]["photo"]
    holds_small(hands, chosen)

    sink.guard.allow("ERR_INTERNET_DISCONNECTED")
    sink.contexts["Sink 3"].set_offline(True)
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    if hands.page.get_by_role("group", name="Burr or nick", exact=True).count() == 0:
        hands.tap(re.compile("^(Show all|All) "), "main")
    group = hands.page.get_by_role("group", name="Burr or nick", exact=True)
    group.get_by_role("button", name="Minor", exact=True).click()
    hands.wait_for("Our own examples", "main")
    small = hands.page.get_by_role("region", name="Our own examples").get_by_role("button").first
    expect(small).to_be_in_viewport(ratio=0.9)
    small.click()
    large = hands.page.get_by_role("region", name="Our own examples").locator(".large img")
    expect(large).to_be_visible()
    expect(large).to_be_in_viewport(ratio=0.9)
    sink.contexts["Sink 3"].set_offline(False)

    page.get_by_role("button", name=ASK).click()
    page.get_by_role("button", name=HIDE).click()
    expect(page.get_by_text("Hidden at the desk")).to_be_visible()
    hear(hands)
    holds(hands.page, "!document.querySelector('main').textContent.includes('Our own examples')")
    examples = desk.go("/examples")
    expect(examples.get_by_role("button", name=HIDDEN)).to_be_visible()
    two_leads_erase_it(sink, hands, desk, begun, chosen)


def two_leads_erase_it(sink: Sink, hands: Hands, desk: Desk, begun: str, photo: str) -> None:
    """Goes on: the lead who hid the photo asks for it to be erased, and only another one can agree."""
    assert photo in sink.photos()
    page = desk.go(f"/inspection?root={begun}")
    page.get_by_role("button", name=HIDDEN).first.click()
    ask = page.get_by_role("button", name="Ask for it to be erased")
    assert ask.get_attribute("aria-disabled") == "true", "not without a reason"
    page.get_by_label("Why, in words").fill("a face in the mirror")
    ask.click()
    expect(page.get_by_text("It waits for a second lead.")).to_be_visible()
    expect(page.get_by_role("button", name=AGREE)).to_have_count(0)

    sink.guard.allow("410")
    second = open_desk(sink, "Sink 2", "Jo Marlow")
    other = second.go("")
    other.get_by_role("button", name="Moira Keld asks for it to be erased").click()
    assert f"root={begun}&photo={photo}" in other.url
    expect(other.get_by_text("Moira Keld asks for this photo to be erased: a face in the mirror.")).to_be_visible()
    expect(other.get_by_text("Backups made before are not touched")).to_be_visible()
    other.get_by_role("button", name=AGREE).click()
    expect(other.get_by_text("Erased, agreed to by a second lead")).to_be_visible()
    expect(other.get_by_text("The entry, its hash and its length stay as proof")).to_be_visible()
    assert photo not in sink.photos()
    assert status_of(second, photo) <= {403, 410}
    expect(page.get_by_text("Erased, agreed to by a second lead")).to_be_visible()
    hear(hands)
    assert photo not in [row["sha256"] for row in hands.stored("photos")]
    assert photo not in [row["id"] for row in hands.stored("cards") if row["table"] == "then"]


def holds_small(hands: Hands, photo: str) -> None:
    """The small picture of the example has been fetched ahead."""
    end = time.monotonic() + LONGEST_WAIT_MS / 1000
    while photo not in [row["id"] for row in hands.stored("cards") if row["table"] == "then"]:
        assert time.monotonic() < end, "the example's picture was not fetched"
        hands.page.evaluate("() => new Promise(requestAnimationFrame)")


def test_signs_that_differ_are_shown_one_by_one(sink: Sink) -> None:
    """The plate says 2741906; the person reads its last four wrongly as 1986."""
    hands = sink.tablet("Sink 4", camera=sink.camera(coded=False))
    scanned_for(hands, C_14, "After cleaning")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.wait_for("Type the last 4", ".hand")
    settled(hands.page)
    for digit in "1986":
        hands.tap(digit, ".pad")
    table = hands.page.get_by_role("table", name="The numbers, sign by sign")
    expect(table).to_be_visible()
    assert table.locator("tr").nth(1).locator("td").all_inner_texts() == ["", "", "", *"1986"]
    said = hands.page.locator(".compare li").all_inner_texts()
    assert said == ["Place 6. On record: 0 (zero). Typed: 8 (eight)."]
