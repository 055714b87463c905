"""Practice reaches neither the record's store nor the server; unsent work that was there before stays as it was."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from browser.conftest import eventually, settled
from browser.eyes import keep_picture
from browser.sink import LANDSCAPE, PORTRAIT, SHUTTER, Hands, Sink, sign_in
from browser.sink_house import C_14
from playwright.sync_api import Request

pytestmark = pytest.mark.breadth

SPEAKS = re.compile(r"/(chains|photos|cards|door|lead|health)(/|\?|$)")
"""Addresses at which the server hears of anything; all others are the files of the app."""
WHOLE = """(name) => new Promise((done, fail) => {
  const ask = indexedDB.open(name);
  ask.onerror = () => fail(ask.error);
  ask.onsuccess = async () => {
    const hex = async (bytes) => [...new Uint8Array(await crypto.subtle.digest('SHA-256', bytes))].join(' ');
    const found = {};
    for (const store of ['entries', 'photos', 'held', 'receipts', 'drafts', 'open']) {
      const rows = await new Promise((got) => {
        const read = ask.result.transaction(store).objectStore(store).getAll();
        read.onsuccess = () => got(read.result);
      });
      found[store] = [];
      for (const row of rows) {
        const { bytes, line, photos, ...rest } = row;
        const body = bytes instanceof ArrayBuffer ? bytes : line;
        found[store].push(JSON.stringify([rest, body === undefined ? bytes ?? null : await hex(body)]));
      }
    }
    ask.result.close();
    done(found);
  };
})"""
STORES = "async () => (await indexedDB.databases()).map((each) => each.name).sort()"


def store(hands: Hands) -> dict[str, Any]:
    """Every row of the record's own store, bytes as their hash."""
    return dict(hands.page.evaluate(WHOLE, "loupebook"))


def practise(hands: Hands) -> None:
    hands.tap_on(hands.page.locator(".bar button.corner").last)
    hands.wait_for("Who is here?", "h1")
    with hands.page.expect_event("load"):
        hands.tap(re.compile("^Practise"), ".hand")
    hands.wait_for("Practice", "h1")
    settled(hands.page)


def says_practice(hands: Hands) -> None:
    """By shape and word, in view, on whichever screen stands."""
    sign = hands.page.locator(".bar button.practice")
    box, view = sign.bounding_box(), hands.page.viewport_size
    assert box is not None and view is not None
    assert box["y"] >= 0 and box["x"] + box["width"] <= view["width"] and box["height"] >= 64
    assert "Leave practice" in sign.inner_text() and sign.locator("svg").count() == 1
    assert hands.page.locator(".bar.practising").count() == 1


def whole_inspection(hands: Hands, pictures: Path, name: str) -> None:
    """A colonoscope from its serial number to the decision, a photo and a finding in between."""

    def look(screen: str) -> None:
        settled(hands.page)
        says_practice(hands)
        keep_picture(hands.page, pictures / f"practice-{screen}-{name}.png")

    look("home")
    hands.tap(re.compile("^Colonoscope P-1"), ".hand")
    hands.wait_screen("serial")
    hands.tap("After cleaning", "main")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.button("Nothing can be read on it").wait_for()
    look("serial")
    hands.tap("Nothing can be read on it")
    hands.wait_screen("Distal tip")
    look("route")
    hands.take_photo()
    hands.nothing_found()
    hands.tap("Finding", ".hand")
    hands.wait_screen("finding")
    hands.choose("Crack or chip", "Present")
    look("finding")
    hands.tap("Save finding")
    hands.wait_screen("Lens")
    hands.finish_route()
    hands.page.locator(".hand .btn.best").wait_for()
    look("decision")


@pytest.mark.parametrize(
    ("name", "turned"), [("landscape", LANDSCAPE), pytest.param("portrait", PORTRAIT, marks=pytest.mark.slow)]
)
def test_nothing_of_practice_reaches_the_record_or_the_network(
    own_sink: Sink, screens: Path, name: str, turned: dict[str, int]
) -> None:
    sink = own_sink
    hands = sink.tablet(viewport=turned, camera=sink.camera("1000014", coded=False))
    unsent_work(hands, sink)
    on_server = sink.log()
    before = store(hands)
    assert any('"waiting":1' in row for row in before["entries"]), (
        "there has to be unsent work for this to prove anything"
    )

    heard: list[str] = []

    def note(request: Request) -> None:
        if SPEAKS.match(urlsplit(request.url).path):
            heard.append(request.url)

    practise(hands)
    hands.page.context.set_offline(False)
    hands.page.on("request", note)
    sink.server.start()
    whole_inspection(hands, screens, name)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_for("That is no practice scope.")
    assert store(hands) == before
    assert heard == []
    assert hands.page.evaluate(STORES) == ["loupebook", "loupebook-log", "loupebook-practice"]

    hands.page.remove_listener("request", note)
    with hands.page.expect_event("load"):
        hands.tap_on(hands.page.locator(".bar button.practice"))
    hands.wait_for("Badge in to go on", "h1")
    # Thrown away; the page that begins anew also makes its log anew, by a database of its own.
    eventually(hands.page, f"async () => (await ({STORES})()).join() === 'loupebook,loupebook-log'")
    sign_in(hands, "Ila Venn")
    hands.wait_sent()
    sent = [json.dumps(row["entry"]) for row in sink.log()[len(on_server) :]]
    assert len(sent) == 2 and not any("P-1" in line or '"practice": true' in line or "1000014" in line for line in sent)


def unsent_work(hands: Hands, sink: Sink) -> None:
    """A real inspection under way, two marks of it saved here and not sent; the network and the server are gone."""
    film = sink.plate(C_14.serial)
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.give_file("Choose a file", film)
    hands.wait_changed("h1", "Photograph the serial number")
    hands.wait_sent()
    sink.guard.allow("net::ERR_")
    hands.page.context.set_offline(True)
    sink.server.stop()
    hands.nothing_found()
    hands.nothing_found()
