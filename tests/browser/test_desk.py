"""The lead's desk in a real Chromium against a real server; the tablets are hand-made and speak HTTP.

Times are taken between the moment the tablet has its receipt and the moment the row stands on the desk's screen,
both by this machine's clock. The promise of 2 s is the product's own.
"""

from __future__ import annotations

import re
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.parse import quote

import pytest
from browser.conftest import Guard, launch, settled
from browser.eyes import PHONE, Eyes, drawn_by, frameless, keep_picture
from browser.look_desk import PIECES, past_every_screen
from door_world import LEAD_PIN
from live_server import LiveServer
from playwright.sync_api import BrowserContext, Locator, Page, Playwright, expect
from quick_server import QuickServer
from sink_tablet import LEAD, SinkTablet
from story import C14, route

pytestmark = pytest.mark.sink

SIZES = {"landscape": {"width": 1180, "height": 820}, "portrait": {"width": 820, "height": 1180}}
PROMISE_MS = 2_000
C11 = "udi:51022222233336/2741533"

SEEN_AT = """(selector) => {
  window.stays = true;
  window.seenAt = undefined;
  const look = () => {
    if (document.querySelector(selector) === null) return false;
    window.seenAt = Date.now();
    return true;
  };
  if (!look()) {
    const watch = new MutationObserver(() => { if (look()) watch.disconnect(); });
    watch.observe(document.body, { subtree: true, childList: true });
  }
}"""
"""Notes when something stands in the page, and leaves a mark there that a reload would remove."""


@dataclass
class House:
    """A server, two hand-made tablets, and the desk's browser, enrolled and signed in through its own screens."""

    server: LiveServer
    sink: SinkTablet
    runner: SinkTablet
    desk: Page
    shift: str
    technician: str
    inspections: dict[str, str] = field(default_factory=dict)
    then: str = ""
    """The photo of before of the finding that is worse."""

    def go(self, way: str = "") -> Page:
        """A desk screen by its address, as a bookmark does it; the page is not loaded anew."""
        self.desk.evaluate("(hash) => { location.hash = hash; }", f"#/desk{way}")
        settled(self.desk)
        return self.desk


def give_pin(page: Page, pin: str = LEAD_PIN) -> None:
    """Types a PIN on the pad and enters it."""
    pad = page.get_by_role("group", name="PIN for")
    for digit in pin:
        pad.get_by_role("button", name=digit, exact=True).click()
    pad.get_by_role("button", name="Enter").click()
    settled(page)


def enrol_desk(page: Page, server: LiveServer, code: str, lead: str = LEAD, pin: str = LEAD_PIN) -> None:
    """A new browser becomes a station and its lead opens the desk, by what a person taps."""
    page.goto(server.url + "/")
    settled(page)
    page.get_by_label("One-time code").fill(code)
    page.get_by_role("button", name="Enrol").click()
    page.get_by_role("button", name=lead).first.click()
    give_pin(page, pin)
    page.get_by_role("button", name=f"{lead}, lead").click()
    page.get_by_role("button", name="The lead's desk").click()
    expect(page.get_by_role("navigation", name="Parts of the desk")).to_be_visible()
    settled(page)


def before(sink: SinkTablet) -> str:
    """Two days ago the tube of C-14 was photographed; the photo."""
    chain = sink.chain
    chain.at, chain.scope = datetime.now(UTC) - timedelta(days=2), C14
    chain.begin("after_cleaning", shift=f"Decontamination/{chain.at:%Y-%m-%d}/day")
    chain.write("serial.photographed", {"how": "code", "agrees": "yes"}, [sink.photo("SN 2741906, before", "serial")])
    photo = sink.photo("tube, before", tone=(46, 50, 52))
    chain.write("photo.added", {"part": "tube_2"}, [photo])
    chain.write("inspection.abandoned", {"reason": "interrupted"})
    return str(photo["sha256"])


TAKEN = {"way": "live", "told": ["not_sharp", "glare"], "sharp_permille": 430, "of": 7, "tool": "B-3", "camera": "rear"}
"""What a tablet says of a photo's taking, besides when."""


def whole(sink: SinkTablet, shift: str, then: str) -> str:
    """C-14 after cleaning: findings with photos and a ring, a leak test, a correction, a mark taken back, a laxer
    decision than the policy asks for; `then` is the photo of before that one of them was held against."""
    chain = sink.chain
    chain.at = datetime.now(UTC) - timedelta(minutes=55)
    chain.scope = C14
    begun = chain.begin("after_cleaning", shift=shift)
    body = {"how": "code", "agrees": "yes", "where": "under the body"}
    chain.write("serial.photographed", body, [sink.photo("SN 2741906", "serial", (90, 98, 104))])
    parts, channels = route("after_cleaning")
    tube = [part for part in parts if part.startswith("tube_")]
    left = ("lens", "band_tip", "tube_2", "contacts", "stiffness_ring")
    chain.mark(*tube[:1], mark="nothing_found")
    for part in parts:
        if part not in left and part != tube[0]:
            chain.mark(part)
            chain.at -= timedelta(seconds=40)
    chain.mark("contacts", mark="could_not_look", reason="cap_on")
    chain.withdraw(chain.mark("stiffness_ring"))
    chip = sink.photo("band, chipped", "finding", (70, 60, 66))
    ring = [{"photo": chip["sha256"], "x": 5200, "y": 4800, "r": 1400}]
    found = chain.find(
        "band_tip", "band_chip", [chip], grade="minor", rings=ring, place={"mm": 10, "end": "tip", "known": "read_off"}
    )
    chain.correct(found, {
        "part": "band_tip", "finding": "band_chip", "grade": "moderate", "since": "new", "rings": ring,
        "place": {"mm": 12, "end": "tip", "known": "read_off"}, "note": "edge lifts <b>when pressed</b>",
    })  # fmt: skip
    peel = sink.photo("tube, 62 cm", "finding", (40, 44, 47))
    at = (chain.at - timedelta(seconds=20)).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    beside = {"before": then, "now": peel["sha256"], "size": "large", "laid": "by_itself"}
    chain.find(
        "tube_2", "peeling_coat", [peel | {"taken": TAKEN | {"at": at}}], since="worse", compared=then, beside=beside,
        place={"mm": 620, "end": "tip", "known": "estimated"},
    )  # fmt: skip
    chain.find("lens", "lens_crack", [sink.photo("lens", "finding")], grade="present")
    chain.write(
        "reading.taken",
        {"what": "leak_test", "result": "held", "steps": ["valves_off", "vented"], "pressure_pa": 24000, "held_s": 60},
    )
    run = {
        "channel": "ch_instrument",
        "outcome": "blocked",
        "way": "from_port",
        "reached_mm": 840,
        "borescope": "B-3",
        "known": "read_off",
    }
    chain.write("channel.looked", run)
    for channel in channels[1:]:
        chain.mark(channel, mark="could_not_look", reason="no_tool")
    counts = {"not_looked": 1, "nothing_found": 23, "finding": 3, "could_not_look": 7, "not_due": 0, "none_here": 0}
    chain.write("inspection.concluded", {
        "first": "nothing", "goes": "hold", "suggested_first": "nothing", "suggested_goes": "repair",
        "rows": ["stop_damage"],
        "counts": counts, "left": [{"part": "stiffness_ring", "reason": "interrupted"}], "tag_on": True,
    })  # fmt: skip
    return begun


def small(sink: SinkTablet, shift: str, scope: str = C11) -> str:
    """Five parts before use, nothing found, concluded."""
    sink.chain.scope = scope
    sink.chain.at = datetime.now(UTC) - timedelta(minutes=12)
    begun = sink.chain.begin("before_use", shift=shift)
    sink.chain.write(
        "serial.photographed", {"how": "code", "agrees": "yes"}, [sink.photo(f"serial {begun[:6]}", "serial")]
    )
    for part in ("distal_tip", "lens", "bending_cover", "control_body", "valves"):
        sink.chain.mark(part)
    sink.chain.conclude()
    return begun


@pytest.fixture(scope="module")
def house(playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    folder = tmp_path_factory.mktemp("desk")
    server = QuickServer(folder / "record").start()
    opened: list[BrowserContext] = []
    tablets: list[SinkTablet] = []
    watch = Guard()
    try:
        sink = SinkTablet(server.url, "Sink 2")
        tablets.append(sink)
        sink.first(server.said("First code").split()[2])
        technician = sink.add_person()
        sink.chain.person = technician
        runner = SinkTablet(server.url, "Sink 3").enrol(sink.invite("Sink 3"))
        tablets.append(runner)
        runner.chain.person = sink.add_person("Tobin Sarr", ["runner"], "504837")
        described = {
            "scope_kind": "colonoscope",
            "serial": "2741906",
            "di": "51022222233336",
            "tag": "C-14",
            "maker": "Alder",
            "model": "C2",
        }
        assert sink.command("scope.described", described, {"scope": C14}).status_code == 201
        assert (
            sink.command(
                "scope.described", described | {"serial": "2741533", "tag": "C-11"}, {"scope": C11}
            ).status_code
            == 201
        )
        opened.append(launch(playwright, chromium, folder / "desk"))
        watch.watch(opened[0])
        page = opened[0].pages[0]
        enrol_desk(page, server, sink.invite("Desk"))
        shift = next(iter(sink.lead("today")["shifts"]))
        one = House(server, sink, runner, page, shift, technician)
        one.then = before(sink)
        one.inspections["whole"] = whole(sink, shift, one.then)
        assert [each["verdict"] for each in sink.send() if each["verdict"] != "counted"] == []
        sink.put_photos()
        one.inspections["small"] = small(sink, shift)
        sink.send()
        yield one
        on_purpose = ("status of 401", "status of 422", "ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION", "ERR_INCOMPLETE")
        for brought_about in on_purpose:
            watch.allow(brought_about)
        assert watch.unexpected() == []
    finally:
        for context in opened:
            context.close()
        for tablet in tablets:
            tablet.close()
        server.close()


def row(page: Page, root: str) -> Locator:
    return page.locator(f'[data-root="{root}"]')


def test_an_inspection_stands_on_the_desk_within_two_seconds_of_its_receipt(house: House) -> None:
    page = house.go()
    took: list[int] = []
    for _ in range(5):
        sink = house.sink
        sink.chain.scope, sink.chain.at = C11, datetime.now(UTC) - timedelta(minutes=2)
        begun = sink.chain.begin("before_use", shift=house.shift)
        page.evaluate(SEEN_AT, f'[data-root="{begun}"]')
        sink.send()
        receipt_ms = time.time() * 1000
        expect(row(page, begun)).to_be_visible()
        took.append(round(page.evaluate("window.seenAt") - receipt_ms))
        assert page.evaluate("window.stays") is True
        sink.chain.write("inspection.abandoned", {"reason": "wrong_scope"})
        sink.send()
        expect(row(page, begun)).to_contain_text("Ended without a result")
    print(f"from receipt to screen: {took} ms")
    # The middle one: what the machine does besides may hold up one or two, a desk that is slow holds up all.
    assert sorted(took)[2] <= PROMISE_MS


def test_the_list_says_what_was_found_how_it_ended_and_what_is_open(house: House) -> None:
    page = house.go()
    age = page.locator("[data-backup-age]")
    expect(age).to_have_text(re.compile(r"^\s*No backup of the record is known\.\s+\d+ entries stand in none\.\s*$"))
    told = row(page, house.inspections["whole"])
    for words in (
        "Colonoscope C-14", "After cleaning", "Ila Venn", "Hold", "3 findings", "7 could not look", "1 not looked yet",
        "Lens: cracked lens, present", "Asked for less than suggested",
    ):  # fmt: skip
        expect(told).to_contain_text(words)
    first = told.locator(".say", has_text="cracked lens").bounding_box()
    second = told.locator(".say", has_text="chipped band").bounding_box()
    assert first is not None and second is not None
    assert (first["y"], first["x"]) < (second["y"], second["x"]), "what is out of use comes first"
    small = row(page, house.inspections["small"])
    expect(small).to_contain_text("On: disinfection not in this record")
    expect(small).not_to_contain_text("Ready for use")


def test_a_photo_that_is_still_on_its_tablet_is_said_and_shown_when_it_comes(house: House) -> None:
    page = house.go()
    told = row(page, house.inspections["small"])
    expect(told).to_contain_text("1 photo is still on its tablet")
    inspection = house.go(f"/inspection?root={house.inspections['small']}")
    expect(inspection.get_by_text("Still on its tablet").first).to_be_visible()
    inspection.evaluate("() => { window.stays = true }")
    house.sink.put_photos()
    expect(inspection.get_by_role("img", name="Serial photo").first).to_be_visible()
    assert inspection.evaluate("window.stays") is True
    expect(row(house.go(), house.inspections["small"])).not_to_contain_text("still on its tablet")


TOLD = """
Asked for less than suggested (Nothing, Repair)
damage that takes a scope out of use goes to repair
Adhesive band, tip: chipped band, moderate, 1 cm from the tip, read off. New.
edge lifts <b>when pressed</b>
peeling coat, moderate, 62 cm from the tip, estimated. Worse.
No bubbles, pressure held
24 kPa
held 60 s
Could not go further
84 cm
2741906
names the scope
held against the code in it, agrees, under the body
36 parts and channels
25 looked, nothing found
3 findings
7 could not look
1 not looked yet
8 parts were not seen
Electrical contacts: could not look, soaking cap on
Stiffness ring: not looked yet, interrupted
Before: Adhesive band, tip: chipped band, minor, 1 cm from the tip, read off. New.
Mark, taken back
tag is on
It says nothing about what cannot be seen
""".strip().splitlines()
"""What the page must say of the inspection written by `whole`, and its numbers as they were written."""


def test_the_page_of_an_inspection_holds_all_that_its_record_holds(house: House) -> None:
    page = house.go(f"/inspection?root={house.inspections['whole']}")
    main = page.get_by_role("main")
    for words in TOLD:
        expect(main).to_contain_text(words, ignore_case=words[0].islower())
    expect(page.locator("figure svg circle.loupe")).to_have_count(1)
    page.get_by_role("button", name="contacts, could not look").click()
    expect(main).to_contain_text("Could not look, soaking cap on Ila Venn · Sink 2")


def test_unfolded_the_page_shows_every_photo_of_its_record(house: House, screens: Path) -> None:
    page = house.go(f"/inspection?root={house.inspections['whole']}")
    page.set_viewport_size({"width": 1180, "height": 3600})
    expect(page.locator("figure img")).to_have_count(4)
    settled(page)
    widths = page.locator("figure img").evaluate_all("(all) => all.map((one) => one.naturalWidth)")
    assert widths == [640] * 4, "thumbnails of 640 px"
    keep_picture(page, screens / "desk-inspection-unfolded.png")
    house.go()
    page.set_viewport_size({"width": 1180, "height": 1900})
    settled(page)
    keep_picture(page, screens / "desk-today-unfolded.png")
    page.set_viewport_size(SIZES["landscape"])  # type: ignore[arg-type]


def test_the_six_counts_add_up_to_the_parts_and_channels(house: House) -> None:
    told = house.sink.lead(f"inspections/{house.inspections['whole']}")
    assert sum(told["counts"].values()) == told["total"] == 36 == sum(len(each) for each in route("after_cleaning"))


def test_every_entry_is_listed_with_who_when_how_proved_where_and_build(house: House) -> None:
    page = house.go(f"/inspection?root={house.inspections['whole']}")
    page.get_by_role("button", name="Every entry").click()
    table = page.get_by_role("table")
    told = house.sink.lead(f"inspections/{house.inspections['whole']}")
    assert table.get_by_role("row").count() > 30
    first = table.get_by_role("row").nth(1)
    for words in ("inspection begun", "Ila Venn", "Proved by PIN, offline.", "Sink 2", "test", told["root"][:8]):
        expect(first).to_contain_text(words)
    page.get_by_role("button", name="Back to the page").click()


def test_a_photo_opens_large_with_its_hash(house: House) -> None:
    page = house.go(f"/inspection?root={house.inspections['whole']}")
    page.get_by_role("button", name="See it large").nth(1).click()
    large = page.get_by_role("main").get_by_role("img").first
    expect(large).to_be_visible()
    expect(page.locator(".hash")).to_have_text(re.compile("^[0-9a-f]{64}$"))
    page.get_by_role("button", name="Close the large photo").click()
    expect(page.get_by_role("heading", name="Which scope this is")).to_be_visible()

    # How it was taken, and what was told of it then: beside the small photo in short, beside the large one whole.
    peel = page.locator("article", has_text="peeling coat")
    expect(peel.locator("figcaption")).to_contain_text(re.compile(r"\d\d:\d\d · not sharp, glare"))
    peel.get_by_role("button", name="See it large").click()
    told = page.locator("[data-taken]")
    for words in (
        "live picture, with B-3, the sharpest of 7 frames, 43 % of the detail this camera has shown, camera: rear, "
        "not sharp, glare.", "Kept by Ila Venn · Sink 2 ·", "Proved by PIN, offline.",
    ):  # fmt: skip
        expect(told).to_contain_text(words)
    then_and_now(house, page)


def then_and_now(house: House, page: Page) -> None:
    """Goes on: the finding's photo against last time's, three ways; what is hidden meanwhile leaves the screen."""
    page.emulate_media(reduced_motion="reduce")
    page.get_by_role("button", name="Close the large photo").click()
    article = page.locator("article", has_text="peeling coat")
    article.get_by_role("button", name="Then and now").click()
    over, both = page.locator("[data-then]"), page.locator("[data-then] [data-beside] img")
    expect(both).to_have_count(2)
    expect(over).to_contain_text("Both photos stood side by side before the answer, large.")
    over.get_by_role("radio", name="Wipe").click()
    over.get_by_role("button", name="Show more of now").click()
    expect(over.get_by_role("slider")).to_have_attribute("aria-valuenow", "40")
    expect(over.get_by_role("button", name="Point to differences")).to_have_attribute("aria-pressed", "false")
    over.get_by_role("radio", name="Blink").click()
    over.get_by_role("button", name="Show before").click()
    expect(over.locator("[data-top=then]")).to_have_count(1)
    over.get_by_role("radio", name="Beside").click()
    expect(both).to_have_count(2)

    about = {"scope": C14}
    hidden = house.sink.command("photo.hidden", {"photo": house.then}, about)
    assert hidden.status_code == 201
    expect(both).to_have_count(0)
    expect(over).to_contain_text("There is no photo of this part from before that can be shown.")
    again = {"photo": house.then, "hidden": [hidden.json()["hash"]], "reason": "a glove"}
    assert house.sink.command("photo.shown_again", again, about).status_code == 201
    expect(both).to_have_count(2)
    page.emulate_media(reduced_motion=None)


def put_aside(house: House) -> str:
    """A runner marks a part: kept and put aside, since a runner does not look. The entry's hash."""
    chain = house.runner.chain
    chain.scope = C11
    chain.at = datetime.now(UTC) - timedelta(minutes=5)
    chain.begun = None
    entry = chain.write("scope.processed", {"place": "Decontamination"}, inspection=False)
    told = house.runner.send()
    assert told[-1]["reason"] == "role_may_not"
    return entry


@pytest.mark.parametrize(("outcome", "told"), [("Count it", "it counts"), ("Leave it out", "it is left out")])
def test_what_was_put_aside_is_settled_with_a_reason(house: House, outcome: str, told: str) -> None:
    page = house.go("/aside")
    entry = put_aside(house)
    shown = page.get_by_role("button", name="the person's role does not write this").last
    expect(shown).to_contain_text("Sink 3 · Tobin Sarr")
    shown.click()
    settle = page.get_by_role("button", name="Settle")
    expect(settle).to_contain_text("first count it or leave it out")
    page.get_by_role("radio", name=outcome).click()
    expect(settle).to_contain_text("first the reason")
    page.get_by_label("Why, in words").fill("asked Tobin Sarr")
    settle.click()
    expect(page.get_by_text("Nothing is put aside.")).to_be_visible()
    expect(page.get_by_role("status").filter(has_text=told)).to_have_count(1)
    assert entry not in [each["hash"] for each in house.sink.lead("aside")["aside"]]


def test_a_fresh_pin_is_asked_for_and_what_was_typed_stays(house: House) -> None:
    page = house.go("/aside")
    put_aside(house)
    with closing(sqlite3.connect(house.server.data / "record.sqlite", timeout=60)) as base, base:
        base.execute("UPDATE sessions SET proved_ms = proved_ms - 301000")
    page.get_by_role("button", name="the person's role does not write this").last.click()
    page.get_by_role("radio", name="Leave it out").click()
    page.get_by_label("Why, in words").fill("typed once")
    again = page.get_by_role("heading", name="Your PIN once more")
    page.get_by_role("button", name="Settle").click()
    expect(again).to_be_visible()
    page.get_by_role("button", name="Back", exact=True).first.click()
    expect(page.get_by_label("Why, in words")).to_have_value("typed once")
    assert len(house.sink.lead("aside")["aside"]) == 1, "going back does nothing"
    page.get_by_role("button", name="Settle").click()
    expect(again).to_be_visible()
    give_pin(page)
    expect(page.get_by_text("Nothing is put aside.")).to_be_visible()
    assert house.sink.lead("aside")["aside"] == []


def test_a_second_tablet_is_enrolled_by_the_code_the_desk_shows(house: House) -> None:
    page = house.go("/stations")
    page.get_by_role("button", name="Enrol another tablet").click()
    page.get_by_label("Name of this tablet").fill("Sink 9")
    page.get_by_label("Place, for").fill("Decontamination")
    page.get_by_role("radio", name="clean side").click()
    page.get_by_role("button", name="Make the code").click()
    code = page.locator("[data-code]").inner_text()
    tablet = SinkTablet(house.server.url, "Sink 9")
    try:
        tablet.enrol(code)
        told = page.get_by_role("listitem").filter(has_text="Sink 9").get_by_role("button")
        expect(told).to_contain_text("clean side")
        expect(told).to_contain_text("0 entries here")
        told.click()
        withdraw = page.get_by_role("button", name="Withdraw Sink 9")
        expect(withdraw).to_contain_text("first the reason")
        page.get_by_label("Why is it withdrawn?").fill("left in a taxi")
        withdraw.click()
        expect(told).to_contain_text("withdrawn")
        refused = tablet.browser.get("/cards?since=0")
        assert refused.json()["trouble"]["code"] == "station_withdrawn"
    finally:
        tablet.close()


def test_people_are_added_changed_and_switched_off(house: House) -> None:
    page = house.go("/people")
    page.get_by_role("button", name="Add a person").click()
    page.get_by_label("Name, as it stands in the record").fill("Rin Oake")
    page.get_by_label("First PIN").fill("847261")
    page.get_by_role("button", name="Add a person").click()
    told = page.get_by_role("button", name="Rin Oake").first
    expect(told).to_contain_text("technician · PIN still the lead's")
    told.click()
    main = page.get_by_role("main")
    page.get_by_role("button", name="runner", exact=True).click()
    page.get_by_role("button", name="Set what the person does").click()
    expect(main).to_contain_text("technician, runner")
    page.get_by_label("New PIN").fill("123456")
    page.get_by_role("button", name="Set the new PIN").click()
    expect(page.get_by_text("This PIN counts up or down")).to_be_visible()
    page.get_by_role("button", name="Switch Rin Oake off").click()
    expect(main).to_contain_text("switched off")
    page.get_by_role("button", name="All people").click()
    expect(told).to_contain_text("switched off")


def begun_now(house: House) -> str:
    """An inspection that has just begun, sent."""
    house.sink.chain.scope, house.sink.chain.at = C11, datetime.now(UTC) - timedelta(minutes=1)
    begun = house.sink.chain.begin("before_use", shift=house.shift)
    house.sink.send()
    return begun


def test_a_desk_without_a_network_says_so_and_goes_on_by_itself(house: House) -> None:
    page = house.go()
    page.evaluate("() => { window.stays = true }")
    page.context.set_offline(True)
    expect(page.get_by_text("The server is not heard.")).to_be_visible()
    begun = begun_now(house)
    page.context.set_offline(False)
    expect(row(page, begun)).to_be_visible()
    expect(page.get_by_text("The server is not heard.")).to_have_count(0)
    assert page.evaluate("window.stays") is True


def test_a_server_that_ended_is_said_and_followed_again_when_it_runs(house: House) -> None:
    page = house.go()
    house.server.kill()
    expect(page.get_by_text("The server is not heard.")).to_be_visible()
    expect(row(page, house.inspections["whole"])).to_be_visible()
    house.server.start()
    begun = begun_now(house)
    expect(row(page, begun)).to_be_visible()
    expect(page.get_by_text("The server is not heard.")).to_have_count(0)


def test_a_technician_does_not_come_to_the_desk_on_the_cookie_of_the_lead(house: House) -> None:
    """The page loaded anew: the tablet is locked, the server would still take the cookie; the desk asks for the PIN."""
    page = house.desk
    page.goto(house.server.url + "/#/desk")
    page.reload()
    settled(page)
    expect(page.get_by_role("heading", name="Who is here?")).to_be_visible()
    expect(page.get_by_role("button", name="Ila Venn")).to_have_count(0)
    expect(page.get_by_role("navigation", name="Parts of the desk")).to_have_count(0)
    give_pin(page)
    expect(page.get_by_role("navigation", name="Parts of the desk")).to_be_visible()


SHOWN_BY = {"lead/HandedPhotos": "test_repair.py"}
"""What stands only beside a hand-over to somebody outside, and the walk that looks at it."""


@pytest.fixture(scope="module")
def walked(house: House, screens: Path, tmp_path_factory: pytest.TempPathFactory) -> Eyes:
    """Every screen of the desk in both themes, each way round, and on a phone."""
    folder = screens / "walk"
    folder.mkdir(exist_ok=True)
    eyes = Eyes(folder, PIECES, narrow=PHONE["width"])
    look_past(house, eyes, tmp_path_factory.mktemp("bring"))
    return eyes


def another_photo(sink: SinkTablet) -> None:
    """The band once more, so that two photos of one part can stand side by side."""
    chain = sink.chain
    chain.scope = C14
    chain.begin("after_cleaning", shift=next(iter(sink.lead("today")["shifts"])))
    chain.serial()
    chain.find("band_tip", "band_chip", [sink.photo("band, a month on", "finding", (80, 70, 60))], since="same")
    chain.write("inspection.abandoned", {"reason": "interrupted"})
    assert {row["verdict"] for row in sink.send()} == {"counted"}
    sink.put_photos()


def look_past(house: House, eyes: Eyes, folder: Path) -> None:
    another_photo(house.sink)
    if not house.sink.lead("aside")["aside"]:
        put_aside(house)
    hold = str(house.sink.lead("today")["holds"][0]["hold"])
    past_every_screen(house.go, house.inspections["whole"], hold, C14, folder, eyes)


def test_every_desk_screen_can_be_read_and_touched(walked: Eyes) -> None:
    """As at the sink: axe-core finds nothing of any weight, each target has its floor, nothing is cut or overlaid."""
    print(len(walked.seen), "screens")
    assert walked.found == [], "\n".join(walked.found)


def test_no_screen_of_the_desk_is_left_out(walked: Eyes, root: Path) -> None:
    """Read from the source tree: a page that is added has to be walked past."""
    assert drawn_by(root, "lead") - walked.drawn == set()
    assert frameless(root, "lead") - {"lead/Shell"} - SHOWN_BY.keys() == set(PIECES), (
        "a piece of a page without a sign by which it is seen"
    )
    assert set(PIECES) - walked.met == set()


@pytest.mark.slow
def test_and_at_200_per_cent_with_the_left_hand_and_in_forced_colours(
    house: House, screens: Path, tmp_path: Path
) -> None:
    folder = screens / "walk-long"
    folder.mkdir(exist_ok=True)
    eyes = Eyes(folder, PIECES, narrow=PHONE["width"], long=True)
    look_past(house, eyes, tmp_path)
    assert eyes.found == [], "\n".join(eyes.found)


def test_older_rows_come_once_though_tapped_twice_and_a_server_that_is_away_is_told(house: House) -> None:
    sink = house.sink
    sink.chain.scope, sink.chain.begun = C11, None
    for _ in range(110):
        sink.chain.write("scope.received", {"place": "Sink 1"}, inspection=False)
    sink.send()
    page = house.go(f"/history?key={quote(C11)}")
    rows = page.locator("[data-life] li")
    older = page.get_by_role("button", name="Show older ones")
    older.wait_for()
    first = rows.count()
    page.context.set_offline(True)
    older.click()
    expect(page.get_by_text("The server is not heard.")).to_be_visible()
    assert rows.count() == first
    page.context.set_offline(False)
    older.evaluate("(button) => { button.click(); button.click(); }")
    expect(older).to_have_count(0)
    assert rows.count() == len(sink.lead(f"history?key={quote(C11)}&most=500")["rows"]) > first
    expect(page.get_by_text("The server is not heard.")).to_have_count(0)
