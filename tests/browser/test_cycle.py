"""One scope through its cycle by taps and scans, over a dirty and a clean station, half of it without a network.

The order of the steps is common practice; the limits are the first policy's rows, whose sources stand in it.
"""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import settled
from browser.eyes import keep_picture
from browser.sink import LANDSCAPE, PORTRAIT, Hands, Sink, enrol, sign_in
from browser.sink_house import PLACE, Scope
from browser.test_points import walk

pytestmark = pytest.mark.breadth

DIRTY = ["at_leak_test", "after_cleaning", "acceptance"]
CLEAN = ["after_drying", "before_use"]
HOME = "Scan a scope to begin"


R_81 = Scope("R-81", "rhinolaryngoscope", "2741777", "RX 20", 300, "51022222233336")
"""A kind without channels, so that each look is short."""

KNOWN_TO_MS = 2_500
"""A tablet knows the server's clock to about two seconds: steps of two tablets that lie nearer have no order."""
CLOCK_SHOWS = """(ms) => new Promise((done) => {
  const look = () => (Date.now() > ms ? done() : requestAnimationFrame(look));
  look();
})"""


def code_of(scope: Scope) -> str:
    return f"01{scope.di}21{scope.serial}"


def station(sink: Sink, name: str, place: str, side: str, points: list[str], scope: Scope, **options: Any) -> Hands:
    """A tablet of one side, enrolled by a lead's code, with a person signed in."""
    told = sink.lead().post("/door/invite", {"name": name, "place": place, "side": side, "points": points})
    hands = sink.open(name, sink.camera(scope.serial), **options)
    enrol(hands, str(told["code"]))
    sign_in(hands, "Ila Venn")
    hands.wait_for(HOME)
    return hands


def asked(hands: Hands, scope: Scope) -> None:
    """Scanned, and asked where it is in the cycle."""
    hands.scan(code_of(scope))
    hands.wait_screen("cycle")


def home(hands: Hands) -> None:
    hands.wait_for(HOME)
    settled(hands.page)


def kinds(hands: Hands) -> list[str]:
    return [entry["kind"] for entry in hands.entries() if entry["kind"].startswith("scope.")]


def fetched(hands: Hands) -> None:
    """The tablet has asked for its cards again: the page came into view."""
    with hands.page.expect_response(re.compile("/cards")):
        hands.page.evaluate("window.dispatchEvent(new Event('online'))")
    settled(hands.page)


def looked(hands: Hands, screens: Path, point: str) -> None:
    """A look with nothing found, from its serial photo to its end."""
    hands.serial_photo()
    walk(hands, screens, f"cycle-{point}")
    home(hands)


@pytest.mark.parametrize(
    "turned", [LANDSCAPE, pytest.param(PORTRAIT, marks=pytest.mark.slow)], ids=["landscape", "portrait"]
)
def test_a_scope_goes_once_round_over_two_stations(own_sink: Sink, screens: Path, turned: dict[str, int]) -> None:
    own_sink.guard.allow("net::ERR_")
    way = "landscape" if turned == LANDSCAPE else "portrait"
    body = {"scope_kind": "rhinolaryngoscope", "serial": R_81.serial, "di": R_81.di, "tag": R_81.tag, "codes": []}
    own_sink.lead().post("/lead/commands/scope.described", {"about": {"scope": R_81.key}, "body": body})
    dirty = station(own_sink, "Sink D", PLACE, "dirty", DIRTY, R_81, viewport=turned)
    clean = station(own_sink, "Table C", "Clean side", "clean", CLEAN, R_81, viewport=turned)

    def shot(hands: Hands, name: str) -> None:
        keep_picture(hands.page, screens / f"cycle-{name}-{way}.png")

    # Received: many come one after the other, so the next scan says it; the right side's steps are offered.
    assert dirty.button("Taken out").count() == 0
    dirty.tap("Received", ".below")
    dirty.scan(code_of(R_81))
    dirty.wait_for("When did the procedure end?")
    settled(dirty.page)
    ended = dirty.page.evaluate("new Date(Date.now() - 9 * 60000).toISOString().slice(11, 16).replace(':', '')")
    for digit in ended:
        dirty.tap(digit, ".pad")
    dirty.wait_for(f"Ended {ended[:2]}:{ended[2:]}", "main")
    dirty.tap("Yes", "main")
    shot(dirty, "received")
    dirty.tap("Save: received")
    home(dirty)
    dirty.tap("Inspect", ".below")
    dirty.wait_for("cleaning not begun for")
    shot(dirty, "home-dirty")
    dirty.wait_sent()
    (came,) = [entry for entry in dirty.entries() if entry["kind"] == "scope.received"]
    assert came["body"]["pre_clean"] == "yes" and "cleaning_begun" not in came["body"]

    # Cleaning begins: said of that receipt, from the row on the home screen.
    dirty.tap(re.compile("^Rhinolaryngoscope R-81.*cleaning not begun"))
    dirty.wait_screen("cycle")
    dirty.tap("Cleaning begins now")
    dirty.wait_for("Save: cleaning begins now")
    dirty.tap("Save: cleaning begins now")
    home(dirty)
    dirty.wait_for("Cleaning begun")
    begun = dirty.entries()[-1]["body"]
    assert begun["of"] and begun["cleaning_begun"]

    # Leak test, then after cleaning: the second follows beyond doubt, so the scan leads to the serial photo.
    asked(dirty, R_81)
    dirty.tap("Inspect: at leak test")
    looked(dirty, screens, "at_leak_test")
    own_sink.contexts["Sink D"].set_offline(True)
    dirty.scan(code_of(R_81))
    dirty.wait_screen("serial")
    assert dirty.button("After cleaning", "main").get_attribute("aria-checked") == "true"
    looked(dirty, screens, "after_cleaning")
    assert "1 on the server" not in dirty.corner()
    clean.page.evaluate(
        CLOCK_SHOWS, round(datetime.fromisoformat(dirty.entries()[-1]["at"]).timestamp() * 1000) + KNOWN_TO_MS
    )

    # The clean side does not know of it yet; its own steps go on without waiting.
    own_sink.contexts["Table C"].set_offline(True)
    asked(clean, R_81)
    clean.tap("Processed")
    clean.wait_for("The next scan fills")
    settled(clean.page)
    clean.scan("LB1:T:W-2")
    clean.wait_for("Cycle number")
    settled(clean.page)
    assert clean.page.get_by_label("Machine", exact=True).input_value() == "W-2"
    clean.scan("003107")
    settled(clean.page)
    assert clean.page.get_by_label("Cycle number", exact=True).input_value() == "003107"
    shot(clean, "processed")
    clean.tap("Save: processed")
    home(clean)
    clean.wait_for("needs processing from")
    shot(clean, "home-clean")

    # Back in reach: both tablets send, and each learns what the other did.
    for name in ("Sink D", "Table C"):
        own_sink.contexts[name].set_offline(False)
    dirty.wait_sent()
    clean.wait_sent()
    fetched(clean)
    asked(clean, R_81)
    shot(clean, "after-drying-asked")
    assert "Processed" in clean.text() and "machine W-2, cycle 003107" in clean.text()
    assert "Pre-cleaned at the bedside" in clean.text(), "what the dirty side said is known here"
    clean.tap("Inspect: after drying")
    looked(clean, screens, "after_drying")
    asked(clean, R_81)
    clean.tap("Hung", ".hand")
    clean.wait_for("Where it hangs")
    settled(clean.page)
    assert clean.button(re.compile("^Save: hung")).get_attribute("aria-disabled") == "true"
    clean.scan("CABINET 1")
    settled(clean.page)
    clean.wait_for("Place: CABINET 1")
    shot(clean, "hung")
    clean.tap("Save: hung")
    home(clean)

    asked(clean, R_81)
    assert re.search(r"Since it was first hung: \d min, limit 7 d", clean.text())
    clean.tap("Taken out", ".hand")
    clean.wait_for("Where it goes")
    settled(clean.page)
    clean.type("Where it goes", "Room 3")
    clean.tap("Save: taken out")
    home(clean)
    asked(clean, R_81)
    shot(clean, "before-use-asked")
    clean.tap("Inspect: before use")
    clean.serial_photo()
    clean.wait_for("Disinfection is recorded")
    assert "machine W-2" in clean.text() and "Hung since" in clean.text() and "the facility allows 7 d" in clean.text()
    shot(clean, "ready")
    walk(clean, screens, "cycle-before_use")
    home(clean)
    clean.wait_sent()

    assert kinds(dirty) == ["scope.received", "scope.received"]
    assert kinds(clean) == ["scope.processed", "scope.hung", "scope.taken"]
    log = own_sink.log()
    counted = [row for row in log if row["entry"]["kind"].startswith("scope.") and row["verdict"] != "counted"]
    assert counted == []
    (processed,) = [row["hash"] for row in log if row["entry"]["kind"] == "scope.processed"]
    last = [row["entry"] for row in log if row["entry"]["kind"] == "inspection.concluded"][-1]
    assert last["body"]["disinfection"] == processed and last["body"]["goes"] == "on"
