"""Without touching the screen: command cards as a reader's bursts, pedals by their keys, and when both do nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browser.conftest import LONGEST_WAIT_MS, settled
from browser.eyes import keep_picture
from browser.sink import BURST, LANDSCAPE, PORTRAIT, ZONE, Hands, Sink, begun_at, conclude
from browser.sink_house import C_11, C_14

pytestmark = pytest.mark.breadth

PEDALS = {"Nothing found": "PageDown", "Photo": "PageUp", "Whole zone, nothing found": "F9"}
F14 = "() => document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key: 'F14', bubbles: true }))"
TOUCHES = """() => {
  window.touches = 0;
  for (const name of ['pointerdown', 'click', 'touchstart']) addEventListener(name, () => (window.touches += 1), true);
}"""


CARD = f"""(sent) => new Promise((done, fail) => {{
  const sign = () => document.querySelector('[data-card]');
  const before = sign()?.dataset.card ?? '0';
  const until = performance.now() + sent.longest;
  ({BURST})(sent.text);
  const look = () => {{
    if ((sign()?.dataset.card ?? before) !== before) done(sign().innerText);
    else if (performance.now() > until) fail(new Error('no sign came'));
    else requestAnimationFrame(look);
  }};
  look();
}})"""
"""A burst and what the sign then says, in one go: a sign stands for seconds only."""


def card(hands: Hands, command: str) -> str:
    """The reader reads a command card; what the sign then says."""
    said = str(hands.page.evaluate(CARD, {"text": f"LB1:C:{command}", "longest": LONGEST_WAIT_MS}))
    settled(hands.page)
    return said


def pedal(hands: Hands, command: str) -> None:
    hands.page.keyboard.press(PEDALS[command])


def learn_pedals(hands: Hands, screens: Path, name: str) -> None:
    """Each line pressed, then the pedal."""
    hands.tap_on(hands.page.locator(".bar button.corner").last)
    hands.wait_for("Who is here?", "h1")
    hands.tap(re.compile("^Hands-free"), ".hand")
    hands.wait_for("Pedals", "h1")
    for command, key in PEDALS.items():
        hands.tap(re.compile(f"^{command}"), "main")
        hands.wait_for("press the pedal now")
        hands.page.keyboard.press("a")
        assert "press the pedal now" in hands.text(), "a letter is nobody's pedal"
        hands.page.keyboard.press(key)
        hands.wait_for(f"pedal: {key}")
    keep_picture(hands.page, screens / f"hands-free-{name}.png")
    hands.tap("Back", ".bar")
    hands.wait_for("Who is here?", "h1")
    hands.tap("Back", ".bar")
    hands.wait_for("Scan a scope to begin")


@pytest.mark.parametrize(
    ("name", "turned"), [("landscape", LANDSCAPE), pytest.param("portrait", PORTRAIT, marks=pytest.mark.slow)]
)
def test_a_whole_inspection_with_its_photos_takes_no_touch(
    own_sink: Sink, screens: Path, name: str, turned: dict[str, int]
) -> None:
    sink = own_sink
    hands = sink.tablet(viewport=turned)
    learn_pedals(hands, screens, name)
    hands.page.evaluate(TOUCHES)
    hands.taps.clear()

    hands.scan(f"01{C_14.di}21{C_14.serial}")
    hands.wait_screen("serial")
    hands.page.wait_for_selector("video[data-live]")
    pedal(hands, "Photo")
    hands.wait_screen("Distal tip")
    card(hands, "photo")
    hands.page.wait_for_selector("video[data-live]")
    pedal(hands, "Photo")
    hands.button("Keep 1 photo").wait_for()
    keep_picture(hands.page, screens / f"hands-free-photo-{name}.png")
    pedal(hands, "Photo")
    hands.wait_screen("Distal tip")
    assert "Nothing found" in card(hands, "nothing-found")
    hands.wait_screen("End cover")
    assert "Undo" in card(hands, "undo")
    hands.wait_screen("Distal tip")
    keep_picture(hands.page, screens / f"hands-free-route-{name}.png")
    pedal(hands, "Nothing found")
    hands.wait_screen("End cover")

    for _ in range(40):
        if "#/route" not in hands.page.url:
            break
        before = hands.heading()
        pedal(hands, "Whole zone, nothing found" if hands.button(ZONE, ".hand").count() == 1 else "Nothing found")
        hands.wait_changed("h1" if hands.page.locator("h1").count() else "body", before)
        settled(hands.page)
    hands.page.locator(".hand .btn.best").wait_for()

    entries = len(hands.entries())
    assert "First the card Conclude" in card(hands, "confirm")
    pedal(hands, "Nothing found")
    assert "On to disinfection" in card(hands, "conclude")
    keep_picture(hands.page, screens / f"hands-free-conclude-{name}.png")
    assert len(hands.entries()) == entries, "one card concludes nothing"
    hands.scan("LB1:C:confirm")
    hands.wait_for("Scan a scope to begin")

    assert hands.page.evaluate("window.touches") == 0 and hands.taps == []
    hands.wait_sent()
    kept = hands.entries()
    assert [row["entry"] for row in sink.log(kept[0]["chain"])] == kept
    counts = kept[-1]["body"]["counts"]
    assert counts["nothing_found"] == 30 and counts["not_looked"] == counts["could_not_look"] == 0
    shown = [photo for entry in kept for photo in entry["photos"]]
    assert [photo["shows"] for photo in shown] == ["serial", "part"]
    assert {photo["sha256"] for photo in shown} <= set(sink.photos())


def test_a_card_without_a_meaning_says_so_and_does_nothing(own_sink: Sink, screens: Path) -> None:
    sink = own_sink
    hands = sink.tablet(camera=sink.camera(C_11.serial))
    assert "Has no meaning here" in card(hands, "nothing-found")
    keep_picture(hands.page, screens / "hands-free-no-meaning.png")
    assert "this version does not know" in card(hands, "delete")
    assert hands.entries() == []

    hands.scan(f"01{C_11.di}21{C_11.serial}")
    hands.wait_screen("Where is it in the cycle?")
    keep_picture(hands.page, screens / "hands-free-cycle.png")
    which = re.search(r"(\d) · Inspect: after cleaning", hands.text())
    assert which is not None
    card(hands, f"answer-{which[1]}")
    hands.wait_screen("serial")
    hands.page.wait_for_selector("video[data-live]")
    card(hands, "photo")
    hands.wait_screen("Distal tip")
    entries = hands.entries()
    for command in ("confirm", "answer-2", "back", "undo"):
        assert "Nothing was done" in card(hands, command)
    assert "Conclude" in card(hands, "conclude")
    assert "Nothing was done" not in card(hands, "back")
    assert hands.entries() == entries

    assert "Could not look" in card(hands, "could-not-look")
    hands.wait_for("card 2")
    keep_picture(hands.page, screens / "hands-free-reasons.png")
    card(hands, "answer-2")
    hands.wait_screen("End cover")
    assert hands.entries()[-1]["body"] == {"mark": "could_not_look", "parts": ["distal_tip"], "reason": "covered"}


def test_nothing_happens_under_the_fingers_of_somebody_who_types(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    hands.tap("Type the number")
    field = hands.page.locator("input[type=text], input[type=search], input:not([type])").first
    field.fill("27")
    assert "Somebody is typing" in card(hands, "back")
    hands.page.evaluate(F14)
    hands.wait_for("Somebody is typing")
    assert field.input_value() == "27"


def test_a_locked_tablet_takes_no_card_and_ten_seconds_disarm(own_sink: Sink) -> None:
    sink = own_sink
    hands = sink.tablet(clock=True)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.finish_route()
    hands.page.locator(".hand .btn.best").wait_for()
    entries = len(hands.entries())
    card(hands, "conclude")
    hands.page.clock.run_for(10_500)
    assert "First the card Conclude" in card(hands, "confirm")
    assert len(hands.entries()) == entries
    conclude(hands)
    hands.page.clock.run_for(121_000)
    hands.wait_for("Badge in to go on", "h1")
    assert "nobody is signed in" in card(hands, "photo")
