"""What people at the sink expect and no other file shows: told while typing, reasons as buttons, no spinner."""

from __future__ import annotations

import pytest
from browser.conftest import controlled
from browser.sink import Hands, Sink, begun_at
from browser.sink_house import C_14

pytestmark = pytest.mark.sink

WAITING = "progress, [role=progressbar], [aria-busy=true], [class*=spin], [class*=loading], [class*=skeleton]"
WATCH = f"""() => {{
  window.turned = [];
  const look = () => {{
    for (const found of document.querySelectorAll({WAITING!r})) window.turned.push(found.outerHTML.slice(0, 80));
  }};
  new MutationObserver(look).observe(document, {{ subtree: true, childList: true, attributes: true }});
  look();
}}"""


def test_a_wrong_check_digit_is_told_while_it_is_typed(own_sink: Sink) -> None:
    """GS1 General Specifications 7.9, modulo 10, weights 3 and 1: the number of the FDA's sample label ends in 6."""
    hands = own_sink.tablet(camera="none")
    hands.tap("Type the number")
    field = hands.page.locator("#typed")
    field.fill("(01)5102222223333")
    assert "check digit" not in hands.text()
    field.fill("(01)51022222233337(21)1234")
    hands.wait_for("The check digit is 7; for this number it would be 6.")
    field.fill("(01)51022222233336(21)1234")
    hands.page.get_by_text("The check digit is 7").wait_for(state="detached")
    assert hands.page.url.endswith("#/type"), "told without Enter, on the same screen"


def test_why_a_part_could_not_be_looked_at_is_one_button(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.taps.clear()
    hands.could_not_look("Covered")
    assert hands.taps == ["Could not look", "Covered"]
    last = hands.entries()[-1]
    assert (last["kind"], last["body"]["mark"], last["body"]["reason"]) == ("part.marked", "could_not_look", "covered")


def taps_of_a_walk(hands: Hands) -> None:
    """Marks, a look at the status and back, the person and back: each shows its screen while nothing is answered."""
    hands.nothing_found()
    hands.nothing_found()
    hands.tap_on(hands.page.locator(".bar button.corner").first)
    hands.wait_for("Not sent yet")
    hands.tap("Back", ".bar")
    hands.nothing_found()
    hands.tap_on(hands.page.locator(".bar button.corner").last)
    hands.wait_for("Who is here?", "h1")


def test_no_tap_waits_for_a_server_that_never_answers(own_sink: Sink) -> None:
    """Every request hangs for ever: what a tap leads to comes all the same, and nothing that turns stands between."""
    hands = own_sink.tablet()
    controlled(hands.page)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    asked: list[str] = []
    hands.page.context.route(own_sink.server.url + "/**", lambda route: asked.append(route.request.url))
    hands.page.evaluate(WATCH)
    taps_of_a_walk(hands)
    assert asked, "the server was asked, and never answered"
    assert hands.page.evaluate("window.turned") == []
    assert len(hands.entries()) == 5
    hands.page.evaluate("() => { document.body.append(document.createElement('progress')); }")
    hands.page.evaluate("() => new Promise(requestAnimationFrame)")
    assert len(hands.page.evaluate("window.turned")) > 0, "something that turns would have been seen"
    hands.page.context.unroute(own_sink.server.url + "/**")
