"""A whole inspection in WebKit: the scan, photos shrunk in a worker, the server gone half-way, a reload, all kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from browser.sink import Sink
from browser.sink_house import C_11, C_14, PIN
from browser.webkit import WebKit, webkit

pytestmark = [pytest.mark.sink, pytest.mark.slow]

NOTHING_FOUND = r"looked, nothing found · \d+ parts$|^Looked, nothing found"
KINDS = ["inspection.begun", "serial.photographed", "part.marked", "photo.added", "finding.recorded"]


def test_an_inspection_in_webkit_loses_nothing_when_the_server_goes_half_way(
    own_sink: Sink, tmp_path: Path, screens: Path
) -> None:
    before = len(own_sink.log())
    with webkit(tmp_path) as page:
        page.turn(1180, 900)
        page.open(own_sink.server.url)
        page.fill("One-time code", own_sink.house.codes["Sink 2"])
        page.tap("^Enrol$")
        page.says("Badge in to go on")
        page.sign_in("Ila Venn", PIN)
        page.says("Scan a scope to begin")
        to_a_finding(page, own_sink, screens)
        page.says("All on the server", ".bar")
        own_sink.server.stop()
        page.reload()
        page.sign_in("Ila Venn", PIN)
        to_the_decision(page, screens)
        assert page.wrong() == []
        own_sink.server.start()
        page.js("dispatchEvent(new Event('online'))")
        page.says("All on the server", ".bar")
        assert page.wrong() == []
    rows = own_sink.log()[before:]
    kinds = [row["entry"]["kind"] for row in rows]
    assert {row["verdict"] for row in rows} == {"counted"}, rows
    mine = [kind for kind in kinds if kind.startswith(("inspection", "serial", "part", "photo", "finding"))]
    assert mine[:5] == KINDS and mine[-1] == "inspection.concluded"
    assert kinds.count("inspection.concluded") == kinds.count("inspection.begun") == 1
    named = {photo["sha256"] for row in rows for photo in row["entry"]["photos"]}
    assert len(named) == 2 and named <= set(own_sink.photos()), json.dumps(sorted(named))


def to_a_finding(page: WebKit, sink: Sink, screens: Path) -> None:
    """Scanned, the serial number photographed and read, one zone looked at, one finding with its photo."""
    page.scan(f"01{C_14.di}21{C_14.serial}")
    page.says("Photograph the serial number", "h1")
    page.give_file("Choose a file", sink.plate(C_14.serial))
    page.says("Distal tip", "h1")
    page.tap(NOTHING_FOUND, ".hand")
    page.tap("^(Photo|One more photo)$", ".hand")
    page.give_file("Choose files", sink.plate(C_11.serial, coded=False))
    page.tap("^Keep 1 photo")
    page.tap("^Finding$", ".hand")
    page.says("What, and how much", "h1")
    page.picture(screens / "webkit-finding.png")
    page.tap("^Present$", "main")
    page.tap("^New$", ".hand")
    page.tap("^Save finding")


def to_the_decision(page: WebKit, screens: Path) -> None:
    """Without a server: the rest of the route, and the decision as it is suggested."""
    while "#/route" in page.js("return location.hash"):
        page.tap(NOTHING_FOUND, ".hand")
    page.picture(screens / "webkit-decision.png")
    if "The tag is on the scope" in page.words():
        page.tap("^The tag is on the scope", ".hand")
    page.until("const act = document.querySelector('.hand .btn.best'); act?.click(); return act !== null")
    page.says("Scan a scope to begin")
    assert "not sent" in page.words() or "saved on this tablet" in page.words().lower()
