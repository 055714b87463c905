"""The rest of the walk past every screen of the sink: the cycle, channels and functions, tools, practice, codes, an
empty installation, a tablet that was withdrawn, a store that cannot be opened."""

from __future__ import annotations

import json
import re
from pathlib import Path

from browser.conftest import launch, settled
from browser.eyes import Eyes, keep_picture
from browser.sink import SHUTTER, Hands, Sink, scanned_for, sign_in
from browser.sink_house import C_11, PIN, PLACE, Scope
from live_server import LiveServer
from playwright.sync_api import expect

PROBE = Scope("R-81", "rhinolaryngoscope", "2741777", "RX 20", 300, "51022222233336")
BRONCH = Scope("B-21", "bronchoscope", "5500123", "BX 40", 600, "51022222233336")
SIZES = [{"channel": "ch_instrument", "inner_um": 2000, "length_mm": 820}]

NO_STORE = """(() => {
  indexedDB.open = () => { throw new DOMException('', 'InvalidStateError'); };
})()"""


def go(hands: Hands, way: str) -> None:
    """A screen by its address, as a reload comes back to it."""
    hands.page.evaluate("(hash) => { location.hash = hash; }", way)
    settled(hands.page)


def on_record(sink: Sink) -> None:
    """Two more scopes: one without channels, one whose channel has its sizes."""
    for scope, channels in ((PROBE, []), (BRONCH, SIZES)):
        body = {
            "scope_kind": scope.kind, "serial": scope.serial, "di": scope.di, "tag": scope.tag, "codes": [],
            "channels": channels,
        }  # fmt: skip
        sink.lead().post("/lead/commands/scope.described", {"about": {"scope": scope.key}, "body": body})


def begun(hands: Hands, scope: Scope, point: str) -> str:
    """Begun with a photo on which nothing can be read; the hash of the inspection."""
    go(hands, "#/home")
    scanned_for(hands, scope, point)
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.tap("Nothing can be read on it")
    hands.wait_changed("h1", "Photograph the serial number")
    settled(hands.page)
    return str([row for row in hands.stored("entries") if row["kind"] == "inspection.begun"][-1]["hash"])


def round_the_cycle(hands: Hands, eyes: Eyes) -> None:
    for step in ("received", "cleaning", "processed", "hung", "taken"):
        go(hands, f"#/step?scope={PROBE.key}&step={step}")
        hands.page.locator(".hand .btn.best").wait_for()
        eyes.at(hands.page, f"step-{step}")
    go(hands, f"#/hand-over?scope={PROBE.key}")
    hands.page.locator(".said").wait_for()
    eyes.at(hands.page, "hand-over")
    repair_from_ask_to_case(hands, eyes)
    go(hands, f"#/cycle?scope={PROBE.key}")
    eyes.at(hands.page, "cycle-nothing-known")
    begun(hands, PROBE, "Before use")
    hands.page.locator(".checks li").first.wait_for()
    eyes.at(hands.page, "before-use")
    rows = hands.page.locator(".checks li")
    hands.tap_on(rows.first.get_by_role("button", name=re.compile("^Could not look")))
    eyes.at(hands.page, "before-use-why-not")
    hands.tap("Close", ".hand")


def repair_from_ask_to_case(hands: Hands, eyes: Eyes) -> None:
    """Nothing is opened, an ask by phone, the statement and the case, each with what it says when it is filled in."""
    for step in ("", "&step=ask"):
        go(hands, f"#/repair?scope={PROBE.key}{step}")
        eyes.at(hands.page, f"repair{step[6:]}-nothing")
    hands.type("In your own words", "the tip lags behind the knob")
    hands.page.get_by_role("radio", name="A lead said yes by phone").click()
    eyes.at(hands.page, "repair-ask")
    hands.tap(re.compile("Moira Keld"), ".hand")
    hands.tap("Opened by phone", ".hand")
    hands.wait_for("Opened. The packet is not complete")
    eyes.at(hands.page, "repair")
    go(hands, f"#/repair?scope={PROBE.key}&step=clean")
    hands.page.get_by_role("group", name="Wiped").get_by_role("button", name="Done").click()
    hands.page.get_by_role("group", name="Disinfected").get_by_role("button", name="Could not").click()
    hands.page.get_by_role("radio", name="These parts").click()
    eyes.at(hands.page, "repair-clean")
    go(hands, f"#/repair?scope={PROBE.key}&step=pack")
    eyes.at(hands.page, "repair-pack")
    hands.tap("Photograph the case")
    hands.page.wait_for_selector("video[data-live]")
    eyes.at(hands.page, "repair-pack-photo")
    go(hands, f"#/repair?scope={PROBE.key}&step=tie")
    hands.wait_for("What stands in for it?", "h1")
    eyes.at(hands.page, "repair-tie")
    for step, button in (("ship", "It left"), ("note", "Keep these words")):
        go(hands, f"#/repair?scope={PROBE.key}&step={step}")
        hands.button(re.compile(f"^{button}")).wait_for()
        if step == "note":
            hands.page.get_by_role("radio", name="Yes, it is an estimate").click()
        eyes.at(hands.page, f"repair-{step}")
    for step, button in (("back", "Keep how it came back"), ("loan", "It is here on loan")):
        go(hands, f"#/repair?scope={PROBE.key}&step={step}")
        hands.page.wait_for_selector("video[data-live]")
        if step == "back":
            eyes.at(hands.page, "repair-back-photo")
        hands.tap(SHUTTER)
        keep = hands.button(re.compile("^Keep"), ".hand")
        expect(keep).not_to_have_attribute("aria-disabled", "true")
        hands.tap_on(keep)
        hands.button(re.compile(f"^{button}")).wait_for()
        if step == "back":
            hands.page.get_by_role("radio", name="Another number").click()
        eyes.at(hands.page, f"repair-{step}")


def a_call_and_what_is_asked(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    """A lead decides a hold by phone; then somebody is asked to look again, and for what they see in a photo."""
    lead = sink.lead()
    go(hands, "#/home")
    hands.wait_sent()
    hear_the_server(hands)
    go(hands, f"#/cycle?scope={C_11.key}")
    hands.tap("Decided by phone", "main")
    hands.wait_for("decides the hold on C-11 by phone", "h1")
    hands.tap(re.compile("Moira Keld"), "main")
    hands.page.get_by_role("radio", name="On", exact=True).click()
    hands.type("What they said, in their words", "seen last week, the same mark")
    eyes.at(hands.page, "hold-phone")
    hands.tap("Write down the call", ".hand")
    hands.wait_for("By phone Moira Keld")
    eyes.at(hands.page, "cycle-phoned")
    hands.wait_sent()
    of = next(each for each in lead.today()["holds"] if each["scope"]["key"] == C_11.key)
    assert of["phoned"] == ["on"] and of["standing"]

    seen = [row for row in hands.stored("entries") if row["kind"] == "finding.recorded"][-1]
    assert lead._desk.sign_in("moira.keld", PIN).status_code == 200
    policy = json.loads(lead.get("/lead/policy")["text"])
    policy["second_opinion"] |= {"on": True, "share_percent": 0}  # chance asks for nothing more here
    set_on = {"text": json.dumps(policy), "reason": "observers differ"}
    lead.post("/lead/commands/policy.set", {"about": {}, "body": set_on})
    about = {"scope": seen["scope"]}
    for what, reason in (("second_opinion", "how deep is it?"), ("look_again", "in better light")):
        wish = {"what": what, "of": seen["hash"], "parts": ["band_tip"], "reason": reason}
        lead.post("/lead/commands/work.asked", {"about": about, "body": wish})
    hear_the_server(hands)
    go(hands, "#/home")
    hands.tap(re.compile("^1 thing is asked of you"), ".hand")  # not what this person said first
    eyes.at(hands.page, "asked")
    hands.tap(re.compile("Look again"), "main")
    eyes.at(hands.page, "asked-look")
    hands.tap("It is done", ".hand")
    hands.wait_for("Nothing is asked of anybody")
    another_person(hands, "Rin Oake")
    go(hands, "#/asked")
    hands.tap(re.compile("Second opinion"), "main")
    hands.page.locator("main img").first.wait_for()
    assert (
        "how deep" in hands.text() and "chip" not in hands.page.locator("main .look, main").first.inner_text().lower()
    )
    hands.page.locator("main .grades button").first.click()
    eyes.at(hands.page, "asked-opinion")
    hands.tap("Save what I see", ".hand")
    hands.wait_for("Nothing is asked of anybody")
    hands.wait_sent()
    told = [row for row in lead.get(f"/lead/history?key={seen['scope']}")["rows"] if row["what"] == "asked"]
    assert {row["asked"]: [each["did"] for each in row["answers"]] for row in told} == {
        "second_opinion": ["seen"], "look_again": ["done"],
    }  # fmt: skip
    another_person(hands, "Ila Venn")


def hear_the_server(hands: Hands) -> None:
    """The tablet asks for its cards now, as when a network comes back, and has them."""
    hands.page.evaluate("dispatchEvent(new Event('online'))")
    settled(hands.page)


def another_person(hands: Hands, name: str) -> None:
    go(hands, "#/person")
    hands.tap("Lock the screen", ".hand")
    hands.wait_for("Badge in to go on")
    sign_in(hands, name)


def at_acceptance(hands: Hands, eyes: Eyes) -> None:
    """Functions tried, a channel looked into, what was recorded of them, and the borescopes."""
    inspection = begun(hands, BRONCH, "Acceptance")
    go(hands, f"#/functions?begun={inspection}")
    hands.page.locator(".checks li").first.wait_for()
    eyes.at(hands.page, "functions")
    rows = hands.page.locator(".checks li")
    hands.tap_on(rows.first.get_by_role("button", name=re.compile("^Weak")))
    hands.page.get_by_role("button", name="Note").wait_for()
    hands.tap("Note", ".hand")
    eyes.at(hands.page, "functions-note")
    go(hands, f"#/cleaning?begun={inspection}")
    hands.type("Value, RLU", "250")
    hands.type("Highest value allowed, RLU", "200")
    hands.wait_for("Over the limit: back to cleaning, then tested again")
    eyes.at(hands.page, "cleaning")
    go(hands, f"#/route?begun={inspection}&part=ch_instrument")
    eyes.at(hands.page, "route-channel")
    hands.tap("Look with a borescope")
    hands.wait_screen("Which borescope?")
    hands.tap("Another borescope")
    hands.type("What its label says", "B-3")
    eyes.at(hands.page, "channel-which")
    hands.type("Outer diameter in mm", "1.6")
    hands.type("Length in cm", "190")
    hands.tap("Keep this borescope")
    hands.wait_for("Room in this channel", "h1")
    for _ in range(3):
        hands.tap(re.compile(r"^\+10"), ".hand")
    eyes.at(hands.page, "channel")
    hands.tap(re.compile("^Could not go further"))
    eyes.at(hands.page, "channel-why")
    hands.tap("It resists")
    hands.wait_for("B-3 owes processing")
    eyes.at(hands.page, "route-owes")
    go(hands, f"#/recorded?begun={inspection}")
    eyes.at(hands.page, "recorded")
    hands.tap_on(hands.page.locator("main .row").first)
    eyes.at(hands.page, "recorded-change")
    go(hands, f"#/conclude?begun={inspection}")
    hands.page.locator(".hand .answers").first.wait_for()
    hands.tap("End it without a result")
    eyes.at(hands.page, "decide-without-result")
    go(hands, "#/tools")
    hands.wait_for("owes processing since")
    eyes.at(hands.page, "tools")
    go(hands, f"#/route?begun={'0' * 64}")
    eyes.at(hands.page, "not-here")


def without_touch(hands: Hands, eyes: Eyes) -> None:
    go(hands, "#/hands-free")
    eyes.at(hands.page, "hands-free")
    hands.tap(re.compile("^Nothing found"), "main")
    eyes.at(hands.page, "hands-free-learning")
    hands.page.emulate_media(media="print")
    keep_picture(hands.page.locator(".sheet"), eyes.folder / "printed-cards.png")
    hands.page.emulate_media(media="screen")
    hands.tap("Close", ".hand")
    go(hands, "#/home")
    hands.scan("LB1:C:nothing-found")
    hands.page.locator("[data-card]").wait_for()
    eyes.at(hands.page, "card-without-meaning")


def in_practice(hands: Hands, eyes: Eyes) -> None:
    go(hands, "#/person")
    with hands.page.expect_event("load"):
        hands.tap(re.compile("^Practise"), ".hand")
    hands.wait_for("Practice", "h1")
    eyes.at(hands.page, "practice")
    hands.tap(re.compile("^Colonoscope P-1"), ".hand")
    hands.wait_screen("serial")
    hands.page.wait_for_selector("video[data-live]")
    eyes.at(hands.page, "practice-serial")
    with hands.page.expect_event("load"):
        hands.tap_on(hands.page.locator(".bar button.practice"))
    hands.wait_for("Badge in to go on", "h1")
    settled(hands.page)


def by_a_code(hands: Hands, eyes: Eyes) -> None:
    tile = hands.page.locator("main").get_by_role("button", name=re.compile("Ila Venn"))
    tile.wait_for()
    hands.tap_on(tile)
    hands.tap(re.compile("^I have a code"), ".hand")
    eyes.at(hands.page, "by-code")
    hands.tap("Back", ".bar")
    sign_in(hands, "Ila Venn")


def withdrawn(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    """A lead withdraws this tablet while something of it waits; it says so, and keeps what it has."""
    stations = sink.lead().get("/lead/stations")["stations"]
    mine = next(each["station"] for each in stations if each["name"] == "Sink 2")
    sink.lead().post(f"/door/stations/{mine}/revoke", {"reason": "left on the trolley"})
    go(hands, "#/kept")
    hands.page.evaluate("dispatchEvent(new Event('online'))")
    hands.page.locator("main .notice").first.wait_for()
    eyes.at(hands.page, "kept-withdrawn")


def without_a_store(sink: Sink, hands: Hands, eyes: Eyes) -> None:
    """The browser does not open the tablet's store."""
    page = hands.page.context.new_page()
    page.add_init_script(NO_STORE)
    page.goto(sink.server.url + "/")
    page.locator(".notice").wait_for()
    settled(page)
    eyes.at(page, "store-closed")
    page.close()


def an_empty_installation(sink: Sink, eyes: Eyes, folder: Path) -> None:
    """The five steps of the first lead, and the recovery code on paper."""
    server = LiveServer(folder / "empty").start()
    try:
        with launch(sink.playwright, sink.chromium, folder / "first") as context:
            sink.guard.watch(context)
            page = context.pages[0]
            page.goto(server.url + "/")
            settled(page)
            hands = Hands(page)
            hands.wait_for("The first lead", "h1")
            hands.type("One-time code", server.said("First code").split()[2])
            hands.type("Your name", "Moira Keld")
            for label in ("PIN, six digits or more", "The PIN once more"):
                hands.type(label, "704182")
            for step in ("you", "facility", "places", "shifts", "tablet"):
                if step == "facility":
                    hands.type("Name of the facility", "Harrow Lake Day Hospital")
                if step == "tablet":
                    page.get_by_label(re.compile("^Name of this tablet")).fill("Desk")
                    hands.tap(re.compile(f"^{PLACE}"), "main")
                eyes.at(page, f"begin-{step}")
                if step != "tablet":
                    hands.tap(re.compile("^Next"), ".hand")
                    settled(page)
            hands.tap("Begin here", ".hand")
            page.locator("[data-recovery]").wait_for()
            eyes.at(page, "recovery")
            page.emulate_media(media="print")
            keep_picture(page, eyes.folder / "printed-recovery.png")
            page.emulate_media(media="screen")
    finally:
        server.close()
