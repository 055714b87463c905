"""The tablet's store in a real Chromium: what was said to be saved is there, whatever happens to the browser.

The page under test holds nothing but the record (pages/store), behind the product's own policy. Facts about
browsers these tests stand on were measured with the same Chromium: IndexedDB is relaxed unless asked for
strict, over quota it aborts with QuotaExceededError, and kill -9 loses nothing that completed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import Guard, OpenBrowser, settled
from browser.kills import kill
from browser.store_server import Kept, store_server
from loupebook.record.hashes import entry_hash
from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.sink


@pytest.fixture
def site(store_page: Path) -> Iterator[tuple[str, Kept]]:
    """A server of its own for each test: address, and what it keeps."""
    with store_server(store_page) as served:
        yield served


def tablet(context: BrowserContext, url: str) -> Page:
    """The page, opened in a browser."""
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(url + "/index.html")
    settled(page)
    return page


def call(page: Page, what: str, *given: Any) -> Any:
    """Calls one of the page's acts by name."""
    return page.evaluate("([what, given]) => window.tablet[what](...given)", [what, list(given)])


# ---------------------------------------------------------------- saving


def test_every_write_of_the_record_is_strict(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    page = tablet(open_browser(), site[0])
    page.evaluate("window.seen = window.tablet.watchTransactions()")
    call(page, "setUp")
    inspection = call(page, "begin")
    call(page, "find", inspection, 2, 5000)
    page.evaluate("window.tablet.keepDraft('place', {words: 'half a sentence'})")
    call(page, "drain", 5)
    seen = page.evaluate("window.seen")
    assert len(seen) >= 10
    assert set(seen) == {"strict"}


def test_a_read_the_browser_takes_away_is_heard_once(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    """By the one who reads; nothing else of it is left uncaught (the guard of the page would tell)."""
    page = tablet(open_browser(), site[0])
    call(page, "setUp")
    assert call(page, "readTakenAway") == "AbortError"
    page.evaluate("() => new Promise(done => setTimeout(done))")
    assert call(page, "look")["rows"] == []


def test_two_windows_that_save_at_once_make_one_chain(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    context = open_browser()
    first = tablet(context, site[0])
    call(first, "setUp")
    inspection = call(first, "begin")
    second = context.new_page()
    second.goto(site[0] + "/index.html")
    settled(second)
    save = """inspection => {
      window.saves = Promise.all(Array.from({length: 25}, () => window.tablet.find(inspection, 1, 20000)));
    }"""
    for page in (first, second):
        page.evaluate(save, inspection)
    saved = [each["seq"] for page in (first, second) for each in page.evaluate("window.saves")]
    assert sorted(saved) == list(range(3, 53))
    looked = call(first, "look")
    assert (looked["broken"], looked["missing"]) == ([], [])
    assert [row["seq"] for row in looked["rows"]] == list(range(1, 53))


def test_a_draft_outlives_the_browser(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    context = open_browser()
    page = tablet(context, site[0])
    page.evaluate(
        """async () => {
          const photo = await window.tablet.make.photo('part', 4000);
          await window.tablet.keepDraft('place', {words: 'half'}, [photo]);
        }"""
    )
    context.close()
    page = tablet(open_browser(), site[0])
    kept = page.evaluate(
        """async () => {
          const {value, photos: [photo]} = await window.tablet.readDraft('place');
          return [value.words, await window.tablet.sha256Hex(photo.bytes) === photo.sha256];
        }"""
    )
    assert kept == ["half", True]


def killed_while_saving(open_browser: OpenBrowser, site: tuple[str, Kept], profiles: Path, rounds: int) -> None:
    url, kept = site
    profile = profiles / "profiles" / "killed"
    inspection = None
    for each in range(rounds):
        context = open_browser("killed")
        page = tablet(context, url)
        if inspection is None:
            call(page, "setUp")
            inspection = call(page, "begin")
        page.evaluate("inspection => { void window.tablet.saveWithoutEnd(inspection, 2, 60000); }", inspection)
        said = kept.wait_for_markers(len(kept.markers) + 3 + each % 3)
        kill(context, profile)
        context = open_browser("killed")
        looked = call(tablet(context, url), "look")
        assert (looked["broken"], looked["missing"]) == ([], []), f"after kill {each + 1}"
        rows = {row["seq"]: row for row in looked["rows"]}
        for saved in [*said, *kept.markers]:
            left = f"{sorted(rows)} of chain {looked['chain']!r}, {looked['all']} entries in all"
            assert saved["seq"] in rows, f"saved and lost: {saved['seq']}, kill {each + 1}; there are {left}"
            assert rows[saved["seq"]]["hash"] == saved["hash"], f"saved and lost: {saved['seq']}, kill {each + 1}"
            assert rows[saved["seq"]]["photos"] == saved["photos"]
        context.close()


def test_a_killed_browser_loses_nothing_that_was_said_to_be_saved(
    open_browser: OpenBrowser, site: tuple[str, Kept], tmp_path: Path
) -> None:
    killed_while_saving(open_browser, site, tmp_path, 5)


@pytest.mark.slow
def test_a_hundred_kills_lose_nothing_that_was_said_to_be_saved(
    open_browser: OpenBrowser, site: tuple[str, Kept], tmp_path: Path
) -> None:
    killed_while_saving(open_browser, site, tmp_path, 100)


def small_tablet(open_browser: OpenBrowser, url: str, bytes: int) -> Page:
    """A page whose origin may hold so many bytes. Set before the store opens: Chromium remembers the room left."""
    context = open_browser()
    tools = context.new_cdp_session(context.pages[0])
    tools.send("Storage.overrideQuotaForOrigin", {"origin": url, "quotaSize": bytes})
    return tablet(context, url)


def test_a_full_tablet_keeps_the_words_and_names_the_photo_it_did_not_keep(
    open_browser: OpenBrowser, site: tuple[str, Kept]
) -> None:
    page = small_tablet(open_browser, site[0], 1_500_000)
    call(page, "setUp")
    inspection = call(page, "begin")
    assert "saved" in call(page, "tryToFind", inspection, 1, 900_000)
    outcome = call(page, "tryToFind", inspection, 2, 450_000)
    assert outcome["trouble"] == "no_room"
    assert len(outcome["notKept"]) == 2
    assert outcome["kept"]["photos"] == []
    looked = call(page, "look")
    assert looked["rows"][-1]["hash"] == outcome["kept"]["hash"]
    assert (looked["broken"], looked["missing"]) == ([], [])
    assert "saved" in call(page, "tryToFind", inspection, 0, 0), "words alone are still taken"


def test_a_full_tablet_frees_photos_the_server_has_and_saves(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    url, kept = site
    page = small_tablet(open_browser, url, 2_000_000)
    call(page, "setUp")
    inspection = call(page, "begin")
    for _ in range(2):
        call(page, "find", inspection, 1, 850_000)
    assert call(page, "drain", 5) <= 5
    outcome = call(page, "tryToFind", inspection, 1, 850_000)
    assert len(outcome["saved"]["photos"]) == 1
    assert call(page, "drain", 5) <= 5
    assert len(kept.photos) == 4, "the serial photo and three findings: none was freed before its receipt"


# ---------------------------------------------------------------- sending

FAULTS = ["swallow", "cut", "trickle", "html", "redirect", "broken", "unheard"]


def exactly_once(page: Page, kept: Kept, chain: str) -> None:
    """What the tablet has is what the server has: each line once, in order, each photo with its own bytes."""
    looked = call(page, "look")
    assert [entry_hash(line) for line in kept.lines[chain]] == [row["hash"] for row in looked["rows"]]
    named = {sha256 for row in looked["rows"] for sha256 in row["photos"]}
    assert set(kept.photos) == named
    assert all(hashlib.sha256(body).hexdigest() == sha256 for sha256, body in kept.photos.items())
    assert kept.strays == {}


def save_some(page: Page, count: int, photos: int = 1) -> str:
    inspection = call(page, "begin")
    for _ in range(count):
        call(page, "find", inspection, photos, 30_000)
    return str(inspection)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_at_every_request_in_turn_ends_exactly_once(
    fault: str, open_browser: OpenBrowser, site: tuple[str, Kept], guard: Guard
) -> None:
    guard.allow("Failed to load resource")
    url, kept = site
    page = tablet(open_browser(), url)
    chain = call(page, "setUp")
    save_some(page, 4)
    kept.faults = [fault] * 5
    rounds = call(page, "drain", 20)
    assert rounds <= 20, f"still unsent after {rounds} rounds; failed: {kept.failed}"
    assert [each for each, _ in kept.failed] == [fault] * 5
    exactly_once(page, kept, chain)
    assert page.evaluate("window.tablet.now().unsent + window.tablet.now().unsentPhotos") == 0


def test_faults_that_hit_entries_and_photos_alike_end_exactly_once(
    open_browser: OpenBrowser, site: tuple[str, Kept], guard: Guard
) -> None:
    guard.allow("Failed to load resource")
    url, kept = site
    page = tablet(open_browser(), url)
    chain = call(page, "setUp")
    save_some(page, 10, 2)
    none = ""
    kept.faults = [none, "swallow", none, none, "cut", "html", none, none, "swallow", none, "broken", none, "trickle"]
    assert call(page, "drain", 30) <= 30
    kinds = {request for fault, request in kept.failed if fault}
    assert {"POST chains", "PUT photos"} <= kinds
    exactly_once(page, kept, chain)


def test_entries_go_first_and_each_photo_is_a_request_of_its_own(
    open_browser: OpenBrowser, site: tuple[str, Kept]
) -> None:
    """Nothing large holds up the words, and a photo that fails is one photo. 30 entries name 30 photos of 30 kB."""
    url, kept = site
    page = tablet(open_browser(), url)
    chain = call(page, "setUp")
    save_some(page, 30)
    kept.asked.clear()
    assert call(page, "drain", 5) <= 5
    exactly_once(page, kept, chain)
    asked = [what for what, _ in kept.asked]
    words = [length for what, length in kept.asked if what == "POST chains"]
    photos = {what.removeprefix("PUT "): length for what, length in kept.asked if what.startswith("PUT ")}
    assert asked[: len(words)] == ["POST chains"] * len(words), "the words came after a photo"
    assert 100 < sum(words) < 32 * 2_000, "lines and heads, no photo's bytes"
    assert len(asked) - len(words) == len(photos) == len(kept.photos) >= 30, "one request a photo, each asked once"
    assert photos == {sha256: len(body) for sha256, body in kept.photos.items()}


def test_unsent_is_read_from_the_store_and_survives_a_restart(
    open_browser: OpenBrowser, site: tuple[str, Kept]
) -> None:
    context = open_browser()
    page = tablet(context, site[0])
    chain = call(page, "setUp")
    save_some(page, 3)
    context.close()
    page = tablet(open_browser(), site[0])
    call(page, "refreshStatus")
    now = page.evaluate("window.tablet.now()")
    assert (now["unsent"], now["unsentPhotos"]) == (5, 4)
    assert now["oldestUnsentMs"] is not None
    assert call(page, "drain", 5) <= 5
    exactly_once(page, site[1], chain)


def test_a_restored_server_gets_everything_again(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    url, kept = site
    page = tablet(open_browser(), url)
    chain = call(page, "setUp")
    save_some(page, 5)
    call(page, "drain", 5)
    kept.lines[chain] = kept.lines[chain][:2]
    kept.photos.clear()
    kept.epoch = {"n": 2, "id": "second"}
    assert call(page, "drain", 10) <= 10
    exactly_once(page, kept, chain)


def test_an_older_server_is_sent_nothing_and_the_operator_is_asked(
    open_browser: OpenBrowser, site: tuple[str, Kept]
) -> None:
    url, kept = site
    kept.epoch = {"n": 5, "id": "fifth"}
    page = tablet(open_browser(), url)
    chain = call(page, "setUp")
    inspection = save_some(page, 1)
    call(page, "drain", 5)
    had = list(kept.lines[chain])
    call(page, "find", inspection, 0, 0)
    kept.epoch = {"n": 4, "id": "fourth"}
    call(page, "sendNow")
    assert page.evaluate("window.tablet.now().stopped") == "epoch_back"
    assert page.evaluate("window.tablet.now().unsent") == 1
    assert kept.lines[chain] == had


@pytest.mark.parametrize("server_has", ["more", "other"])
def test_a_chain_the_server_has_otherwise_is_ended_and_a_new_one_names_it(
    server_has: str, open_browser: OpenBrowser, site: tuple[str, Kept]
) -> None:
    url, kept = site
    page = tablet(open_browser(), url)
    old = call(page, "setUp")
    inspection = save_some(page, 2)
    call(page, "drain", 5)
    if server_has == "more":
        kept.lines[old].append(b'{"seq":5,"from":"a twin of this tablet"}')
        reason = "server_ahead"
    else:
        call(page, "find", inspection, 1, 1000)
        kept.lines[old].append(b'{"seq":5,"from":"a twin of this tablet"}')
        reason = "forked"
    assert call(page, "drain", 10) <= 10
    new = page.evaluate("window.tablet.now().chain")
    assert new != old
    assert [(each["old"]["chain"], each["old"]["seq"], each["why"]) for each in kept.chained] == [(old, 5, reason)]
    save_some(page, 1)
    assert call(page, "drain", 10) <= 10
    exactly_named = [row["hash"] for row in call(page, "look")["rows"]]
    assert len(exactly_named) == len(kept.lines[new]) == 3
    assert len(kept.strays.get(old, [])) == (0 if server_has == "more" else 1)
    assert page.evaluate("window.tablet.now().strays") == (0 if server_has == "more" else 1)
    assert call(page, "openParts")[-1]["here"] is False, "the part begun in the old chain can only be continued"


def test_what_the_server_puts_aside_is_told_and_stays(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    url, kept = site
    page = tablet(open_browser(), url)
    call(page, "setUp")
    kept.aside = "person_unknown"
    save_some(page, 1)
    call(page, "drain", 5)
    aside = page.evaluate("window.tablet.now().aside")
    assert [(each["seq"], each["reason"]) for each in aside] == [(seq, "person_unknown") for seq in (1, 2, 3)]
    assert len(call(page, "look")["rows"]) == 3


def test_a_rotten_photo_is_never_sent_and_is_named(open_browser: OpenBrowser, site: tuple[str, Kept]) -> None:
    url, kept = site
    page = tablet(open_browser(), url)
    call(page, "setUp")
    inspection = call(page, "begin")
    sha256 = call(page, "find", inspection, 1, 1000)["photos"][0]
    call(page, "spoil", sha256)
    call(page, "drain", 3)
    now = page.evaluate("window.tablet.now()")
    assert now["damagedPhotos"] == [sha256]
    assert (now["unsent"], now["unsentPhotos"]) == (0, 1)
    assert sha256 not in kept.photos and len(kept.photos) == 1
