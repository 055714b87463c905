"""Undo for ten seconds, then a correction with its reason: new entries both, the first one stays in the record.

The behaviour is the product's own; that nothing recorded is ever overwritten is what 21 CFR 11.10(e) asks of records.
"""

from __future__ import annotations

import re

import pytest
from browser.conftest import settled
from browser.sink import PIN, Hands, Sink, begun_at, conclude
from browser.sink_house import C_14

pytestmark = pytest.mark.sink


def go(hands: Hands, place: str) -> None:
    hands.page.evaluate("(hash) => { location.hash = hash; }", f"#/{place}")
    settled(hands.page)


def kinds(hands: Hands) -> list[str]:
    return [str(entry["kind"]) for entry in hands.entries()]


def test_a_mark_is_taken_back_in_one_tap_for_ten_seconds_and_not_after(own_sink: Sink) -> None:
    hands = own_sink.tablet(clock=True)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    hands.tap(re.compile("^Undo"), ".hand")
    hands.wait_for("Distal tip", "h1")
    assert kinds(hands)[-2:] == ["part.marked", "entry.withdrawn"]
    assert hands.entries()[-1]["body"]["reason"] == "undo"
    hands.nothing_found()
    assert hands.button(re.compile("^Undo"), ".hand").count() == 1
    hands.page.clock.run_for(11_000)
    settled(hands.page)
    assert hands.button(re.compile("^Undo"), ".hand").count() == 0
    assert kinds(hands)[-1] == "part.marked"


def test_what_was_marked_is_corrected_later_with_a_reason_and_the_lead_sees_both(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    go(hands, f"route?begun={begun}&part=distal_tip")
    hands.tap("Correct or take back", "main")
    hands.wait_for("What was recorded", "h1")
    correct = hands.button(re.compile("^Correct it"), ".hand")
    assert "nothing is changed yet" in correct.inner_text()
    hands.tap("Could not look", ".hand")
    hands.tap("Too wet", ".hand")
    assert "a reason first" in correct.inner_text()
    hands.tap("Looked again", ".hand")
    hands.tap("Correct it", ".hand")
    hands.wait_for("Distal tip: could not look, too wet", "main")
    marked, corrected = hands.entries()[-2:]
    row = [row for row in hands.stored("entries") if row["kind"] == "part.marked"][-1]
    assert corrected["body"] == {
        "entry": row["hash"], "builds_on": row["hash"], "reason": "looked_again",
        "body": {"mark": "could_not_look", "parts": ["distal_tip"], "reason": "too_wet"},
    }  # fmt: skip
    assert marked["body"]["mark"] == "nothing_found", "what stood before stays"
    hands.wait_sent()
    page = own_sink.lead().get(f"/lead/inspections/{begun}")
    assert [stop["mark"] for stop in page["route"] if stop["id"] == "distal_tip"] == ["could_not_look"]
    (told,) = page["corrections"]
    assert (told["kind"], told["person"], told["reason"]) == ("part.marked", "ila.venn", "looked_again")
    assert [before["mark"] for before in told["before"]] == ["nothing_found"]


def test_a_mark_is_taken_back_later_with_a_reason(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    go(hands, "kept")
    hands.tap_on(
        hands.page.locator("main li", has_text="mark").get_by_role("button", name="Correct or take back").first
    )
    hands.wait_for("What was recorded", "h1")
    back = hands.button(re.compile("^Take it back"), ".hand")
    hands.tap(re.compile("^Serial photo"), "main")
    hands.tap("Slip of the hand", ".hand")
    assert back.get_attribute("aria-disabled") == "true", "the chain rules refuse it while a mark rests on it"
    assert "the rest of this inspection rests on this photo" in back.inner_text()
    hands.tap(re.compile("^Distal tip"), "main")
    assert "a reason first" in back.inner_text()
    hands.tap("Wrong part", ".hand")
    hands.tap("Take it back", ".hand")
    hands.wait_for("Choose what is to be corrected or taken back", ".hand")
    assert [row.split(chr(10))[0] for row in hands.page.locator("main li").all_inner_texts()] == ["Serial photo"]
    assert hands.entries()[-1]["body"]["reason"] == "wrong_part"
    hands.wait_sent()
    page = own_sink.lead().get(f"/lead/inspections/{begun}")
    assert [stop["mark"] for stop in page["route"] if stop["id"] == "distal_tip"] == ["not_looked"]
    assert [(row["kind"], row["reason"]) for row in page["taken_back"]] == [("part.marked", "wrong_part")]


def test_somebody_else_s_entry_is_not_corrected_here_and_the_work_goes_on_with_the_next_person(own_sink: Sink) -> None:
    """A half-done inspection is handed to a colleague at the same tablet: same spot, own name from there on."""
    hands = own_sink.tablet()
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    hands.tap_on(hands.page.locator(".bar button.corner").last)
    hands.tap("Next person")
    hands.wait_for("Who is here?", "h1")
    sign_in_over(hands, "Rin Oake")
    go(hands, f"recorded?begun={begun}")
    hands.tap(re.compile("^Distal tip: looked, nothing found"), "main")
    hands.tap("Slip of the hand", ".hand")
    for label in ("^Correct it", "^Take it back"):
        button = hands.button(re.compile(label), ".hand")
        assert button.get_attribute("aria-disabled") == "true"
        assert "somebody else wrote this" in button.inner_text()
    go(hands, f"route?begun={begun}")
    hands.wait_for("End cover", "h1")
    hands.nothing_found()
    hands.finish_route()
    conclude(hands)
    people = [entry["person"] for entry in hands.entries()]
    assert people[:3] == ["ila.venn"] * 3 and set(people[3:]) == {"rin.oake"}
    hands.wait_sent()
    page = own_sink.lead().get(f"/lead/inspections/{begun}")
    assert page["state"] == "concluded"
    assert {person["id"] for person in page["people"]} == {"ila.venn", "rin.oake"}


def sign_in_over(hands: Hands, person: str) -> None:
    """The next person, by name and PIN, over one who is signed in."""
    tile = hands.page.locator("main").get_by_role("button", name=re.compile(person))
    if tile.count() == 0:
        hands.tap(re.compile("^Others"))
    tile.wait_for()
    hands.tap_on(tile)
    settled(hands.page)
    if hands.page.locator(".pad").count():
        hands.wait_for(f"PIN for {person}")
        hands.digits(PIN)
        settled(hands.page)
