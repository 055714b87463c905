"""Every kind of scope at every point of the cycle, from the scan to the decision by taps in a real browser.

Nothing of a kind is written down here: the driver reads the catalogue for what must come out, and presses what the
screen shows. A short list in which every kind and every point occurs runs always; all hundred run with `--long`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import LONGEST_WAIT_MS, settled
from browser.eyes import keep_picture
from browser.sink import NOTHING_FOUND, SHUTTER, ZONE, Hands, Sink, at_sink, scanned_for
from browser.sink_house import House
from playwright.sync_api import Locator, Playwright

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
CATALOGUE: dict[str, Any] = json.loads((ROOT / "shared/catalogue/catalogue.json").read_text("utf-8"))
WORDS: dict[str, Any] = json.loads((ROOT / "shared/words/en.json").read_text("utf-8"))
KINDS: dict[str, Any] = CATALOGUE["kinds"]
POINTS = ("at_leak_test", "after_cleaning", "after_drying", "before_use", "acceptance")
SIX = ("not_looked", "nothing_found", "finding", "could_not_look", "not_due", "none_here")
DI = "51022222233336"
BORESCOPE = "B-3"
ALL = [(kind, point) for kind in KINDS for point in POINTS]
ALWAYS = {
    "gastroscope": "after_drying", "gastroscope_jet": "at_leak_test", "gastroscope_double": "before_use",
    "colonoscope": "after_cleaning", "enteroscope": "at_leak_test", "duodenoscope": "acceptance",
    "echoendoscope_linear": "before_use", "echoendoscope_radial": "at_leak_test", "bronchoscope": "after_cleaning",
    "bronchoscope_fibre": "before_use", "bronchoscope_ebus": "at_leak_test", "cystoscope": "before_use",
    "cystoscope_fibre": "at_leak_test", "ureteroscope": "before_use", "ureteroscope_fibre": "after_drying",
    "choledochoscope": "at_leak_test", "rhinolaryngoscope": "before_use", "rhinolaryngoscope_fibre": "after_cleaning",
    "rhinolaryngoscope_channel": "after_drying", "tee_probe": "before_use",
}  # fmt: skip
MOST_TAPS = 140


def serial_of(kind: str) -> str:
    return f"8{list(KINDS).index(kind):06d}"


@pytest.fixture(scope="module")
def points_sink(
    house: House, playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Sink, Hands]]:
    """A sink with a scope of every kind on record, its channels' sizes too, and one tablet at it."""
    with at_sink(house, tmp_path_factory.mktemp("points"), playwright, chromium) as sink:
        lead = sink.lead()
        for kind, what in KINDS.items():
            sizes = [{"channel": each["id"], "inner_um": 3700, "length_mm": 1820} for each in what["channels"]]
            body = {"scope_kind": kind, "serial": serial_of(kind), "di": DI, "codes": [], "channels": sizes}
            lead.post("/lead/commands/scope.described", {"about": {"scope": key_of(kind)}, "body": body})
        # The plate has another number than any of these, and no code: what it says is typed, or nothing readable.
        hands = sink.tablet(camera=sink.camera("9999999", coded=False))
        hands.scan(f"LB1:T:{BORESCOPE}")
        hands.wait_screen("Borescopes")
        hands.type("Outer diameter in mm", "1.9")
        hands.type("Length in cm", "190")
        hands.tap("Keep this borescope")
        hands.wait_for("1.9 mm · 1.90 m")
        hands.tap("Home")
        hands.wait_for("Scan a scope to begin")
        yield sink, hands
        assert sink.guard.unexpected() == []


def key_of(kind: str) -> str:
    return f"udi:{DI}/{serial_of(kind)}"


def begin(hands: Hands, kind: str, point: str) -> str:
    """Scanned, its point chosen, its number photographed; the hash of the inspection."""
    hands.page.evaluate("location.hash = '#/home'")  # also after a walk that was broken off
    hands.wait_for("Scan a scope to begin")
    scanned_for(hands, f"01{DI}21{serial_of(kind)}", WORDS[f"point.{point}"])
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.tap("Nothing can be read on it")
    hands.wait_changed("h1", "Photograph the serial number")
    settled(hands.page)
    return str([row for row in hands.stored("entries") if row["kind"] == "inspection.begun"][-1]["hash"])


def walk(hands: Hands, screens: Path, point: str) -> None:
    """Answers whatever the screen asks until the home screen stands again; keeps a picture of each screen."""
    start = len(hands.taps)
    seen: set[str] = set()
    while "#/home" not in hands.page.url:
        assert len(hands.taps) - start < MOST_TAPS, hands.taps[-10:]
        screen = re.search(r"#/([a-z-]+)", hands.page.url)
        assert screen is not None, hands.page.url
        if screen.group(1) not in seen:
            keep_picture(hands.page, screens / f"points-{point}-{screen.group(1)}.png")
            seen.add(screen.group(1))
        STEPS[screen.group(1)](hands)
        settled(hands.page)


def on_route(hands: Hands) -> None:
    """A part, a zone, a channel, or the things before use; the one main act where nothing is left."""
    if hands.page.locator(".look .checks").count() == 1:
        on_list(hands)
        return
    for name in (ZONE, NOTHING_FOUND, "Look with a borescope", "Free", "Conclude"):
        shown = hands.button(name if isinstance(name, re.Pattern) else re.compile(f"^{name}"), ".hand")
        if shown.count() == 1 and shown.get_attribute("aria-disabled") is None:
            moved(hands, shown)
            return
    raise AssertionError(f"nothing to press: {hands.text()}")


def on_list(hands: Hands) -> None:
    """The first answer of each thing: works, or looked and nothing found; then on."""
    rows = hands.page.locator(".look .checks li")
    for index in range(rows.count()):
        answer = rows.nth(index).locator("button").first
        answer.scroll_into_view_if_needed()
        hands.tap_on(answer)
        rows.nth(index).locator("button[aria-pressed=true]").wait_for()
        settled(hands.page)
    moved(hands, hands.page.locator(".hand .btn.best"))


def on_leak(hands: Hands) -> None:
    for step in hands.page.locator(".look ol button").all():
        hands.tap_on(step)
    held = hands.page.locator(".hand .btn.t-seen")
    hands.tap_on(held)
    moved(hands, hands.page.locator(".hand .btn.best"))


def on_channel(hands: Hands) -> None:
    if hands.heading() == "Which borescope?":
        moved(hands, hands.page.locator(".look button.row", has_text=BORESCOPE))
        return
    hands.wait_for("1.9 in 3.7: room 0.9 mm each side.")
    moved(hands, hands.page.locator(".hand .btn.best"))


def on_decision(hands: Hands) -> None:
    moved(hands, hands.page.locator(".hand .btn.best"))


def moved(hands: Hands, target: Locator) -> None:
    """One tap after which another screen or part stands."""
    before = (hands.page.url, hands.heading())
    hands.tap_on(target)
    hands.page.evaluate(
        """([url, heading, longest]) => new Promise((done, fail) => {
          const until = performance.now() + longest;
          const look = () => {
            if (location.href !== url || document.querySelector('h1')?.innerText !== heading) done();
            else if (performance.now() > until) fail(new Error(`still at ${url}: ${heading}`));
            else requestAnimationFrame(look);
          };
          look();
        })""",
        [*before, LONGEST_WAIT_MS],
    )


STEPS = {
    "route": on_route,
    "leak": on_leak,
    "functions": on_list,
    "channel": on_channel,
    "conclude": on_decision,
}


def concluded(sink: Sink, hands: Hands, screens: Path, kind: str, point: str) -> None:
    """Walked from the scan to the decision; all of it counts on the server, and adds up to the catalogue's route."""
    begun = begin(hands, kind, point)
    walk(hands, screens, point)
    hands.wait_sent()
    mine = [row for row in sink.log() if row["entry"]["about"].get("inspection") == begun]
    assert {row["verdict"] for row in mine} == {"counted"}
    last = mine[-1]["entry"]
    assert (last["kind"], last["body"]["goes"], last["body"]["first"]) == ("inspection.concluded", "on", "nothing")
    at = KINDS[kind]["points"][point]
    counts = last["body"]["counts"]
    assert sum(counts[mark] for mark in SIX) == len(at["parts"]) + len(at["channels"])
    flows = [each for each in KINDS[kind]["channels"] if each["id"] in at["channels"] and each["reach"] == "flow"]
    assert counts["not_looked"] == counts["finding"] == 0
    assert counts["could_not_look"] + counts["not_due"] >= len(flows), "nobody saw the inside of these"
    read = [row["entry"]["body"]["what"] for row in mine if row["entry"]["kind"] == "reading.taken"]
    assert sorted(read) == sorted([*at["needs"], *at.get("checks", ())])


def named(case: tuple[str, str]) -> str:
    return f"{case[0]}-{case[1]}"


@pytest.mark.parametrize("case", ALWAYS.items(), ids=named)
def test_each_kind_is_taken_from_the_scan_to_the_decision_by_taps(
    points_sink: tuple[Sink, Hands], screens: Path, case: tuple[str, str]
) -> None:
    concluded(*points_sink, screens, *case)


@pytest.mark.slow
@pytest.mark.parametrize("case", [case for case in ALL if ALWAYS[case[0]] != case[1]], ids=named)
def test_and_at_every_other_point(points_sink: tuple[Sink, Hands], screens: Path, case: tuple[str, str]) -> None:
    concluded(*points_sink, screens, *case)


def test_every_kind_and_every_point_is_in_the_short_list() -> None:
    assert set(ALWAYS) == set(KINDS)
    assert set(ALWAYS.values()) == set(POINTS)
