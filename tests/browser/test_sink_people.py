"""Who acts: a badge, a PIN with and without a network, a name alone; nothing begun is lost by a change or a lock."""

from __future__ import annotations

import re

import pytest
from browser.conftest import settled
from browser.sink import Hands, Sink, begun_at, enrol, sign_in
from browser.sink_house import C_14, PIN
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

FINDING = "Broken light fibres"
IDLE_MS = 120_000
"""Two minutes without a touch lock the tablet (ASVS 5.0.0 7.3.1 asks for a documented time; the value is ours)."""


def badge(hands: Hands, person: str) -> None:
    """The badge of a person, read by a keyboard reader."""
    hands.scan(f"LB1:P:{person}")


def draft(hands: Hands) -> None:
    """A finding half-way: what, how much and since when are chosen, nothing is saved."""
    hands.tap(re.compile("^Part 4 of 30, light guides"), "nav")
    hands.wait_for("Light guides", "h1")
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose(FINDING, "Minor")
    settled(hands.page)


def draft_stands(hands: Hands) -> None:
    hands.wait_screen("finding")
    chosen = hands.page.get_by_role("group", name=FINDING, exact=True).get_by_role("button", name="Minor")
    expect(chosen).to_have_attribute("aria-pressed", "true")
    expect(hands.button("New", ".hand")).to_have_attribute("aria-checked", "true")


def whose(hands: Hands, name: str) -> None:
    expect(hands.page.locator(".bar button.corner").last).to_contain_text(name)


def test_a_badge_changes_the_person_and_keeps_what_is_half_said(own_sink: Sink) -> None:
    sink = own_sink
    hands = sink.tablet("Sink 2", "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    draft(hands)
    before = len(hands.taps)
    badge(hands, "rin.oake")
    hands.wait_for("PIN for Rin Oake")
    hands.digits(PIN)
    whose(hands, "Rin Oake")
    draft_stands(hands)
    assert len(hands.taps) - before == len(PIN) + 1, "nothing but the PIN"

    badge(hands, "ila.venn")
    whose(hands, "Ila Venn")
    draft_stands(hands)
    badge(hands, "rin.oake")
    whose(hands, "Rin Oake")
    assert len(hands.taps) - before == len(PIN) + 1, "both gave their PIN: a badge is enough"
    hands.tap("Save finding")
    hands.wait_for("Nozzle", "h1")

    hands.tap(re.compile("Rin Oake"), ".bar")
    hands.tap("Next person")
    hands.tap_on(hands.page.locator("main").get_by_role("button", name=re.compile("Ila Venn")))
    whose(hands, "Ila Venn")
    hands.tap("Back", ".bar")
    hands.wait_for("Nozzle", "h1")
    hands.nothing_found()
    hands.wait_sent()
    who = [(entry["kind"], entry["person"], entry["proof"]["how"]) for entry in hands.entries()[2:]]
    assert who == [
        ("part.marked", "ila.venn", "pin"), ("finding.recorded", "rin.oake", "pin"), ("part.marked", "ila.venn", "pin"),
    ]  # fmt: skip
    told = sink.lead().get(f"/lead/inspections/{sink.log(hands.entries()[0]['chain'])[0]['hash']}")
    assert {row["by"]["proved"] for row in told["findings"]} == {"confirmed"}


def test_a_tablet_left_alone_locks_and_a_pin_without_the_network_opens_it_at_the_same_spot(own_sink: Sink) -> None:
    sink = own_sink
    sink.guard.allow("net::ERR_")
    hands = sink.open("Sink 2", sink.camera(), clock=True)
    enrol(hands, sink.house.codes["Sink 2"])
    sign_in(hands, "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    draft(hands)
    hands.wait_sent()
    hands.page.context.set_offline(True)
    hands.page.clock.fast_forward(IDLE_MS + 1_000)
    hands.wait_for("Badge in to go on", "h1")
    assert FINDING not in hands.text(), "what was on screen is hidden"
    sign_in(hands, "Ila Venn")
    draft_stands(hands)
    hands.tap("Save finding")
    hands.wait_for("Nozzle", "h1")
    assert hands.entries()[-1]["proof"] == {"how": "pin", "where": "offline"}

    hands.page.clock.fast_forward(IDLE_MS + 1_000)
    hands.wait_for("Badge in to go on", "h1")
    badge(hands, "rin.oake")
    hands.wait_for("PIN for Rin Oake")
    hands.digits(PIN)
    hands.wait_for("Without the network this tablet cannot check the PIN of Rin Oake.")
    hands.wait_for("Go on by name: it will be shown as not proved.")
    hands.tap(re.compile("^Go on as Rin Oake without a PIN"))
    hands.wait_for("Nozzle", "h1")
    hands.nothing_found()
    assert (hands.entries()[-1]["person"], hands.entries()[-1]["proof"]["how"]) == ("rin.oake", "named")
    hands.tap(re.compile("Rin Oake"), ".bar")
    hands.wait_for("Chosen by name, not proved.")

    hands.page.context.set_offline(False)
    hands.wait_sent()
    rows = sink.log(hands.entries()[0]["chain"])
    assert {row["verdict"] for row in rows} == {"counted"}
    told = sink.lead().get(f"/lead/inspections/{rows[0]['hash']}")
    (nozzle,) = [stop for stop in told["route"] if stop["id"] == "nozzle"]
    assert [mark["by"]["proved"] for mark in nozzle["marks"]] == ["named"]
    assert [row["by"]["proved"] for row in told["findings"]] == ["offline"]
