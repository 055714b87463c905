"""No address of the app leads past the photo of the serial number; a hold and a failed leak test never wait for it."""

from __future__ import annotations

import re

import pytest
from browser.conftest import settled
from browser.sink import Hands, Sink, sign_in
from browser.sink_house import C_14

pytestmark = pytest.mark.sink

PAST = ("route?begun={0}", "route?begun={0}&part=lens", "photo?begun={0}&part=lens&back=route",
        "photo?begun={0}&part=lens&back=finding", "finding?begun={0}&part=lens", "conclude?begun={0}")  # fmt: skip
"""Addresses of screens that record a photo, a mark, a finding or a decision."""


def at(hands: Hands, way: str) -> None:
    hands.page.evaluate("(hash) => { location.hash = hash; }", f"#/{way}")
    settled(hands.page)


def test_every_address_leads_to_the_serial_photo_first(own_sink: Sink) -> None:
    sink = own_sink
    hands = sink.tablet("Sink 2", "Ila Venn")
    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.tap("At leak test", "main")
    hands.tap("The leak test failed: record it first")
    hands.wait_screen("leak")
    (root,) = [row["hash"] for row in hands.stored("entries")]

    for way in PAST:
        at(hands, way.format(root))
        hands.wait_screen("serial")
        assert hands.button("Finding", ".hand").count() == hands.button("Looked, nothing found", ".hand").count() == 0
    for way in ("photo", "finding", "route"):
        at(hands, f"{way}?begun={'0' * 64}&part=lens&back=route")
        hands.wait_for("This tablet has no such inspection.")
    hands.page.goto("about:blank")
    hands.page.goto(f"{sink.server.url}/#/{PAST[2].format(root)}")
    sign_in(hands, "Ila Venn")
    hands.wait_screen("serial")
    assert [row["kind"] for row in hands.stored("entries")] == ["inspection.begun"]

    hands.tap("The leak test failed: record it first")
    hands.wait_screen("leak")
    hands.tap("Bubbles", ".hand")
    hands.tap(re.compile("^Save: leak test failed"), ".hand")
    hands.wait_screen("serial")
    hands.tap("Put it on hold now")
    hands.wait_for("Put C-14 on hold: why?", "h1")
    hands.tap("Doubt", "main")
    hands.tap(re.compile("^No tag at hand"), ".hand")
    hands.wait_screen("serial")
    kinds = ["inspection.begun", "reading.taken", "hold.placed", "hold.placed"]
    assert [entry["kind"] for entry in hands.entries()] == kinds
    hands.serial_photo()
    hands.wait_for("What is done first")
    hands.wait_sent()
    rows = sink.log(hands.entries()[0]["chain"])
    assert [row["entry"]["kind"] for row in rows] == [*kinds, "serial.photographed"]
    assert {row["verdict"] for row in rows} == {"counted"}
