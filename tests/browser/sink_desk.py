"""The lead's desk in a browser of its own, at the server of a sink."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from browser.conftest import settled
from browser.sink import Hands, Sink, enrol, sign_in
from playwright.sync_api import Page, expect

LEAD = "Moira Keld"


@dataclass
class Desk:
    """A lead's screens, reached by their addresses; the page is not loaded anew."""

    page: Page
    url: str

    def go(self, way: str = "") -> Page:
        """A screen of the desk: "", "/inspection?root=...", "/aside", "/stations"."""
        self.page.evaluate("(hash) => { location.hash = hash; }", f"#/desk{way}")
        settled(self.page)
        return self.page

    def told(self, path: str) -> dict[str, Any]:
        """What the server answers this browser's lead: `inspections/{root}`, `aside`, `stations`."""
        answer = self.page.context.request.get(f"{self.url}/lead/{path}", headers={"X-Loupebook": "1"})
        assert answer.ok, answer.text()
        return dict(answer.json())

    def withdraw(self, station: str) -> None:
        """A tablet is withdrawn, with its reason."""
        page = self.go("/stations")
        page.get_by_role("button", name=re.compile(f"^{station}")).click()
        page.get_by_label("Why is it withdrawn?").fill("left on the trolley")
        page.get_by_role("button", name=f"Withdraw {station}").click()
        expect(page.get_by_role("button", name=re.compile(f"^{station}.*withdrawn"))).to_be_visible()

    def settle(self, words: str, outcome: str, why: str, alike: bool = False) -> None:
        """One entry that was put aside, the first whose row says `words`, or all alike: settled with a reason."""
        page = self.go("/aside")
        rows = page.get_by_role("button", name=re.compile(words))
        before = rows.count()
        rows.first.click()
        page.get_by_role("radio", name=outcome).click()
        page.get_by_label("Why, in words").fill(why)
        page.get_by_role("button", name=re.compile("^Settle all" if alike else "^Settle$|^Settle(?! all)")).click()
        expect(rows).not_to_have_count(before)
        settled(page)


def open_desk(sink: Sink, name: str = "Desk", lead: str = LEAD) -> Desk:
    """A new browser, enrolled as this station, with the lead signed in at the desk."""
    hands = sink.open(name)
    enrol(hands, sink.house.codes[name])
    sign_in(hands, lead)
    hands.tap_on(hands.page.locator(".bar button.corner").last)
    hands.tap("The lead's desk")
    expect(hands.page.get_by_role("navigation", name="Parts of the desk")).to_be_visible()
    settled(hands.page)
    return Desk(hands.page, sink.server.url)


def hear(hands: Hands) -> None:
    """The network comes back, as a browser says it: what changed elsewhere is fetched and what waits is sent."""
    with hands.page.expect_response(re.compile(r"/cards\?")):
        hands.page.evaluate("dispatchEvent(new Event('online'))")
    settled(hands.page)
