"""Real Chromium against a real server, with guards that no test can forget."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from live_server import LiveServer
from playwright.sync_api import (
    BrowserContext,
    ConsoleMessage,
    Error,
    Page,
    Playwright,
    Request,
    expect,
    sync_playwright,
)

FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
NO_NAMES = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"
"""No name but loopback is ever found, so a request that leaves would fail even where nobody listens for it."""

TABLET = {"width": 1180, "height": 820}

LONGEST_WAIT_MS = 60_000
"""A wait for something that never comes ends here and says what it was for, instead of holding the run."""

expect.set_options(timeout=LONGEST_WAIT_MS)

if TYPE_CHECKING:
    from browser.sink import Sink
    from browser.sink_house import House

NO_SOUND = "The AudioContext encountered an error from the audio device"
"""What the browser says now and then of a machine without a sound device; what is heard is shown too."""

OpenBrowser = Callable[..., BrowserContext]

BEGUN_FIRST = (
    "test_look.py",
    "test_points.py",
    "test_desk.py",
    "test_repair.py",
    "test_sink_kept.py",
    "test_sink_trouble.py",
    "test_parts.py",
)
"""The files that take longest: begun first, so that no worker is left with one of them when the others are done."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files that take longest come first; the rest stays in its order."""
    items.sort(
        key=lambda item: BEGUN_FIRST.index(item.path.name) if item.path.name in BEGUN_FIRST else len(BEGUN_FIRST)
    )


def pytest_exception_interact(node: pytest.Item | pytest.Collector) -> None:
    """Notes what failed."""
    from browser.sink import BROKEN

    BROKEN.append(node.nodeid)


class Guard:
    """Collects what must not happen in any page: console errors, policy violations, requests to elsewhere."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self.allowed: list[str] = []
        self.requests: list[str] = []

    def watch(self, context: BrowserContext) -> None:
        """Watches every page and worker of a context."""
        context.on("console", self._console)
        context.on("weberror", lambda failure: self.found.append(f"uncaught: {failure.error}"))
        context.on("request", self._request)

    def allow(self, text: str) -> None:
        """A console line this test brings about on purpose."""
        self.allowed.append(text)

    def unexpected(self) -> list[str]:
        """What was found and not allowed."""
        return [line for line in self.found if not any(text in line for text in self.allowed)]

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning") and not message.text.startswith(NO_SOUND):
            self.found.append(f"console {message.type}: {message.text} {message.location.get('url', '')}")

    def _request(self, request: Request) -> None:
        self.requests.append(request.url)
        if not request.url.startswith(("http://127.0.0.1:", "http://localhost:", "blob:", "data:")):
            self.found.append(f"left the origin: {request.url}")


@pytest.fixture(scope="session")
def chromium() -> str:
    """Debian's Chromium; a machine without it fails, it does not skip."""
    path = shutil.which("chromium")
    assert path is not None, "chromium is not installed: apt-get install -y --no-install-recommends chromium"
    return path


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """One Playwright for the run."""
    with sync_playwright() as started:
        yield started


@pytest.fixture
def guard() -> Iterator[Guard]:
    """Fails the test at its end for anything unexpected in any browser it opened."""
    guard = Guard()
    yield guard
    assert guard.unexpected() == []


@pytest.fixture
def browsers() -> list[BrowserContext]:
    """The browsers a test opened. They close before its server ends, which their pages would notice and say."""
    return []


def close(browsers: list[BrowserContext]) -> None:
    """Closes the browsers a test opened."""
    while browsers:
        browsers.pop().close()


@pytest.fixture
def server(tmp_path: Path, browsers: list[BrowserContext]) -> Iterator[LiveServer]:
    """A running server with a data folder of its own: .url .stop() .start() .kill() .data .printed."""
    live = LiveServer(tmp_path / "record").start()
    yield live
    close(browsers)
    live.close()


def launch(
    playwright: Playwright,
    chromium: str,
    profile: Path,
    camera: Path | None = None,
    flags: tuple[str, ...] = (),
    **options: object,
) -> BrowserContext:
    """A Chromium on the profile folder; the words are those of `open_browser`."""
    given = [*FLAGS, NO_NAMES, *flags]
    if os.geteuid() == 0:
        given.append("--no-sandbox")
    if camera is not None:
        given += [
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-video-capture={camera.absolute()}",
        ]
    settings: dict[str, object] = {"viewport": TABLET, "has_touch": True, "reduced_motion": "reduce", **options}
    context = playwright.chromium.launch_persistent_context(
        str(profile),
        executable_path=chromium,
        args=given,
        **settings,  # type: ignore[arg-type]
    )
    context.set_default_timeout(LONGEST_WAIT_MS)
    return context


@pytest.fixture
def open_browser(
    playwright: Playwright, chromium: str, guard: Guard, tmp_path: Path, browsers: list[BrowserContext]
) -> Iterator[OpenBrowser]:
    """Opens a browser with a profile on disk.

    `profile` names it: closing the context and opening the same name again is a restarted browser.
    `camera` is an .mjpeg or .y4m file that plays as the camera; None = no camera at all.
    `flags` are more command-line flags; all other words go to Playwright's context.
    """

    def start(
        profile: str = "tablet", camera: Path | None = None, flags: tuple[str, ...] = (), **options: object
    ) -> BrowserContext:
        context = launch(playwright, chromium, tmp_path / "profiles" / profile, camera, flags, **options)
        guard.watch(context)
        browsers.append(context)
        return context

    yield start
    close(browsers)


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory, playwright: Playwright, chromium: str) -> House:
    """The record that every sink begins with, laid once a run, and the profile its tablets begin with."""
    from browser.sink_house import lay_house
    from browser.worn import wear

    laid = lay_house(tmp_path_factory.mktemp("house") / "record")
    return replace(laid, worn=wear(laid, tmp_path_factory.mktemp("worn"), playwright, chromium))


@pytest.fixture(scope="session")
def store_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bare page of the record, built once."""
    from browser.store_server import build_page

    folder = tmp_path_factory.mktemp("store-page")
    build_page(folder)
    return folder


@pytest.fixture(scope="module")
def shared_sink(
    house: House, playwright: Playwright, chromium: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Sink]:
    """One server and its tablets for the tests of a file that say they share it."""
    from browser.sink import at_sink

    with at_sink(house, tmp_path_factory.mktemp("sink"), playwright, chromium) as sink:
        yield sink


@pytest.fixture
def sink(shared_sink: Sink) -> Iterator[Sink]:
    """The shared sink; fails the test at its end for anything unexpected in any browser of it."""
    shared_sink.guard.found.clear()
    yield shared_sink
    assert shared_sink.guard.unexpected() == []


@pytest.fixture
def own_sink(house: House, playwright: Playwright, chromium: str, tmp_path: Path) -> Iterator[Sink]:
    """A server and tablets for one test alone."""
    from browser.sink import at_sink

    with at_sink(house, tmp_path, playwright, chromium) as sink:
        yield sink
        assert sink.guard.unexpected() == []


@pytest.fixture
def browser_page(open_browser: OpenBrowser) -> Page:
    """One page of a fresh browser."""
    return open_browser().pages[0]


def settled(page: Page) -> None:
    """Waits until the page says that nothing is under way."""
    page.wait_for_selector("html[data-settled]", state="attached")


def holds(page: Page, condition: str) -> None:
    """Waits until a JavaScript expression is true in the page, looked at each frame.

    Playwright's own wait_for_function compiles text inside the page, which the policy refuses.
    """
    came = page.evaluate(
        f"() => new Promise((done) => {{ const end = performance.now() + {LONGEST_WAIT_MS}; const look = () => ("
        + condition
        + ") ? done(true) : performance.now() > end ? done(false) : requestAnimationFrame(look); look(); })"
    )
    assert came, f"never came true: {condition}"


def controlled(page: Page) -> None:
    """Waits until the service worker answers for the page; on a first visit that is a moment after it is ready."""
    holds(page, "navigator.serviceWorker.controller !== null")


def eventually(page: Page, ask: str) -> None:
    """Waits until an async JavaScript function answers true, asked each frame; a reload in between is no matter."""
    look = (
        f"async (left) => {{ const ask = {ask}; const end = performance.now() + left; "
        "while (!(await ask())) { if (performance.now() > end) return false; "
        "await new Promise(requestAnimationFrame); } return true; }"
    )
    end = time.monotonic() + LONGEST_WAIT_MS / 1000
    while True:
        try:
            assert page.evaluate(look, max(0, 1000 * (end - time.monotonic()))), f"never came true: {ask}"
            return
        except Error as broken:
            if "Execution context was destroyed" not in str(broken):
                raise
            page.wait_for_load_state()
