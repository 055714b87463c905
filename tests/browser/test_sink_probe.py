"""A TEE probe by taps: no channel, parts that stay dry, its leakage current in place of a leak test."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.eyes import keep_picture
from browser.sink import Sink
from browser.sink_house import C_14

pytestmark = pytest.mark.breadth

SERIAL = "7700123"


def test_a_leakage_current_over_the_limit_takes_a_new_probe_to_repair(own_sink: Sink, screens: Path) -> None:
    """IAC adult echocardiography standard, as quoted in the trade press: electrical integrity between every use."""
    hands = own_sink.tablet(camera=own_sink.camera(SERIAL))
    hands.scan(f"01{C_14.di}21{SERIAL}")
    hands.wait_for("A scope nobody here knows")
    keep_picture(hands.page, screens / "probe-register.png")
    hands.tap("TEE probe")
    hands.tap("Register and photograph the number")
    hands.serial_photo()
    assert hands.heading() == "Ultrasound transducer"
    assert hands.finish_route() == 9
    hands.wait_screen("Leakage current")
    assert "Only tip and tube go into the bath" in hands.text()
    for step in ("Handle and plug stay dry", "Tip and tube are in the bath", "Tester connected, probe chosen"):
        hands.tap(re.compile(f"^{step}"), ".look")
    hands.tap("Over the limit", ".hand")
    keep_picture(hands.page, screens / "probe-leakage.png")
    hands.tap("Save: over the limit", ".hand")
    hands.wait_for("Ask for repair of", ".hand")
    keep_picture(hands.page, screens / "probe-decision.png")
    assert "a leakage current over the limit takes the probe out of use" in hands.text().lower()
    hands.wait_sent()
    (reading,) = [entry["body"] for entry in hands.entries() if entry["kind"] == "reading.taken"]
    assert (reading["what"], reading["result"]) == ("leakage_current", "over_limit")
    verdicts = {row["verdict"] for row in own_sink.log(hands.entries()[0]["chain"])}
    assert verdicts == {"counted"}
