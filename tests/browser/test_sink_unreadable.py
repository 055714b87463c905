"""A line the server cannot read, or a batch it refuses again and again: told on the tablet, nothing else waits."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from browser.conftest import eventually, settled
from browser.eyes import Eyes
from browser.sink import Hands, Sink, begun_at
from browser.sink_house import C_14
from browser.test_sink_kept import cut_off, go, refuse
from loupebook.record.hashes import entry_hash
from playwright.sync_api import Route

pytestmark = pytest.mark.sink

WRITE = """([seq, text, hash]) => new Promise((done, fail) => {
  const ask = indexedDB.open('loupebook');
  ask.onsuccess = () => {
    const tx = ask.result.transaction(['entries', 'meta'], 'readwrite');
    const store = tx.objectStore('entries');
    const read = store.getAll();
    read.onsuccess = () => {
      const row = read.result.find((each) => each.seq === seq);
      store.put({ ...row, line: new TextEncoder().encode(text), hash });
      tx.objectStore('meta').put({ seq, hash }, 'head');
    };
    tx.oncomplete = () => { ask.result.close(); done(); };
    tx.onerror = () => fail(tx.error);
  };
})"""
"""The last line as another build would have written it: stored, hashed and followed like any."""
NONE_WAITS = """() => new Promise((done) => {
  const ask = indexedDB.open('loupebook');
  ask.onsuccess = () => {
    const tx = ask.result.transaction(['entries', 'held']);
    const counts = ['entries', 'held'].map((name) => tx.objectStore(name).index('waiting').count());
    tx.oncomplete = () => { ask.result.close(); done(counts.every((each) => each.result === 0)); };
  };
})"""


UNSENT_CHAINS = """() => new Promise((done) => {
  const ask = indexedDB.open('loupebook');
  ask.onsuccess = () => {
    const read = ask.result.transaction('entries').objectStore('entries').index('waiting').getAll();
    read.onsuccess = () => { ask.result.close(); done(read.result.map((row) => row.chain)); };
  };
})"""


def chain_of(hands: Hands) -> str:
    return str(hands.stored("entries")[-1]["chain"])


def verdicts(sink: Sink, chain: str) -> list[str]:
    """What became of each line of a chain, in its order."""
    with closing(sqlite3.connect(f"file:{sink.server.data / 'record.sqlite'}?mode=ro", uri=True)) as base:
        return [reason or verdict for verdict, reason in base.execute(VERDICTS, [chain])]


VERDICTS = """SELECT v.verdict, v.reason FROM log_entries e JOIN log_verdicts v ON v.position = e.position
WHERE v.n = 1 AND e.chain = ? ORDER BY e.seq"""


def test_a_line_the_server_cannot_read_is_told_settled_by_a_lead_and_holds_up_nothing(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    cut_off(own_sink, hands)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    hands.wait_for("End cover", "h1")
    last = hands.stored("entries")[-1]
    text = str(last["line"]).replace('"build":"', '"build":"\\ud800', 1)
    hands.page.evaluate(WRITE, [3, text, entry_hash(text.encode())])
    hands.nothing_found()
    hands.wait_for("Lens", "h1")
    hands.page.context.set_offline(False)
    go(hands, "kept")
    hands.tap("Send now")
    eventually(hands.page, NONE_WAITS)
    chain = chain_of(hands)
    assert verdicts(own_sink, chain) == ["counted", "counted", "unparseable", "counted"]
    (told,) = hands.page.locator(".stuck li").all_inner_texts()
    assert "Put aside by the server" in told and "The line could not be read" in told
    assert "the lead has it on the desk" in told
    assert own_sink.photos(), "the photo of an entry that counts is there"

    lead = own_sink.lead()
    waiting = lead.get("/lead/aside")["aside"]
    assert [each["reason"] for each in waiting] == ["unparseable"]
    body = {"entry": waiting[0]["hash"], "outcome": "leave_out", "reason": "read again from the tablet"}
    lead.post("/lead/commands/aside.settled", {"about": {}, "body": body})
    assert lead.get("/lead/aside")["aside"] == []

    hands.tap("Back", ".bar")
    hands.wait_for("Lens", "h1")
    hands.nothing_found()
    eventually(hands.page, NONE_WAITS)
    assert verdicts(own_sink, chain)[-1] == "counted", "its own chain goes on"


def test_a_batch_that_is_refused_again_and_again_is_told_and_leaves_by_a_file(own_sink: Sink, screens: Path) -> None:
    """Another tablet is untouched, the file takes what waits to a lead, the tablet goes on in a new chain, and the old
    one goes by itself once it is taken."""
    own_sink.guard.allow("status of 422")
    hands = own_sink.tablet()
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    words = {
        "code": "head_wrong",
        "so": "The signature is not the tablet's.",
        "safe": "It stays.",
        "next": "Ask the lead.",
    }

    def never(route: Route) -> None:
        refuse(route, words, 422)

    hands.page.route("**/chains/*/entries?*", never)
    hands.nothing_found()
    hands.wait_for("End cover", "h1")
    go(hands, "kept")
    hands.tap("Send now")
    hands.wait_for("The signature is not the tablet's.")
    assert "Ask the lead." in hands.text() and "Everything recorded here stays on this tablet" in hands.text()
    assert "Last receipt or answer" in hands.text()
    assert hands.page.locator(".bar button.corner").first.inner_text() != "All on the server"

    other = own_sink.tablet("Sink 3", "Moira Keld")
    begun_at(other, C_14, "After cleaning", then="Distal tip")
    other.wait_sent()

    with hands.page.expect_download() as given:
        hands.tap("All unsent to a file")
    lines = Path(given.value.path()).read_bytes().splitlines()
    assert json.loads(lines[-1]) == {"end": True, "entries": 1, "photos": 0}
    old = chain_of(hands)
    kept = hands.entries()

    # The way on: two taps, a new chain that names the old head; what is refused stays, and is still offered.
    hands.tap("Go on in a new chain")
    hands.wait_for("An inspection half done goes on in a part of its own")
    settled(hands.page)
    eyes = Eyes(screens)
    eyes.at(hands.page, "sink-new-chain")
    assert eyes.found == []
    hands.page.unroute("**/chains/*/entries?*")
    hands.page.route(f"**/chains/{old}/entries?*", never)
    hands.tap("Yes, go on in a new chain")
    hands.page.get_by_role("button", name="Yes, go on in a new chain").wait_for(state="detached")
    (chained,) = [row["entry"]["body"] for row in own_sink.log() if row["entry"]["kind"] == "station.chained"]
    assert (chained["old_chain"], chained["old_seq"], chained["why"]) == (old, 2, "refused")
    assert hands.entries() == kept, "nothing went with the old chain"
    hands.wait_for("The signature is not the tablet's.")
    assert hands.page.get_by_role("button", name="Go on in a new chain").count() == 0, "this chain is not refused"
    go(hands, f"route?begun={begun}")
    hands.tap("Go on", ".hand")
    hands.wait_screen("serial")
    hands.serial_photo(then="Distal tip")
    fresh = next(row["chain"] for row in hands.stored("entries") if row["chain"] != old)
    eventually(hands.page, f"async () => (await ({UNSENT_CHAINS})()).every((chain) => chain === '{old}')")
    assert verdicts(own_sink, fresh) == ["counted", "counted"]
    assert len(own_sink.log(old)) == 2, "the refused one is still refused, and holds up nothing"

    hands.page.unroute(f"**/chains/{old}/entries?*")
    go(hands, "kept")
    hands.tap("Send now")
    hands.wait_sent()
    assert [row["entry"] for row in own_sink.log(old)] == kept
    assert {row["verdict"] for row in own_sink.log(old)} == {"counted"}
