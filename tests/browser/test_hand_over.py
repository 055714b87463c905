"""A scope is handed over by taps: on one tablet, on two of which one has no network, to a courier and back, undone.

Who has it at each point is the rules of custody (`shared/vectors/custody.json`); here it is what people see and do.
Two persons at a hand-over, each by their own badge or PIN: common practice, no source.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from browser.conftest import settled
from browser.eyes import PHONE, Eyes
from browser.sink import PIN, SHUTTER, Hands, Sink, sign_in
from browser.sink_desk import Desk, open_desk
from browser.sink_house import C_11, C_14
from browser.test_look_ways import keyed
from PIL import Image
from playwright.sync_api import expect

pytestmark = pytest.mark.repair

CODE = f"01{C_14.di}21{C_14.serial}"
HOME = "Scan a scope to begin"


def opened(hands: Hands) -> None:
    """Scanned on the home screen: a person who moves scopes is led there by the scan, another says so before it."""
    hands.wait_for(HOME)
    over = hands.page.get_by_role("radio", name="Hand over")
    if not over.is_checked():
        hands.tap_on(over)
    hands.scan(CODE)
    hands.page.locator(".said").wait_for()
    settled(hands.page)


def says(hands: Hands, words: str) -> None:
    expect(hands.page.locator(".said")).to_contain_text(words)


def words_of(hands: Hands) -> list[dict[str, Any]]:
    said = ("custody.", "entry.withdrawn")
    return [entry for entry in hands.entries() if entry["kind"].startswith(said)]


def fetched(hands: Hands) -> None:
    """The tablet has asked for its cards again: the page came into view."""
    with hands.page.expect_response(re.compile("/cards")):
        hands.page.evaluate("window.dispatchEvent(new Event('online'))")
    settled(hands.page)


def test_given_and_taken_on_one_tablet_by_two_people(own_sink: Sink, screens: Path) -> None:
    hands, eyes = own_sink.tablet("Sink 2", "Tobin Sarr"), Eyes(screens, narrow=PHONE["width"])
    opened(hands)
    says(hands, "It was never handed over here.")
    eyes.at(hands.page, "hand-over-who")
    hands.tap("Whoever takes it")
    says(hands, "Offered by Tobin Sarr to whoever takes it")
    hands.tap(re.compile("Rin Oake"), ".hand")
    eyes.at(hands.page, "hand-over-pin")
    hands.tap("Take the offer back")
    says(hands, "In the house")
    hands.tap(re.compile("Rin Oake"), ".hand")
    says(hands, "Offered by Tobin Sarr to Rin Oake")
    eyes.at(hands.page, "hand-over-offered")
    hands.digits(PIN)
    hands.wait_for(HOME)
    first, back, offered, accepted = words_of(hands)
    assert [first["kind"], back["kind"]] == ["custody.offered", "entry.withdrawn"]
    assert (offered["kind"], offered["person"]) == ("custody.offered", "tobin.sarr")
    assert (accepted["kind"], accepted["person"], accepted["proof"]["how"]) == ("custody.accepted", "rin.oake", "pin")
    assert "basis" not in first and len(accepted["basis"]) == 64
    assert hands.badge().startswith("Tobin Sarr")
    # The next one of the same trip: a scan still means a hand-over, and each scope is taken by a word of its own.
    assert hands.page.get_by_role("radio", name="Hand over").is_checked()
    hands.scan(f"01{C_11.di}21{C_11.serial}")
    says(hands, "It was never handed over here.")
    hands.tap(re.compile("Rin Oake"), ".hand")
    hands.digits(PIN)
    hands.wait_for(HOME)
    assert [(entry["kind"], entry["about"]["scope"]) for entry in words_of(hands)[-2:]] == [
        ("custody.offered", C_11.key), ("custody.accepted", C_11.key),
    ]  # fmt: skip
    opened(hands)
    says(hands, "Rin Oake has it since")
    hands.wait_for("Rin Oake has it, and gives it on.")
    assert eyes.found == [], "\n".join(eyes.found)


def given_back(taker: Hands, giver: Hands) -> None:
    taker.tap(re.compile("Tobin Sarr"), ".hand")
    says(taker, "Offered by Rin Oake to Tobin Sarr")
    taker.wait_sent()
    fetched(giver)


def test_two_tablets_one_without_a_network_agree_when_they_meet_or_are_told_that_they_do_not(
    own_sink: Sink, screens: Path
) -> None:
    own_sink.guard.allow("net::ERR_")
    giver = own_sink.tablet("Sink 2", "Tobin Sarr")
    opened(giver)
    giver.tap(re.compile("Rin Oake"), ".hand")
    says(giver, "Offered by Tobin Sarr to Rin Oake")
    giver.wait_sent()

    taker = own_sink.tablet("Sink 3", "Rin Oake")
    taker.wait_for(HOME)
    fetched(taker)
    taker.page.context.set_offline(True)
    opened(taker)
    says(taker, "Offered by Tobin Sarr to Rin Oake")
    taker.tap("I have C-14 now")
    taker.wait_for(HOME)
    opened(taker)
    says(taker, "Rin Oake has it since")
    says(giver, "Offered by Tobin Sarr to Rin Oake")
    taker.page.context.set_offline(False)
    taker.wait_sent()
    fetched(giver)
    says(giver, "Rin Oake has it since")

    # Given back, and not accepted: it stays with who has it, and the reason is in the record.
    given_back(taker, giver)
    eyes = Eyes(screens, narrow=PHONE["width"])
    eyes.in_one_hand(giver.page, "hand-over-yours")
    giver.tap("Not accepted: say why")
    eyes.in_one_hand(giver.page, "hand-over-declined")
    giver.tap("Wrong scope")
    giver.wait_for(HOME)
    giver.wait_sent()
    declined = words_of(giver)[-1]
    assert (declined["kind"], declined["person"], declined["body"]["reason"]) == (
        "custody.declined", "tobin.sarr", "wrong_scope",
    )  # fmt: skip
    fetched(taker)
    says(taker, "Rin Oake has it since")
    opened(giver)

    # Given back again; then the giver takes the offer back while the other takes it without a network.
    given_back(taker, giver)
    says(giver, "Offered by Rin Oake to Tobin Sarr")
    giver.page.context.set_offline(True)
    giver.tap("I have C-14 now")
    giver.wait_for(HOME)
    taker.tap("Take the offer back")
    says(taker, "Rin Oake has it since")
    taker.wait_sent()
    giver.page.context.set_offline(False)
    giver.wait_sent()
    for hands in (taker, giver):
        fetched(hands)
    says(taker, "Who has it is in doubt")
    taker.wait_for("Two tablets say different things of who has it.")
    opened(giver)
    says(giver, "Who has it is in doubt")

    # A lead sees both and says who has it; both tablets hear.
    desk = open_desk(own_sink)
    page = desk.go("/where")
    page.get_by_role("button", name=re.compile("^Colonoscope C-14")).click()
    expect(page.locator(".hand")).to_contain_text("Tobin Sarr has it, written by Tobin Sarr")
    expect(page.locator(".hand")).to_contain_text("Rin Oake took the last word back")
    eyes.at(page, "where-disputed")
    page.get_by_role("radio", name="Tobin Sarr").click()
    page.get_by_label("Why, in words").fill("Tobin has it on the trolley")
    page.get_by_role("button", name="This is who has it").click()
    expect(page.get_by_role("heading", name="With a person: 1")).to_be_visible()
    for hands in (taker, giver):
        fetched(hands)
        says(hands, "Tobin Sarr has it since")
    off_the_screen(desk, giver, taker, eyes)
    assert eyes.found == [], "\n".join(eyes.found)
    assert {row["verdict"] for row in own_sink.log()} == {"counted"}


def off_the_screen(desk: Desk, giver: Hands, taker: Hands, eyes: Eyes) -> None:
    """Neither tablet has a network: the taker's reads the offer off the giver's screen, with a reader not our own."""
    giver.page.context.set_offline(True)
    taker.page.context.set_offline(True)
    giver.tap(re.compile("Rin Oake"), ".hand")
    says(giver, "Offered by Tobin Sarr to Rin Oake")
    shown = giver.page.get_by_role("img", name="Code of this offer")
    expect(shown).to_be_visible()
    eyes.at(giver.page, "hand-over-code")
    (code,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(shown.screenshot())))
    assert code.text.startswith("LB1:O:") and code.text == giver.page.locator("[data-offer]").get_attribute(
        "data-offer"
    )
    taker.page.evaluate("() => { location.hash = '#/home'; }")
    taker.wait_for(HOME)
    taker.scan(code.text)
    says(taker, "Offered by Tobin Sarr to Rin Oake")
    eyes.at(taker.page, "hand-over-off-screen")
    taker.tap("I have C-14 now")
    taker.wait_for(HOME)
    opened(taker)
    says(taker, "Rin Oake has it since")
    # The answer comes first, and what was answered is known by it; then the offer comes, and both say the same.
    taker.page.context.set_offline(False)
    taker.wait_sent()
    (row,) = [row for row in desk.told("where")["rows"] if row["scope"]["key"] == C_14.key]
    assert (row["is"], row["holder"]["name"], row["unseen"][0]["giver"]) == ("person", "rin.oake", "tobin.sarr")
    fetched(taker)
    says(taker, "Rin Oake has it since")
    giver.page.context.set_offline(False)
    giver.wait_sent()
    for hands in (taker, giver):
        fetched(hands)
        says(hands, "Rin Oake has it since")
    (row,) = [row for row in desk.told("where")["rows"] if row["scope"]["key"] == C_14.key]
    assert (row["is"], row["holder"]["name"], row["unseen"]) == ("person", "rin.oake", [])


def test_a_courier_takes_it_and_it_comes_back(own_sink: Sink, screens: Path) -> None:
    hands = own_sink.tablet("Sink 2", "Tobin Sarr")
    opened(hands)
    keyed(hands, "^A courier or a repairer", "hand")
    hands.type("Name, as said", "P. Lund")
    hands.scan("LX 40771 2")
    expect(hands.page.get_by_label("Number on the label")).to_have_value("LX 40771 2")
    hands.page.reload()
    sign_in(hands, "Tobin Sarr")
    expect(hands.page.get_by_label("Name, as said")).to_have_value("P. Lund")
    hands.tap("Photograph the label or the signature")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.tap(re.compile("^Keep"), ".hand")
    eyes = Eyes(screens, narrow=PHONE["width"])
    eyes.at(hands.page, "hand-over-courier")
    assert eyes.found == [], "\n".join(eyes.found)
    hands.tap(re.compile("P. Lund takes C-14"))
    hands.wait_for(HOME)
    accepted = words_of(hands)[-1]
    assert [photo["shows"] for photo in accepted["photos"]] == ["other"]
    assert accepted["body"]["holder"] == {"kind": "outside", "name": "P. Lund", "waybill": "LX 40771 2"}
    opened(hands)
    says(hands, "P. Lund has it since")
    back = Eyes(screens, narrow=PHONE["width"])
    back.in_one_hand(hands.page, "hand-over-back")
    assert back.found == [], "\n".join(back.found)
    hands.tap("C-14 is back: I have it")
    hands.wait_for(HOME)
    hands.tap(re.compile("^Undo"))
    opened(hands)
    says(hands, "P. Lund has it since")
    assert [entry["kind"] for entry in words_of(hands)][-2:] == ["custody.returned", "entry.withdrawn"]
