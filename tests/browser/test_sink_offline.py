"""The network gone half-way, the browser killed, and nothing lost: everything exactly once on the server, in order."""

from __future__ import annotations

import hashlib
import re
from collections import Counter

import pytest
from browser.conftest import settled
from browser.sink import SHUTTER, Sink, begun_at, conclude, sign_in
from browser.sink_house import C_14

pytestmark = pytest.mark.sink
FINDING = "Broken light fibres"


def test_an_inspection_survives_a_dead_network_and_a_killed_browser(own_sink: Sink) -> None:
    sink = own_sink
    hands = sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    hands.wait_sent()

    sink.guard.allow("net::ERR_")
    hands.page.context.set_offline(True)
    sink.server.stop()
    hands.wait_for("End cover", "h1")
    hands.tap("Photo", ".hand")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.button("Keep 1 photo").wait_for()
    settled(hands.page)
    hands.tap("Back", ".bar")
    hands.wait_for("End cover", "h1")
    hands.tap(re.compile("^Next"), ".foot")
    hands.wait_for("Lens", "h1")
    hands.nothing_found()
    hands.wait_for("Light guides", "h1")
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose(FINDING, "Minor")
    settled(hands.page)
    assert "saved here" in hands.corner() and "not sent for" in hands.corner()
    before = hands.entries()
    sink.kill("Sink 2")

    hands = sink.open("Sink 2", sink.camera())
    hands.page.context.set_offline(True)
    hands.wait_for("Badge in to go on", "h1")
    assert "begun here" in hands.text()
    sign_in(hands, "Ila Venn")
    hands.wait_screen("finding")
    assert hands.entries() == before
    chosen = hands.page.get_by_role("group", name=FINDING, exact=True).get_by_role("button", name="Minor")
    assert chosen.get_attribute("aria-pressed") == "true"
    assert hands.button("New", ".hand").get_attribute("aria-checked") == "true"
    hands.tap("Save finding")
    hands.wait_for("Nozzle", "h1")
    hands.tap(re.compile("^Part 2 of 30, end cover"), "nav")
    hands.wait_for("End cover", "h1")
    hands.tap("Photo", ".hand")
    hands.tap("Keep 1 photo")
    hands.wait_for("You took a photo here. What is it?", ".hand")
    hands.nothing_found()
    hands.finish_route()
    conclude(hands)
    kept = hands.entries()
    assert kept[: len(before)] == before
    assert {entry["proof"]["where"] for entry in kept[len(before) :]} == {"offline"}
    assert {entry["proof"]["how"] for entry in kept} == {"pin"}
    assert f"{len(kept) - 3} saved here" in hands.corner()

    sink.server.start()
    hands.page.context.set_offline(False)
    hands.wait_sent()
    on_server = sink.log(kept[0]["chain"])
    assert [row["entry"] for row in on_server] == kept
    assert {row["verdict"] for row in on_server} == {"counted"}
    assert Counter(row["hash"] for row in on_server).most_common(1)[0][1] == 1
    named = [photo["sha256"] for entry in kept for photo in entry["photos"]]
    vault = sink.photos()
    assert len(named) == 2
    assert [hashlib.sha256(vault[name]).hexdigest() for name in named] == named
