"""Into a channel with a borescope, and functions tried: what is recorded, what follows, what is owed."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import eventually, settled
from browser.eyes import keep_picture
from browser.sink import PORTRAIT, SHUTTER, STORED, Hands, Sink, scanned_for
from browser.sink_desk import hear

pytestmark = pytest.mark.breadth

DI, SERIAL = "51022222233336", "5500123"
SIZES = [{"channel": "ch_instrument", "inner_um": 2000, "length_mm": 820}, {"channel": "ch_air", "length_mm": 900}]


def at_channel(sink: Sink, kind: str, part: str, point: str = "After cleaning", **tablet: Any) -> tuple[Hands, str]:
    """A scope of this kind on record with its channels' sizes, its inspection begun, this channel in hand."""
    body = {"scope_kind": kind, "serial": SERIAL, "di": DI, "codes": [], "channels": SIZES}
    about = {"scope": f"udi:{DI}/{SERIAL}"}
    sink.lead().post("/lead/commands/scope.described", {"about": about, "body": body})
    hands = sink.tablet(camera=sink.camera(SERIAL), **tablet)
    scanned_for(hands, f"01{DI}21{SERIAL}", point)
    hands.serial_photo()
    begun = str([row for row in hands.stored("entries") if row["kind"] == "inspection.begun"][-1]["hash"])
    hands.page.evaluate(f"location.hash = '#/route?begun={begun}&part={part}'")
    settled(hands.page)
    return hands, begun


def new_borescope(hands: Hands, name: str, width: str, length: str) -> None:
    hands.tap("Another borescope", ".look")
    hands.type("What its label says", name)
    hands.type("Outer diameter in mm", width)
    hands.type("Length in cm", length)
    hands.tap("Keep this borescope")
    hands.wait_for("Room in this channel", "h1")
    settled(hands.page)


def bodies(hands: Hands, kind: str) -> list[dict[str, Any]]:
    return [entry["body"] for entry in hands.entries() if entry["kind"] == kind]


def test_a_finding_at_its_place_then_resistance_is_held_and_the_borescope_owes(own_sink: Sink, screens: Path) -> None:
    hands, begun = at_channel(own_sink, "bronchoscope", "ch_instrument")
    hands.tap("Look with a borescope")
    hands.wait_screen("Which borescope?")
    new_borescope(hands, "B-3", "1.9", "190")
    assert "1.9 in 2: tight. Check both makers' instructions." in hands.text()
    hands.tap("Take another borescope")
    hands.wait_screen("Which borescope?")
    hands.scan("LB1:T:B-3")
    hands.wait_for("Room in this channel", "h1")
    for _ in range(3):
        hands.tap(re.compile(r"^\+10"), ".hand")
    hands.wait_for("Finding at 30 cm")
    keep_picture(hands.page, screens / "channel-look.png")
    hands.tap("Finding at 30 cm")
    hands.wait_screen("finding")
    scratch(hands)
    hands.tap("Save finding")
    hands.wait_for("Found in this channel")
    settled(hands.page)
    assert "30 cm · " in hands.text()
    hands.tap(re.compile("^Could not go further"))
    keep_picture(hands.page, screens / "channel-why.png")
    hands.tap("It resists")
    hands.wait_for("B-3 owes processing")
    found, run = bodies(hands, "finding.recorded")[-1], bodies(hands, "channel.looked")[-1]
    assert found["place"] == {"mm": 300, "end": "port", "known": "read_off"}
    assert run == {
        "channel": "ch_instrument", "outcome": "blocked", "way": "from_port", "borescope": "B-3", "known": "read_off",
        "reached_mm": 300, "length_mm": 820, "reason": "resistance",
    }  # fmt: skip
    hands.page.evaluate(f"location.hash = '#/conclude?begun={begun}'")
    hands.wait_for("A channel the borescope does not get through waits for the lead")
    keep_picture(hands.page, screens / "channel-decision.png")
    hands.wait_sent()

    other = own_sink.tablet("Sink 3", person="Rin Oake", camera="none")
    other.page.evaluate("location.hash = '#/tools'")
    other.wait_for("owes processing since")
    keep_picture(other.page, screens / "tools-owes.png")
    other.tap("B-3 is processed")
    other.wait_for("processed ")
    other.wait_sent()
    assert {row["verdict"] for row in own_sink.log()} == {"counted"}


def test_what_is_typed_of_a_borescope_stays_while_cards_come(own_sink: Sink) -> None:
    hands = own_sink.tablet(camera="none")
    hands.scan("LB1:T:B-7")
    hands.wait_screen("Borescopes")
    hands.type("Outer diameter in mm", "1.9")
    described = {"scope_kind": "bronchoscope", "serial": SERIAL, "di": DI, "codes": [], "channels": SIZES}
    key = f"udi:{DI}/{SERIAL}"
    own_sink.lead().post("/lead/commands/scope.described", {"about": {"scope": key}, "body": described})
    hear(hands)
    eventually(hands.page, f"async () => (await ({STORED})('cards')).some(({{ id }}) => id === {json.dumps(key)})")
    settled(hands.page)
    hands.type("Length in cm", "190")
    hands.tap("Keep this borescope")
    hands.wait_for("1.9 mm · 1.90 m")


def scratch(hands: Hands) -> None:
    """The first graded finding the list offers here, minor and new."""
    row = hands.page.get_by_role("group", name=re.compile("scratch", re.IGNORECASE)).first
    hands.tap_on(row.get_by_role("button", name="Minor", exact=True))
    hands.tap("New", ".hand")


def test_too_short_names_what_stays_unseen_and_too_wide_does_not_go_in(own_sink: Sink, screens: Path) -> None:
    """Widths and lengths: arithmetic."""
    hands, _ = at_channel(own_sink, "bronchoscope", "ch_instrument", viewport=PORTRAIT)
    hands.tap("Look with a borescope")
    hands.wait_screen("Which borescope?")
    new_borescope(hands, "B-9", "2.4", "60")
    assert "2.4 in 2: does not go in." in hands.text()
    for act in (r"^The borescope ends here", r"^Could not go further"):
        assert hands.button(re.compile(act)).get_attribute("aria-disabled") == "true"
    keep_picture(hands.page, screens / "channel-no-fit.png")
    hands.tap("Take another borescope")
    hands.wait_screen("Which borescope?")
    assert "does not go in" in hands.text()
    new_borescope(hands, "B-4", "1.6", "60")
    assert "1.6 in 2: room 0.2 mm each side." in hands.text()
    assert "The borescope ends 22 cm before the outlet: that stretch stays not looked from here." in hands.text()
    hands.tap(re.compile("^The borescope ends here"))
    hands.wait_for("B-4 owes processing")
    run = bodies(hands, "channel.looked")[-1]
    assert (run["outcome"], run["reason"], run["reached_mm"]) == ("blocked", "too_short", 600)


def test_two_runs_from_both_ends_add_up_and_what_is_left_is_said(own_sink: Sink, screens: Path) -> None:
    """A channel of 82 cm, a borescope of 60 cm: 60 from the port, then 20 and 22 from the tip. Arithmetic."""
    hands, begun = at_channel(own_sink, "bronchoscope", "ch_instrument")
    hands.tap("Look with a borescope")
    hands.wait_screen("Which borescope?")
    new_borescope(hands, "B-5", "1.6", "60")
    hands.tap(re.compile("^The borescope ends here"))
    hands.wait_for("B-5 owes processing")
    again(hands, begun)
    hands.wait_for("Seen from the port to 60 cm. Not seen: 60 to 82 cm from the port, 22 cm.")
    # The borescope of before is in the hand, and goes in from the other end.
    assert hands.page.get_by_role("radio", name="In from the tip").get_attribute("aria-checked") == "true"
    from_the_tip(hands, 20)
    assert mark(hands, begun) == "could not look"
    again(hands, begun)
    hands.wait_for("Seen from the tip to 20 cm. Not seen: 60 to 62 cm from the port, 2 cm.")
    keep_picture(hands.page, screens / "channel-both-ends-gap.png")
    hands.page.set_viewport_size(PORTRAIT)  # type: ignore[arg-type]
    settled(hands.page)
    keep_picture(hands.page, screens / "channel-both-ends-gap-portrait.png")
    from_the_tip(hands, 22)
    assert mark(hands, begun) == "looked, nothing found"
    runs = bodies(hands, "channel.looked")
    assert [(run["outcome"], run["way"], run["reached_mm"], run["length_mm"]) for run in runs] == [
        ("blocked", "from_port", 600, 820), ("blocked", "from_tip", 200, 820), ("blocked", "from_tip", 220, 820),
    ]  # fmt: skip
    again(hands, begun)
    hands.wait_for("The two runs meet: all 82 cm of the channel were looked at.")
    hands.wait_sent()
    assert at_the_desk(own_sink, begun) == "nothing_found"
    # Taken back by a new entry: it is not seen any more, here and at the desk.
    hands.page.evaluate(f"location.hash = '#/recorded?begun={begun}'")
    hands.wait_for("What was recorded", "h1")
    hands.tap_on(hands.page.locator("main").get_by_role("button", name=re.compile("nstrument channel")).last)
    hands.tap("Slip of the hand", ".hand")
    hands.tap("Take it back", ".hand")
    hands.wait_for("Choose what is to be corrected or taken back", ".hand")
    assert mark(hands, begun) == "could not look"
    hands.wait_sent()
    assert at_the_desk(own_sink, begun) == "could_not_look"


def again(hands: Hands, begun: str) -> None:
    """To the same channel once more."""
    hands.page.evaluate(f"location.hash = '#/channel?begun={begun}&part=ch_instrument'")
    hands.wait_for("Room in this channel", "h1")
    settled(hands.page)


def from_the_tip(hands: Hands, cm: int) -> None:
    for _ in range(cm // 10):
        hands.tap(re.compile(r"^\+10"), ".hand")
    for _ in range(cm % 10):
        hands.tap(re.compile(r"^\+1(?!0)"), ".hand")
    hands.tap(re.compile("^Could not go further"))
    hands.tap("A bend")
    hands.page.wait_for_function("() => location.hash.startsWith('#/route')")
    settled(hands.page)


def mark(hands: Hands, begun: str) -> str:
    """What the line says of the channel."""
    hands.page.evaluate(f"location.hash = '#/route?begun={begun}&part=ch_instrument'")
    settled(hands.page)
    cell = hands.page.get_by_role("button", name=re.compile("nstrument channel, ")).first
    name = cell.get_attribute("aria-label") or ""
    return name.split("channel, ", 1)[1]


def at_the_desk(sink: Sink, begun: str) -> str:
    route = sink.lead().get(f"/lead/inspections/{begun}")["route"]
    return str(next(stop["mark"] for stop in route if stop["id"] == "ch_instrument"))


def test_a_cleaning_test_over_its_limit_goes_back_to_cleaning(own_sink: Sink, screens: Path) -> None:
    """The meter's own limit, 200 RLU: Am J Infect Control 2014. Protein 6.4 ug/cm2: summary of ISO 15883-5:2021."""
    hands, begun = at_channel(own_sink, "bronchoscope", "ch_instrument")
    hands.page.evaluate(f"location.hash = '#/conclude?begun={begun}'")
    hands.page.locator(".look").get_by_role("button", name=re.compile("^Cleaning test")).scroll_into_view_if_needed()
    hands.tap(re.compile("^Cleaning test"), ".look")
    hands.wait_for("Cleaning test", "h1")
    hands.type("Value, RLU", "250")
    hands.wait_for("No limit known: nothing follows from it")
    hands.type("Highest value allowed, RLU", "200")
    hands.type("Meter or kit", "Meter 2")
    hands.wait_for("Over the limit: back to cleaning, then tested again")
    keep_picture(hands.page, screens / "cleaning-test.png")
    hands.tap("Save reading")
    hands.wait_for("ATP: 250 RLU, limit 200 RLU · over the limit")
    hands.tap("Protein", ".look")
    hands.type("Highest value allowed, µg/cm²", "")
    hands.type("Value, µg/cm²", "3,0")
    hands.wait_for("From the alert level on: acceptable, look into it", ".hand")
    assert "the facility's limit stands: 6.4 µg/cm²" in hands.text()
    hands.tap("Save reading")
    hands.wait_for("Protein: 3 µg/cm² · from the alert level on")
    assert bodies(hands, "reading.taken")[-2] == {
        "what": "atp", "result": "value", "value_thousandths": 250_000, "unit": "{RLU}", "limit_thousandths": 200_000,
        "meter": "Meter 2",
    }  # fmt: skip
    hands.tap("Back", ".bar")
    hands.wait_for("A value over its limit goes back to cleaning and is tested again")
    assert "ATP: 250 RLU, limit 200 RLU, over the limit" in hands.text()
    assert "Clean again" in hands.text()
    keep_picture(hands.page, screens / "cleaning-decision.png")
    hands.wait_sent()
    page = own_sink.lead().get(f"/lead/inspections/{begun}")
    assert page["suggested"]["first"] == "clean"
    assert {row["row"] for row in page["suggested"]["rows"]} >= {"reading_action", "reading_alert"}
    assert {row["verdict"] for row in own_sink.log()} == {"counted"}


def test_a_weak_flow_is_could_not_look_and_goes_back_to_cleaning(own_sink: Sink, screens: Path) -> None:
    hands, begun = at_channel(own_sink, "duodenoscope", "ch_air")
    keep_picture(hands.page, screens / "channel-flow.png")
    hands.answer("Weak")
    run = bodies(hands, "channel.looked")[-1]
    assert run == {"channel": "ch_air", "outcome": "not_possible", "flow": "weak"}
    hands.page.evaluate(f"location.hash = '#/conclude?begun={begun}'")
    hands.wait_for("A channel whose flow is weak or blocked goes back to cleaning")
    assert "1 could not look" in hands.text()


def test_a_weak_function_has_words_and_a_photo_and_waits_for_the_lead(own_sink: Sink, screens: Path) -> None:
    hands, begun = at_channel(own_sink, "bronchoscope", "ch_instrument", "Acceptance")
    hands.page.evaluate(f"location.hash = '#/functions?begun={begun}'")
    hands.wait_screen("Functions to try")
    rows = hands.page.locator(".checks li")
    hands.tap_on(rows.filter(has_text="Angulation").get_by_role("button", name=re.compile("^Weak")))
    hands.wait_for("About: Angulation")
    hands.tap("Note", ".hand")
    hands.type("Note", "170 up instead of 180")
    hands.tap("Save the note")
    hands.wait_for("Angulation: note")
    hands.tap_on(rows.filter(has_text="Light").get_by_role("button", name=re.compile("^Does not work")))
    hands.wait_for("About: Light")
    hands.tap("Photo", ".hand")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.tap("Keep 1 photo")
    hands.wait_screen("Functions to try")
    hands.tap_on(rows.filter(has_text="Suction").get_by_role("button", name=re.compile("^Not tried")))
    hands.tap("No time", ".hand")
    hands.tap_on(rows.filter(has_text="Light").get_by_role("button", name=re.compile("^Works")))
    settled(hands.page)
    keep_picture(hands.page, screens / "functions-answered.png")
    hands.page.evaluate(f"location.hash = '#/conclude?begun={begun}'")
    hands.wait_for("A function that is weak waits for the lead")
    assert "a function nobody tried waits for the lead" in hands.text().lower()
    assert "a function that does not work" not in hands.text().lower(), "the newest answer of a function counts"
    hands.wait_sent()
    page = own_sink.lead().get(f"/lead/inspections/{begun}")
    readings = {row["what"]: row for row in page["readings"]}
    assert readings["function_angulation"]["note"] == "170 up instead of 180"
    assert readings["function_light"]["result"] == "works" and readings["function_suction"]["reason"] == "no_time"
    assert [photo["shows"] for photo in page["photos"]] == ["serial", "other"]
