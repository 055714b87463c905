"""The tablet's record against the real server: enrolled, signed in, sent, killed half-way, sent again.

The bare page of the record is put at the server's own address, so that every request meets the server's own
policy, host check and doors.
"""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.conftest import Guard, OpenBrowser, settled
from browser.store_server import build_page
from browser.test_store import call
from live_server import LiveServer
from loupebook.headers import HEADERS
from playwright.sync_api import BrowserContext, Page, Route

pytestmark = pytest.mark.sink


@pytest.fixture(scope="session")
def real_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bare page of the record, built once."""
    folder = tmp_path_factory.mktemp("store-page")
    build_page(folder)
    return folder


@pytest.fixture
def tablet_page(open_browser: OpenBrowser, real_page: Path, server: LiveServer) -> Iterator[Page]:
    """A new tablet's page at the server's address."""
    yield opened(open_browser(), real_page, server)


def opened(context: BrowserContext, folder: Path, server: LiveServer) -> Page:
    def serve(route: Route) -> None:
        path = folder / route.request.url.split("?")[0].removeprefix(server.url + "/")
        kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        route.fulfill(body=path.read_bytes(), headers={**HEADERS, "content-type": kind})

    for pattern in ("/index.html", "/assets/*", "/favicon.ico"):
        context.route(server.url + pattern, serve)
    page = context.pages[0]
    page.goto(server.url + "/index.html")
    settled(page)
    return page


def first_code(server: LiveServer) -> str:
    return server.said("First code").split()[2]


def in_vault(server: LiveServer, named: list[str]) -> bool:
    """Whether the server keeps each of these photos byte for byte. What it gives out is the picture alone."""
    files = {path.name.split(".")[0]: path for path in (server.data / "vault").rglob("*") if path.is_file()}
    return len(named) > 0 and all(hashlib.sha256(files[each].read_bytes()).hexdigest() == each for each in named)


def on_server(page: Page) -> tuple[tuple[object, object], tuple[object, object]]:
    """The server's head and the tablet's: (seq, hash) each."""
    head = call(page, "serverHead")
    last = call(page, "look")["rows"][-1]
    return (head["seq"], head["hash"]), (last["seq"], last["hash"])


def test_a_new_tablet_is_enrolled_inspects_and_everything_is_on_the_server(
    tablet_page: Page, server: LiveServer
) -> None:
    page = tablet_page
    person = call(page, "setUpFirst", first_code(server))
    assert page.evaluate("window.tablet.cards.people().then((people) => people.map((each) => each.person))") == [person]
    inspection = call(page, "inspectReally", 3, 200_000)
    assert call(page, "drain", 10) <= 10
    now = page.evaluate("window.tablet.now()")
    assert (now["unsent"], now["unsentPhotos"], now["aside"], now["stopped"]) == (0, 0, [], None)
    assert now["online"] is True
    theirs, ours = on_server(page)
    assert theirs == ours
    looked = call(page, "look")
    named = [sha256 for row in looked["rows"] for sha256 in row["photos"]]
    assert in_vault(server, named) and len(named) == 4
    state = call(page, "inspectionState", inspection)
    assert {entry["way"] for entry in state["entries"]} == {"on_server"}
    assert state["entries"][0]["entry"]["proof"]["where"] == "online"


def test_a_pin_is_known_without_the_server_and_a_wrong_one_is_not(
    tablet_page: Page, server: LiveServer, guard: Guard
) -> None:
    guard.allow("Failed to load resource")
    page = tablet_page
    person = call(page, "setUpFirst", first_code(server))
    again = "([person, pin]) => window.tablet.cards.signIn(person, pin).then((who) => who.proof, (cause) => cause.name)"
    assert page.evaluate(again, [person, "593047"])["where"] == "online"
    server.kill()
    page.evaluate("window.tablet.cards.lock()")
    assert page.evaluate(again, [person, "593048"]) == "WrongPin"
    assert page.evaluate(again, ["nobody", "593047"]) == "NoPinCheck"
    server.start()
    assert page.evaluate(again, [person, "593048"]) == "WrongPin"


def test_a_server_killed_while_it_receives_ends_exactly_once(
    tablet_page: Page, server: LiveServer, guard: Guard
) -> None:
    guard.allow("Failed to load resource")
    page = tablet_page
    call(page, "setUpFirst", first_code(server))
    for _ in range(3):
        call(page, "inspectReally", 4, 300_000)
        with page.expect_request(lambda request: "/photos/" in request.url or "/entries" in request.url):
            page.evaluate("void (window.sending = window.tablet.sendNow())")
        server.kill()
        page.evaluate("window.sending")
        server.start()
    assert call(page, "drain", 20) <= 20
    theirs, ours = on_server(page)
    assert theirs == ours == (18, ours[1])
    looked = call(page, "look")
    assert in_vault(server, [sha256 for row in looked["rows"] for sha256 in row["photos"]])
    assert page.evaluate("window.tablet.now().aside") == []
