"""What people and labels say is text: tags and scripts in every field are shown as written, and do nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from browser.conftest import settled
from browser.sink import Sink
from browser.sink_desk import open_desk
from browser.sink_house import C_14
from playwright.sync_api import Page, expect
from sink_tablet import SinkTablet

pytestmark = pytest.mark.sink

HTML = "<img src=x onerror=window.harmed=1><script>window.harmed=1</script>"
SCOPE = f"mms:Alder|CX{HTML.replace('|', '')}|S{HTML}"


def hostile(sink: Sink, shift: str) -> str:
    """A hand-made tablet writes HTML into every text field it has; the hash of its inspection."""
    tablet = SinkTablet(sink.server.url, "Sink 4").enrol(sink.house.codes["Sink 4"])
    chain = tablet.chain
    chain.person, chain.scope = "ila.venn", SCOPE
    chain.at = datetime.now(UTC) - timedelta(minutes=30)
    registered = {"scope_kind": "colonoscope", "serial": HTML[:60], "maker": HTML[:60], "model": HTML[:60], "tag": HTML}
    chain.write("scope.registered", registered | {"codes": [HTML]}, inspection=False)
    begun = chain.begin("acceptance", shift=shift, identified={"by": "typed", "text": HTML, "symbology": HTML})
    body = {"how": "last_four", "agrees": "unknown", "code": HTML, "last_four": "1111", "where": HTML}
    chain.write("serial.photographed", body, [tablet.photo("serial", "serial")])
    chain.find("lens", "scratch", [tablet.photo("lens", "finding")], note=HTML)
    chain.mark("light_guides", tool=HTML)
    chain.mark("nozzle", mark="could_not_look", reason="covered")
    chain.write("reading.taken", {"what": "leak_test", "result": "held", "unit": HTML, "meter": HTML, "lot": HTML})
    chain.write("hold.placed", {"reason": "doubt", "tag_on": True, "note": HTML})
    chain.write("scope.received", {"place": HTML}, inspection=False)
    said = [each["verdict"] for each in tablet.send()]
    assert said == ["counted"] * len(said), said
    tablet.put_photos()
    tablet.close()
    return begun


def harmless(page: Page) -> None:
    """Nothing of it became a part of the page: no picture, no script, nothing ran."""
    settled(page)
    assert page.locator("img[src=x], img[onerror], main script, .app script").count() == 0
    assert page.evaluate("window.harmed") is None


def test_tags_in_every_text_field_are_text_on_the_desk_and_at_the_sink(own_sink: Sink) -> None:
    sink = own_sink
    desk = open_desk(sink)
    root = hostile(sink, next(iter(desk.told("today")["shifts"])))
    page = desk.go(f"/inspection?root={root}")
    main = page.get_by_role("main")
    expect(main).to_contain_text(HTML)
    assert main.inner_text().count("<script>") >= 5, "the note, the meter, the place, the tag ... are there as written"
    harmless(page)
    page.get_by_role("button", name="Every entry").click()
    harmless(page)
    page = desk.go()
    expect(page.locator(f'[data-root="{root}"]')).to_contain_text("<script>")
    harmless(page)

    hands = sink.tablet("Sink 2", "Ila Venn")
    hands.wait_for("Begun on another tablet")
    assert "<script>" in hands.text()
    harmless(hands.page)
    hands.tap("Type the number")
    hands.page.locator("#typed").fill(HTML[:20])
    hands.wait_for("<script>")
    harmless(hands.page)
    hands.page.locator("#typed").fill(C_14.serial)
    hands.wait_for("C-14")
