"""Tablets and servers that do not agree: cloned, set back, wiped, and a server brought back from a backup."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from browser.conftest import controlled, eventually, settled
from browser.eyes import keep_picture
from browser.sink import Hands, Sink, begun_at, conclude, enrol, sign_in
from browser.sink_desk import open_desk
from browser.sink_house import C_14
from live_server import ROOT
from playwright.sync_api import expect

pytestmark = pytest.mark.sink

A_STRAY = """async () => {
  const base = await new Promise((done) => {
    const ask = indexedDB.open('loupebook');
    ask.onsuccess = () => done(ask.result);
  });
  const count = await new Promise((done) => {
    const ask = base.transaction('receipts').objectStore('receipts').index('state').count('stray');
    ask.onsuccess = () => done(ask.result);
  });
  base.close();
  return count > 0;
}"""

MARKED_ELSEWHERE = """async () => {
  const base = await new Promise((done) => {
    const ask = indexedDB.open('loupebook');
    ask.onsuccess = () => done(ask.result);
  });
  const rows = await new Promise((done) => {
    const ask = base.transaction('cards').objectStore('cards').getAll(IDBKeyRange.bound(['open'], ['open', []]));
    ask.onsuccess = () => done(ask.result);
  });
  base.close();
  return rows.some(({ row }) => row.parts.some(({ marks }) => marks.length > 0));
}"""
"""What the other tablet marked has come with the cards."""


def marks(hands: Hands, *then: str) -> None:
    """Looked, nothing found, part after part; `then` names the part that stands after each."""
    for part in then:
        hands.nothing_found()
        hands.wait_for(part, "h1")


def chains_of(hands: Hands) -> dict[str, int]:
    """Each chain on a tablet, and how many entries it holds there."""
    found: dict[str, int] = {}
    for row in hands.stored("entries"):
        found[row["chain"]] = found.get(row["chain"], 0) + 1
    return found


def test_a_cloned_tablet_goes_on_in_a_chain_of_its_own_and_nothing_of_either_is_lost(
    own_sink: Sink, screens: Path
) -> None:
    sink = own_sink
    sink.guard.allow("net::ERR_")
    first = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(first, C_14, "After cleaning", then="Distal tip")
    controlled(first.page)
    first.wait_sent()
    sink.close_browser("Sink 2")
    sink.copy_profile("Sink 2", "Sink 2, a copy")

    first = sink.open("Sink 2", sink.camera())
    sign_in(first, "Ila Venn")
    first.wait_for("Distal tip", "h1")
    marks(first, "End cover", "Lens")
    first.wait_sent()
    whole = first.entries()
    (old,) = chains_of(first)

    twin = sink.open("Sink 2, a copy", sink.camera(), offline=True)
    sign_in(twin, "Ila Venn")
    twin.wait_for("Distal tip", "h1")
    marks(twin, "End cover", "Lens", "Light guides")
    before = twin.stored("entries")
    twin.page.context.set_offline(False)
    eventually(twin.page, A_STRAY)
    eventually(twin.page, MARKED_ELSEWHERE)
    twin.wait_for("This tablet and the server did not agree on what comes next")
    keep_picture(twin.page, screens / "sink-new-chain.png")
    kept = {row["hash"]: row for row in twin.stored("entries")}
    assert all(kept[row["hash"]]["line"] == row["line"] for row in before), "every line is on the tablet as it was"

    twin.tap("Go on", ".hand")
    twin.serial_photo(then="Lens")
    twin.finish_route()
    conclude(twin)
    twin.wait_sent()
    new = next(chain for chain in chains_of(twin) if chain != old)
    rows = sink.log(new)
    assert {row["verdict"] for row in rows} == {"counted"}
    assert rows[0]["entry"]["body"]["continues"] == root and rows[-1]["entry"]["kind"] == "inspection.concluded"
    assert [row["entry"] for row in sink.log(old)] == whole, "the chain it was copied from stands as it was"

    desk = open_desk(sink)
    (stray,) = desk.told("aside")["strays"]
    assert (stray["station"], stray["lines"], stray["chain"]) == ("Sink 2", 3, old)
    assert (stray["first_seq"], stray["last_seq"]) == (3, 5)
    page = desk.go("/aside")
    expect(page.get_by_text("3 lines that forked")).to_be_visible()
    expect(page.get_by_text("They are kept whole and counted nowhere")).to_be_visible()
    keep_picture(page, screens / "desk-strays.png")


def test_a_tablet_that_was_set_back_goes_on_in_a_new_chain_and_its_later_work_stays_on_the_server(
    own_sink: Sink,
) -> None:
    sink = own_sink
    hands = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    sink.close_browser("Sink 2")
    sink.copy_profile("Sink 2", "before")
    hands = sink.open("Sink 2", sink.camera())
    sign_in(hands, "Ila Venn")
    hands.wait_for("Distal tip", "h1")
    marks(hands, "End cover", "Lens")
    hands.wait_sent()
    whole = hands.entries()
    (old,) = chains_of(hands)
    sink.close_browser("Sink 2")
    sink.copy_profile("before", "Sink 2")

    hands = sink.open("Sink 2", sink.camera())
    sign_in(hands, "Ila Venn")
    hands.wait_for("This tablet and the server did not agree on what comes next")
    hands.tap("Back", ".bar")
    hands.wait_for("Waiting here")
    hands.tap(re.compile("^Colonoscope C-14"), ".hand")
    hands.serial_photo(then="Lens")
    hands.finish_route()
    conclude(hands)
    hands.wait_sent()
    new = next(chain for chain in chains_of(hands) if chain != old)
    assert [row["entry"] for row in sink.log(old)] == whole
    (chained,) = [row["entry"]["body"] for row in sink.log() if row["entry"]["kind"] == "station.chained"]
    assert (chained["chain"], chained["old_chain"], chained["old_seq"]) == (new, old, len(whole))
    told = sink.lead().get(f"/lead/inspections/{root}")
    assert told["state"] == "concluded" and len(told["parts"]) == 2 and sink.lead().get("/lead/aside")["strays"] == []


def loupebook(*words: str | Path, fails: bool = False) -> None:
    """The product's own command line; `fails`: it is to say by its exit code that something is wrong."""
    environ = {**os.environ, "PYTHONPATH": str(ROOT / "backend")}
    ended = subprocess.run([sys.executable, "-m", "loupebook", *map(str, words)], env=environ, capture_output=True)
    assert (ended.returncode != 0) == fails, ended


@pytest.mark.shift
def test_a_server_brought_back_from_a_backup_is_sent_again_what_it_lacks(own_sink: Sink, screens: Path) -> None:
    sink = own_sink
    for on_purpose in ("net::ERR_", "status of 50"):
        sink.guard.allow(on_purpose)
    hands = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    marks(hands, "End cover")
    hands.wait_sent()
    loupebook("backup", "--data", sink.server.data, sink.folder / "backup")
    hands.take_photo()
    hands.nothing_found()
    hands.wait_for("Lens", "h1")
    hands.wait_sent()
    kept = hands.entries()
    photos = sink.photos()

    sink.server.stop()
    shutil.move(sink.server.data, sink.folder / "lost")
    loupebook("bring-back", "--data", sink.server.data, sink.folder / "backup")
    sink.server.start()
    assert len(sink.log(kept[0]["chain"])) == 3, "the older record lacks what came after the backup"

    with hands.page.expect_response(re.compile(r"/entries\?")):
        hands.page.evaluate("dispatchEvent(new Event('online'))")
    hands.wait_sent()
    rows = sink.log(kept[0]["chain"])
    assert [row["entry"] for row in rows] == kept and {row["verdict"] for row in rows} == {"counted"}
    assert sink.photos() == photos
    marks(hands, "Light guides")
    hands.wait_sent()
    assert len(sink.log(kept[0]["chain"])) == len(kept) + 1, "the chain goes on: nothing forked"
    told = sink.lead().get(f"/lead/inspections/{root}")
    assert told["counts"]["nothing_found"] == 3 and all(photo["here"] for photo in told["photos"])

    # The next backup is proved, and spoilt; each time the lead's page says what came of it.
    desk = open_desk(sink, "Sink 3")
    page = desk.go("/facility")
    said = page.locator("[data-backup]")
    expect(said).to_contain_text("No backup was proved yet")
    loupebook("backup", "--data", sink.server.data, sink.folder / "next")
    loupebook("drill", "--data", sink.server.data, sink.folder / "next")
    desk.go()
    desk.go("/facility")
    expect(said).to_contain_text(re.compile(r"Last good backup: .*, 0 days ago"))
    expect(said).to_contain_text(re.compile("Proved on .*: it was brought back and is whole"))
    keep_picture(page, screens / "desk-drill.png")
    photo = next(path for path in (sink.folder / "next").rglob("*") if path.is_file() and path.name in photos)
    photo.write_bytes(photo.read_bytes()[:-1] + b"?")
    loupebook("drill", "--data", sink.server.data, sink.folder / "next", fails=True)
    desk.go()
    desk.go("/facility")
    expect(said).to_contain_text("found faults. Make another backup")


def test_of_a_wiped_tablet_the_lead_sees_which_head_the_server_last_had(own_sink: Sink, screens: Path) -> None:
    sink = own_sink
    hands = sink.tablet("Sink 2", "Ila Venn")
    root = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    marks(hands, "End cover")
    hands.wait_sent()
    last = sink.log(hands.entries()[0]["chain"])[-1]
    # The app is closed first, as it is when somebody clears a browser's data.
    hands.page.goto("about:blank")
    session = hands.page.context.new_cdp_session(hands.page)
    session.send("Storage.clearDataForOrigin", {"origin": sink.server.url, "storageTypes": "all"})
    hands.page.goto(sink.server.url + "/")
    hands.wait_for("Enrol this tablet", "h1")

    desk = open_desk(sink)
    page = desk.go("/stations")
    row = page.get_by_role("button", name=re.compile("^Sink 2"))
    expect(row).to_contain_text(f"3 entries here, the last {last['hash'][:12]}")
    keep_picture(page, screens / "desk-stations-wiped.png")
    again = page.context.new_page()
    again.goto(sink.server.url + "/")  # by its icon, without a place in the address
    expect(again.locator("header, .bar").first).to_contain_text("The lead's desk")
    again.close()

    enrol(hands, sink.house.codes["Sink 3"], keys=True)
    sign_in(hands, "Ila Venn")
    hands.wait_for("Begun on another tablet")
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.wait_for("Begun on Sink 2 at ")
    hands.serial_photo(then="End cover")
    hands.wait_sent()
    begun = hands.entries()[0]
    assert begun["body"]["continues"] == root and begun["chain"] != last["entry"]["chain"]
    settled(hands.page)
