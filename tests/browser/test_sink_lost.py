"""The browser lost the store of a tablet: it is told at once, with what is missing, and never begun anew in silence."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from browser.conftest import settled
from browser.eyes import Eyes
from browser.sink import Sink, begun_at, sign_in
from browser.sink_house import C_14
from browser.test_sink_kept import cut_off

pytestmark = pytest.mark.sink


def test_a_store_the_browser_lost_is_told_with_what_is_missing_and_goes_on_in_a_new_chain(
    own_sink: Sink, screens: Path
) -> None:
    """The files are taken away as Chromium does with a store it cannot read."""
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    cut_off(own_sink, hands)
    for part in ("End cover", "Lens"):
        hands.nothing_found()
        hands.wait_for(part, "h1")
    old = hands.entries()[0]["chain"]
    own_sink.close_browser("Sink 2")
    shutil.rmtree(own_sink.folder / "profiles/Sink 2/Default/IndexedDB")

    hands = own_sink.open("Sink 2", own_sink.camera())
    hands.wait_for("This tablet lost what it kept", "h1")
    hands.wait_for("The server has 2 of them, and keeps them.")
    hands.wait_for("Missing: entries 3 to 4")
    settled(hands.page)
    assert "4 entries had been saved in it" in hands.text() and "Tell the lead now" in hands.text()
    rows = hands.page.get_by_role("list", name="Entries that are missing").locator("li").all_inner_texts()
    assert len(rows) == 2 and all(C_14.serial in row for row in rows)
    eyes = Eyes(screens)
    eyes.at(hands.page, "sink-lost")
    assert eyes.found == []

    hands.tap("Go on in a new chain")
    sign_in(hands, "Ila Venn")
    chained = [row["entry"]["body"] for row in own_sink.log() if row["entry"]["kind"] == "station.chained"]
    assert [(each["old_chain"], each["old_seq"], each["why"]) for each in chained] == [(old, 2, "wiped")]
    own_sink.close_browser("Sink 2")
    hands = own_sink.open("Sink 2", own_sink.camera())
    sign_in(hands, "Ila Venn")
    assert "lost" not in hands.text()


def test_until_the_server_answers_whatever_had_no_receipt_is_named(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    cut_off(own_sink, hands)
    hands.nothing_found()
    hands.wait_for("End cover", "h1")
    own_sink.close_browser("Sink 2")
    shutil.rmtree(own_sink.folder / "profiles/Sink 2/Default/IndexedDB")
    own_sink.guard.allow("net::ERR_")

    hands = own_sink.open("Sink 2", own_sink.camera(), offline=True)
    hands.wait_for("This tablet lost what it kept", "h1")
    hands.wait_for("Had no receipt yet")
    assert hands.page.get_by_role("list", name="Entries that are missing").locator("li").count() == 1
    assert "Bring this tablet into the network" in hands.text()
    hands.page.context.set_offline(False)
    hands.tap("Ask the server")
    hands.wait_for("Missing: entries 3 to 3")
