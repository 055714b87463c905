"""Holds at the lead's desk in a real Chromium: decided by taps with a reason; what nobody may let go says so.

Tablets are hand-made and speak HTTP; the plate whose code differs is written by zint, independent of every reader.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from browser.conftest import Guard, holds, launch, settled
from browser.eyes import keep_picture
from browser.plates import plate, udi
from browser.test_desk import enrol_desk
from live_server import LiveServer
from playwright.sync_api import Page, Playwright, expect
from quick_server import QuickServer
from sink_tablet import SinkTablet
from story import C14, photo, route

pytestmark = [pytest.mark.repair, pytest.mark.shift]

REASON = "seen at the sink, edge is smooth"


@dataclass
class Desk:
    """A server, a hand-made tablet with a technician, and the desk's browser with the lead at it."""

    server: LiveServer
    sink: SinkTablet
    page: Page
    folder: Path

    def go(self, way: str = "") -> Page:
        self.page.evaluate("(hash) => { location.hash = hash; }", f"#/desk{way}")
        settled(self.page)
        return self.page

    def inspected(self, part: str, finding: str | None, shown: str | None = None) -> str:
        """An inspection that ends in a hold at once; with a photo of the finding that shows these words."""
        chain = self.sink.chain
        begun = chain.begin("after_cleaning", shift=next(iter(self.sink.lead("today")["shifts"])))
        chain.serial()
        if finding is None:
            chain.mark(part)
        else:
            chain.find(part, finding, [self.sink.photo(shown, "finding")] if shown else [], grade="present")
        parts, channels = route("after_cleaning")
        left = [{"part": each, "reason": "held_at_once"} for each in [*parts, *channels] if each != part]
        chain.conclude("nothing", "hold", left=left, tag_on=True)
        assert {row["verdict"] for row in self.sink.send()} == {"counted"}
        self.sink.put_photos()
        return begun


@pytest.fixture(scope="module")
def desk(playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """One for all: each test puts a hold of its own on the scope and lifts it, or reads one of its own."""
    tmp_path, guard = tmp_path_factory.mktemp("holds"), Guard()
    server = QuickServer(tmp_path / "record").start()
    sink = SinkTablet(server.url, "Sink 2")
    try:
        sink.first(server.said("First code").split()[2])
        sink.chain.person = sink.add_person()
        described = {"scope_kind": "colonoscope", "serial": "2741906", "di": "51022222233336", "tag": "C-14"}
        assert sink.command("scope.described", described, {"scope": C14}).status_code == 201
        with launch(playwright, chromium, tmp_path / "desk") as context:
            guard.watch(context)
            guard.allow("status of 409")
            page = context.pages[0]
            enrol_desk(page, server, sink.invite("Desk"))
            yield Desk(server, sink, page, tmp_path)
            assert guard.unexpected() == []
    finally:
        sink.close()
        server.close()


def decide(page: Page, first: str, goes: str, reason: str) -> None:
    page.get_by_role("radio", name=first, exact=True).click()
    page.get_by_role("radio", name=goes, exact=True).click()
    page.get_by_label("Why").fill(reason)


def test_a_hold_is_decided_from_the_list_by_taps_with_a_reason(desk: Desk, screens: Path) -> None:
    desk.go("/scopes")  # today's list is opened below, so that it was read after all this
    desk.inspected("tube_2", "peeling_coat", "last month")
    lifted = {"hold": desk.sink.lead("today")["holds"][-1]["hold"], "goes": "on", "first": "nothing", "reason": "small"}
    assert desk.sink.command("hold.decided", lifted, {"scope": C14}).status_code == 201
    desk.inspected("tube_2", "peeling_coat", "today")
    page = desk.go()
    page.get_by_role("button", name="Colonoscope C-14").filter(has_text="by its decision").click()
    expect(page.get_by_role("heading", name="Colonoscope C-14 waits for a lead's decision")).to_be_visible()
    # Decided from photos: that of this inspection and that of the one before, of the same part, stand side by side.
    page.get_by_role("button", name="Then and now").click()
    both = page.locator("[data-then] [data-beside] img")
    expect(both).to_have_count(2)
    holds(page, "[...document.querySelectorAll('[data-then] [data-beside] img')].every((at) => at.naturalWidth > 0)")
    sides = [box for box in (both.nth(at).bounding_box() for at in (0, 1)) if box is not None]
    assert abs(sides[0]["y"] - sides[1]["y"]) < 1 and sides[0]["x"] != sides[1]["x"], "beside each other"
    keep_picture(page, screens / "desk-hold-then-now.png")
    page.get_by_role("button", name="Then and now").click()
    # 21 CFR 803.10: the dates themselves are held in tests/backend/test_duties.py.
    expect(page.get_by_text(re.compile(r"10 work days would run .* to [A-Z][a-z]{2}, .*21 CFR 803"))).to_be_visible()
    best = page.locator(".hand .btn.best")
    assert best.get_attribute("aria-disabled") == "true"
    decide(page, "Clean again", "On to disinfection", "")
    assert "reason" in best.inner_text()
    page.get_by_label("Why").fill(REASON)
    best.click()
    expect(page.get_by_role("heading", name="Colonoscope C-14 is no longer on hold for this")).to_be_visible()
    expect(page.get_by_text(REASON)).to_be_visible()
    expect(page.get_by_role("heading", name="1 decision so far")).to_be_visible()
    desk.go()
    expect(page.get_by_text("on hold", exact=False).first).not_to_be_visible()
    assert desk.sink.lead("today")["holds"] == []


def test_a_call_is_confirmed_others_are_asked_and_work_is_asked_for_by_taps(desk: Desk) -> None:
    desk.inspected("tube_2", "peeling_coat")
    sink = desk.sink
    of = sink.lead("today")["holds"][-1]["hold"]
    call = {"hold": of, "goes": "on", "first": "clean", "words": "the same mark as last month"}
    phone = {"who": sink.lead("people")["people"][0]["person"], "at": "2026-03-02T07:58:00.000+01:00"}
    sink.chain.write("hold.phoned", call | {"phone": phone}, inspection=False)
    assert sink.send()[-1]["verdict"] == "counted"
    page = desk.go(f"/hold?hold={of}")
    expect(page.locator("[data-word='phoned']")).to_contain_text("the same mark as last month")

    page.get_by_role("button", name="Bring it before others").click()
    page.get_by_role("button", name="Risk management").click()
    page.get_by_label("What is asked, or what they must know").fill("Used after it?")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("[data-word='escalated']")).to_contain_text("Risk management did not answer yet")
    with page.expect_popup() as paper:
        page.get_by_role("link", name="Summary for print").click()
    expect(paper.value.locator("h1")).to_contain_text("Summary of a hold: Colonoscope C-14")
    expect(paper.value.get_by_text("Used after it?").first).to_be_visible()
    paper.value.close()
    page.get_by_role("button", name="Write down an answer").click()
    page.get_by_label("Who answered").fill("risk management, on call")
    page.get_by_label("What they said").fill("no case since")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("[data-word='advised']")).to_contain_text("no case since")
    expect(page.get_by_text("did not answer yet")).to_have_count(0)

    page.get_by_role("button", name="Ask somebody to do it themself").click()
    page.get_by_label("Why, and what to look for").fill("in better light")
    page.get_by_role("button", name="Ask for it", exact=True).click()
    asked = page.locator("[data-asked='look_again']")
    expect(asked).to_contain_text("whoever comes to it first to look again: “in better light”")
    asked.get_by_role("button", name="Ask for it no more").click()
    expect(asked).to_contain_text("asks for it no more")

    page.get_by_role("button", name="Confirm what was said by phone").click()
    expect(page.get_by_role("radio", name="Clean again", exact=True)).to_have_attribute("aria-checked", "true")
    page.locator(".hand .btn.best").click()
    expect(page.get_by_role("heading", name="Colonoscope C-14 is no longer on hold for this")).to_be_visible()
    assert sink.lead(f"holds/{of}")["by_phone"] == []


def test_what_nobody_may_let_go_names_its_row_and_goes_on_after_a_newer_look(desk: Desk) -> None:
    desk.inspected("lens", "lens_crack")
    of = desk.sink.lead("today")["holds"][-1]["hold"]
    page = desk.go(f"/hold?hold={of}")
    why = page.get_by_role("region", name="What nobody may decide otherwise")
    expect(why).to_contain_text("Damage that takes a scope out of use goes to repair")
    decide(page, "Nothing", "On to disinfection", REASON)
    best = page.locator(".hand .btn.best")
    assert best.get_attribute("aria-disabled") == "true"
    assert "nobody sends it on before a newer look or test" in best.inner_text()
    page.get_by_role("radio", name="Repair", exact=True).click()
    best.click()
    expect(page.get_by_role("heading", name="1 decision so far")).to_be_visible()
    expect(page.get_by_role("heading", name="Colonoscope C-14 waits for a lead's decision")).to_be_visible()

    desk.inspected("lens", None)
    expect(why).not_to_be_visible()
    decide(page, "Nothing", "On to disinfection", "looked at again in the repair shop's light")
    best.click()
    expect(page.get_by_role("heading", name="2 decisions so far")).to_be_visible()
    expect(page.get_by_role("heading", name="Colonoscope C-14 is no longer on hold for this")).to_be_visible()


def test_a_number_the_server_read_in_the_serial_photo_is_said_with_its_hold(desk: Desk) -> None:
    data = io.BytesIO()
    plate("2741960", desk.folder, udi("2741960")).convert("RGB").save(data, "JPEG", quality=92)
    named = photo("", "serial") | {
        "sha256": hashlib.sha256(data.getvalue()).hexdigest(), "bytes": len(data.getvalue()),
        "width": 1280, "height": 720,
    }  # fmt: skip
    chain = desk.sink.chain
    begun = chain.begin("after_cleaning", shift=next(iter(desk.sink.lead("today")["shifts"])))
    chain.write("serial.photographed", {"how": "last_four", "last_four": "1906", "agrees": "yes"}, [named])
    desk.sink.send()
    page = desk.go(f"/inspection?root={begun}")
    assert desk.sink.put(str(named["sha256"]), data.getvalue()).status_code == 201
    expect(page.get_by_text("another number than that of the scope")).to_be_visible()
    identity = page.get_by_role("region", name="Which scope")
    expect(identity).to_contain_text("01510222222333362127419")
    expect(identity).to_contain_text("the server")
    expect(page.get_by_text("The serial number in the photo differs from the scope that was scanned")).to_be_visible()
    page.get_by_role("button", name="the serial number differs").first.click()
    expect(page.get_by_role("region", name="What nobody may decide otherwise")).to_be_visible()
