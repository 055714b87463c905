"""What is kept and where, said on every screen; unsent work leaves a tablet by a file; a stuck item holds up no other.

The pains these tests keep away are those of users of other offline form and photo tools, as their public issue lists
tell them. The behaviours asked for are the product's own.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from browser.conftest import eventually, holds, settled
from browser.sink import PIN, SHUTTER, STORED, Hands, Sink, begun_at, enrol, sign_in
from browser.sink_house import C_14
from playwright.sync_api import Route

pytestmark = pytest.mark.sink

IPAD = (
    "Mozilla/5.0 (iPad; CPU OS 18_4 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.4 "
    "Mobile/15E148 Safari/604.1"
)
PERSIST = """() => {
  window.askedToPersist = 0;
  StorageManager.prototype.persist = async () => { window.askedToPersist += 1; return GRANTED; };
}"""


def cut_off(sink: Sink, hands: Hands) -> None:
    """The network goes and stays away."""
    sink.guard.allow("net::ERR_")
    hands.page.context.set_offline(True)


def go(hands: Hands, place: str) -> None:
    hands.page.evaluate("(hash) => { location.hash = hash; }", f"#/{place}")
    settled(hands.page)


def with_finding(sink: Sink, hands: Hands) -> str:
    """An inspection with a serial photo and a finding with a photo of its own; the hash of its beginning."""
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    go(hands, f"finding?begun={begun}&part=light_guides")
    hands.wait_screen("finding")
    hands.choose("Broken light fibres", "Minor")
    hands.tap(re.compile("^(Photo|One more photo)$"), ".hand")
    hands.give_file("Choose a file", sink.plate("2741533", coded=False))
    hands.tap("Keep 1 photo")
    hands.wait_screen("finding")
    hands.tap("Save finding")
    hands.wait_for("Nozzle", "h1")
    return begun


def test_the_age_of_the_oldest_unsent_stands_in_one_corner_of_every_screen(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun = begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    cut_off(own_sink, hands)
    hands.nothing_found()
    hands.wait_for("not sent for", ".bar")
    scope = C_14.key
    places = [
        "home", "camera-scan", "type", "register?text=A12", f"serial?scope={scope}", f"route?begun={begun}",
        f"photo?begun={begun}&part=lens&back=route", f"finding?begun={begun}&part=lens", f"leak?begun={begun}",
        f"conclude?begun={begun}", f"hold?scope={scope}", "kept", "person",
    ]  # fmt: skip
    for place in places:
        go(hands, place)
        assert "not sent for" in hands.corner(), place
        corner = hands.page.locator(".bar button.corner").first.bounding_box()
        assert corner is not None and corner["x"] > 600 and corner["y"] < 76, place
    go(hands, "person")
    hands.tap("Lock the screen")
    hands.wait_for("Badge in to go on")
    assert "not sent for" in hands.corner()
    assert len(hands.stored("entries")) == 3


def test_only_three_words_say_where_an_entry_is(own_sink: Sink) -> None:
    """Saved on this tablet, on the server, in shift record: nothing is ever "sent" before its receipt came."""
    # The cards may name the photo just recorded before its bytes have come: then there is none to fetch yet.
    own_sink.guard.allow("status of 404")
    hands = own_sink.tablet()
    cut_off(own_sink, hands)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    go(hands, "kept")
    hands.wait_for("saved on this tablet", "main")
    ways = hands.page.locator("main li b").all_inner_texts()
    assert {way.split(",")[0] for way in ways} == {"saved on this tablet"}
    hands.page.context.set_offline(False)
    hands.tap("Send now")
    hands.wait_sent()
    holds(hands.page, "[...document.querySelectorAll('main li b')].every((way) => way.textContent === 'on the server')")


def test_unsent_work_is_written_to_one_file_and_taken_in_at_the_desk_once(own_sink: Sink, tmp_path: Path) -> None:
    hands = own_sink.tablet()
    cut_off(own_sink, hands)
    with_finding(own_sink, hands)
    kept = hands.entries()
    go(hands, "kept")
    with hands.page.expect_download() as given:
        hands.tap("All unsent to a file")
    file = tmp_path / given.value.suggested_filename
    given.value.save_as(file)
    assert file.suffix == ".jsonl"
    assert hands.entries() == kept, "writing the file takes nothing away"
    chain = kept[0]["chain"]
    assert own_sink.log(chain) == []

    desk = own_sink.tablet("Sink 3", "Moira Keld", camera="none")
    desk.page.evaluate("() => { location.hash = '#/desk/stations'; }")
    settled(desk.page)
    desk.page.locator("input[type=file]").set_input_files(file)
    desk.wait_for("The file of Sink 2 is taken in")
    told = desk.page.locator("section[aria-label='A tablet that cannot send'] [role=status]").inner_text()
    assert "3 new entries, 2 new photos, 0 were here already" in told
    assert [row["entry"] for row in own_sink.log(chain)] == kept
    assert {row["verdict"] for row in own_sink.log(chain)} == {"counted"}
    named = [photo["sha256"] for entry in kept for photo in entry["photos"]]
    assert set(named) <= set(own_sink.photos())

    desk.page.locator("input[type=file]").set_input_files(file)
    desk.wait_for(f"{len(kept) + 2} were here already")

    hands.page.context.set_offline(False)
    hands.tap("Send now")
    hands.wait_sent()
    assert [row["entry"] for row in own_sink.log(chain)] == kept
    holds(hands.page, "[...document.querySelectorAll('main li b')].every((way) => way.textContent === 'on the server')")
    states = {row["state"] for row in hands.stored("receipts")}
    assert states == {"already"}, "here already is a receipt like any, and stands on the screen as one"
    assert hands.page.locator(".stuck li").count() == 0


def refuse(route: Route, trouble: dict[str, str], status: int) -> None:
    route.fulfill(
        status=status,
        headers={"X-Loupebook": "1"},
        content_type="application/json",
        body=json.dumps({"trouble": trouble}),
    )


ONE_RECEIPT = """() => new Promise((done) => {
  const ask = indexedDB.open('loupebook');
  ask.onsuccess = () => {
    const read = ask.result.transaction('held').objectStore('held').getAll();
    read.onsuccess = () => {
      ask.result.close();
      done(read.result.filter((row) => row.receipt !== undefined).length === 1);
    };
  };
})"""
"""One of the photos has come back with its receipt."""


def test_a_photo_the_server_will_not_take_holds_up_no_other_and_is_named_with_its_reason(own_sink: Sink) -> None:
    own_sink.guard.allow("status of 415")
    hands = own_sink.tablet()
    words = {"code": "reencoded", "so": "Something packed it anew.", "safe": "It stays on the tablet.", "next": "Wait."}
    first: list[str] = []

    def some(route: Route) -> None:
        name = route.request.url.rsplit("/", 1)[1]
        if route.request.method == "PUT" and (not first or first == [name]):
            first[:] = [name]
            refuse(route, words, 415)
        else:
            route.continue_()

    hands.page.route("**/photos/*", some)
    with_finding(own_sink, hands)
    go(hands, "kept")
    hands.wait_for("Photo not taken by the server")
    item = hands.page.locator(".stuck li")
    assert item.count() == 1
    assert "Something in the network packed it anew" in item.inner_text()
    assert "hand it to the lead" in item.inner_text()
    kept = hands.entries()
    named = [photo["sha256"] for entry in kept for photo in entry["photos"]]
    assert len(named) == 2 and first[0] in named
    holds(hands.page, "document.querySelector('main').innerText.includes('1 photo')")
    # A photo goes after its entry: the finding's photo has its receipt, so the finding is there too.
    eventually(hands.page, ONE_RECEIPT)
    assert [row["entry"] for row in own_sink.log(kept[0]["chain"])] == kept
    assert first == named[:1]
    assert set(named) & set(own_sink.photos()) == set(named) - set(first)
    hands.page.unroute("**/photos/*")
    hands.tap("Send now")
    hands.wait_sent()
    item.wait_for(state="detached")
    assert set(named) <= set(own_sink.photos())


def test_what_the_server_puts_aside_is_listed_item_by_item_with_its_reason(own_sink: Sink) -> None:
    own_sink.guard.allow("status of 403")
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    station = next(row for row in own_sink.lead().get("/lead/stations")["stations"] if row["name"] == "Sink 2")
    own_sink.lead().post(f"/door/stations/{station['station']}/revoke", {"reason": "left in the lift"})
    hands.nothing_found()
    hands.nothing_found()
    go(hands, "kept")
    hands.wait_for("items stand apart")
    items = hands.page.locator(".stuck li")
    assert items.count() == 2
    for text in items.all_inner_texts():
        assert "Put aside by the server" in text and "This station was withdrawn" in text
        assert "the lead has it on the desk" in text
    assert "A lead withdrew this tablet" in hands.text()
    assert len(own_sink.lead().get("/lead/aside")["aside"]) == 2
    assert len(hands.stored("entries")) == 4


@pytest.mark.parametrize("granted", [True, False])
def test_the_browser_is_asked_to_keep_the_store_at_the_first_save_and_its_answer_is_told(
    own_sink: Sink, granted: bool
) -> None:
    hands = own_sink.tablet(script=PERSIST.replace("GRANTED", str(granted).lower()))
    assert hands.page.evaluate("window.askedToPersist") == 0
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.nothing_found()
    assert hands.page.evaluate("window.askedToPersist") == 1
    go(hands, "kept")
    hands.wait_for("Self-check")
    said = hands.page.locator("main").inner_text()
    assert ("kept until it is cleared by hand" in said) is granted
    assert ("Tell the lead if this stays" in said) is not granted


def test_the_self_check_finds_a_line_that_is_no_longer_what_was_written(own_sink: Sink) -> None:
    hands = own_sink.tablet()
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.wait_sent()
    go(hands, "kept")
    hands.wait_for("entries and unsent photos are whole")
    hands.page.evaluate(SPOIL)
    hands.tap("Check this tablet again")
    hands.wait_for("something here no longer reads as it was written")


SPOIL = """() => new Promise((done, fail) => {
  const ask = indexedDB.open('loupebook');
  ask.onsuccess = () => {
    const tx = ask.result.transaction('entries', 'readwrite');
    const store = tx.objectStore('entries');
    const read = store.getAll();
    read.onsuccess = () => { const row = read.result[0]; row.line[40] ^= 1; store.put(row); };
    tx.oncomplete = () => { ask.result.close(); done(); };
    tx.onerror = () => fail(tx.error);
  };
})"""


STARTED_FROM_HOME = """() => Object.defineProperty(Navigator.prototype, 'standalone', {
  get: () => localStorage.getItem('started') === 'from home',
})"""
"""As an iPad says whether the app was started from the home screen."""


def start_from(hands: Hands, where: str) -> None:
    hands.page.evaluate("(where) => localStorage.setItem('started', where)", where)
    hands.page.reload()
    settled(hands.page)


def test_a_plain_tab_on_an_ipad_records_nothing_and_says_the_way_out(own_sink: Sink) -> None:
    hands = own_sink.open("Sink 2", own_sink.camera(), user_agent=IPAD, script=STARTED_FROM_HOME)
    hands.wait_for("plain browser tab")
    assert "Add the app to the home screen" in hands.text()
    assert hands.page.locator("main input").count() == 0
    assert hands.page.get_by_role("button", name="Enrol").count() == 0

    start_from(hands, "from home")
    enrol(hands, own_sink.house.codes["Sink 2"])
    sign_in(hands, "Ila Venn")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    kept = hands.entries()

    start_from(hands, "in a tab")
    hands.wait_for("plain browser tab")
    assert "Everything recorded here stays on this tablet" in hands.text()
    assert hands.entries() == kept


def test_a_locked_tablet_still_shows_and_hands_over_what_is_unsent(own_sink: Sink) -> None:
    """Nobody has to be signed in to bring a tablet's work to safety."""
    hands = own_sink.tablet()
    cut_off(own_sink, hands)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    go(hands, "person")
    hands.tap(re.compile("^Sign out"))
    hands.wait_for("Badge in to go on")
    hands.tap_on(hands.page.locator(".bar button.corner").first)
    hands.wait_for("Not sent yet")
    with hands.page.expect_download() as given:
        hands.tap("All unsent to a file")
    lines = Path(given.value.path()).read_bytes().splitlines()
    assert json.loads(lines[-1]) == {"end": True, "entries": 2, "photos": 1}
    assert re.fullmatch(r"loupebook-unsent-\d{4}-\d\d-\d\d\.jsonl", given.value.suggested_filename)
    assert PIN not in Path(given.value.path()).read_text()


KEPT_AND_GONE = """() => {
  [...document.querySelectorAll("button")].find((each) => each.innerText.startsWith("Keep 1 photo")).click();
  location.hash = "#/home";
}"""


def test_the_shutter_waits_for_no_network(own_sink: Sink) -> None:
    """Recording goes on as before while nothing can be sent."""
    hands = own_sink.tablet()
    cut_off(own_sink, hands)
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    hands.tap("Photo", ".hand")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.tap("Keep 1 photo")
    hands.wait_for("Distal tip", "h1")
    assert [row["kind"] for row in hands.stored("entries")] == [
        "inspection.begun",
        "serial.photographed",
        "photo.added",
    ]

    hands.tap("One more photo", ".hand")
    hands.page.wait_for_selector("video[data-live]")
    hands.tap(SHUTTER)
    hands.button("Keep 1 photo").wait_for()
    hands.page.evaluate(KEPT_AND_GONE)
    hands.wait_for("Scan a scope to begin")
    eventually(hands.page, f"async () => (await ({STORED})('entries')).length === 4")
    settled(hands.page)
    assert "#/home" in hands.page.url, "who went home while it saved is not taken back"
