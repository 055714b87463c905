"""A tablet that a lead withdraws while it holds unsent work: it says so, sends all of it, and a lead settles each."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.conftest import eventually, settled
from browser.eyes import keep_picture
from browser.sink import Sink, begun_at
from browser.sink_desk import hear, open_desk
from browser.sink_house import C_14, PIN
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

NOTHING_WAITS = """() => new Promise((done, fail) => {
  const ask = indexedDB.open('loupebook');
  ask.onerror = () => fail(ask.error);
  ask.onsuccess = () => {
    const rows = (store) => ask.result.transaction(store).objectStore(store);
    const counts = ['entries', 'held'].map((store) => rows(store).index('waiting').count());
    let left = 2; let sum = 0;
    for (const count of counts) count.onsuccess = () => {
      sum += count.result; left -= 1;
      if (left === 0) { ask.result.close(); done(sum === 0); }
    };
  };
})"""


def test_unsent_work_of_a_withdrawn_tablet_arrives_is_put_aside_and_counts_once_a_lead_says_so(
    own_sink: Sink, screens: Path
) -> None:
    sink = own_sink
    for on_purpose in ("net::ERR_", "status of 403"):
        sink.guard.allow(on_purpose)
    hands = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    hands.page.context.set_offline(True)
    for part in ("End cover", "Lens"):
        hands.nothing_found()
        hands.wait_for(part, "h1")
    hands.take_photo()
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose("Cracked lens", "Present")
    hands.tap("Save finding")
    hands.wait_for("Light guides", "h1")
    hands.nothing_found()
    desk = open_desk(sink)
    desk.withdraw("Sink 2")

    hands.page.context.set_offline(False)
    eventually(hands.page, NOTHING_WAITS)
    hands.wait_for("Withdrawn by a lead", ".bar")
    hands.tap("Back", ".bar")
    hands.wait_for("A lead withdrew this tablet.")
    hands.wait_for("It still sends what it has; the lead sees it. Use another tablet.")
    keep_picture(hands.page, screens / "sink-withdrawn.png")
    hands.tap(re.compile("Withdrawn by a lead"), ".bar")
    hands.wait_for("This station was withdrawn")
    kept = hands.entries()
    rows = sink.log(kept[0]["chain"])
    assert [row["entry"] for row in rows] == kept
    assert [row["reason"] for row in rows] == [None] * 2 + ["station_revoked"] * (len(kept) - 2)
    told = desk.told(f"inspections/{root}")
    assert (told["counts"]["nothing_found"], told["findings"]) == (0, [])

    page = desk.go("/aside")
    expect(page.get_by_role("button", name=re.compile("this station was withdrawn"))).to_have_count(len(kept) - 2)
    page.get_by_role("button", name=re.compile("^Mark: this station was withdrawn")).first.click()
    expect(page.get_by_text("It counts from now on, with its own time and name.")).to_be_visible()
    keep_picture(page, screens / "desk-aside-withdrawn.png")
    desk.settle("^Mark: this station", "Leave it out", "the end cover was not on that scope")
    desk.settle("this station was withdrawn", "Count it", "seen with Ila Venn", alike=True)
    expect(page.get_by_text("Nothing is put aside.")).to_be_visible()
    assert [row["verdict"] for row in sink.log(kept[0]["chain"])] == ["counted"] * 2 + ["aside"] + ["counted"] * (
        len(kept) - 3
    )
    told = desk.told(f"inspections/{root}")
    assert told["counts"]["nothing_found"] == 2 and [row["finding"] for row in told["findings"]] == ["lens_crack"]
    assert all(photo["here"] for photo in told["photos"]) and len(told["photos"]) == 2
    page = desk.go(f"/inspection?root={root}")
    expect(page.get_by_role("main")).to_contain_text("cracked lens, present")
    expect(page.get_by_role("main")).to_contain_text("1 finding")


def test_a_withdrawn_tablet_lets_nobody_sign_in_and_still_records_by_name(own_sink: Sink) -> None:
    sink = own_sink
    sink.guard.allow("status of 403")
    hands = sink.tablet("Sink 2", "Ila Venn")
    desk = open_desk(sink)
    desk.withdraw("Sink 2")
    hear(hands)
    hands.wait_for("A lead withdrew this tablet.")
    hands.tap(re.compile("Ila Venn"), ".bar")
    hands.tap("Lock the screen")
    hands.wait_for("A lead withdrew this tablet.")
    hands.digits(PIN)
    hands.wait_for("This tablet was withdrawn by a lead.")
    hands.tap(re.compile("^Go on as Ila Venn without a PIN"))
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    eventually(hands.page, NOTHING_WAITS)
    kept = hands.entries()
    assert {entry["proof"]["how"] for entry in kept} == {"named"}
    assert {row["reason"] for row in sink.log(kept[0]["chain"])} == {"station_revoked"}
    settled(hands.page)
