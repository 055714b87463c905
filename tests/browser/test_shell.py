"""The bare screen: opens under the final policy, and opens again without a server."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from browser.conftest import Guard, OpenBrowser, controlled, eventually, settled
from browser.eyes import keep_picture
from live_server import LiveServer
from playwright.sync_api import Error, Page

pytestmark = pytest.mark.sink

NOBODY_ANSWERS = "net::ERR_CONNECTION_"
"""What Chromium itself notes when the page asks a dead server, or asked it as it died; the page goes on."""

TAKES_HTML = """() => {
  try { document.createElement('div').innerHTML = '<b>x</b>'; return 'taken'; }
  catch (refused) { return refused.name; }
}"""
RUNS_TEXT = """() => new Promise((done) => setTimeout(() => {
  // Later, because what a debugger runs itself is exempt from the policy.
  try { done(eval('1 + 1')); } catch (refused) { done(refused.name); }
}))"""


def open_first_page(page: Page, server: LiveServer) -> None:
    page.goto(server.url + "/")
    settled(page)


def test_the_page_opens_without_a_violation_of_its_policy(
    browser_page: Page, server: LiveServer, screens: Path
) -> None:
    open_first_page(browser_page, server)
    controlled(browser_page)
    assert browser_page.title() == "Loupebook"
    keep_picture(browser_page, screens / "shell.png")


def test_the_policy_is_in_force(browser_page: Page, server: LiveServer, guard: Guard) -> None:
    """Trusted Types (W3C) refuse a plain string by TypeError; CSP 3 refuses eval by EvalError."""
    open_first_page(browser_page, server)
    guard.allow("TrustedHTML")
    guard.allow("TrustedScript")
    guard.allow("eval")
    assert browser_page.evaluate(TAKES_HTML) == "TypeError"
    assert browser_page.evaluate(RUNS_TEXT) == "EvalError"


def test_the_page_opens_again_when_the_server_is_dead(browser_page: Page, server: LiveServer, guard: Guard) -> None:
    guard.allow(NOBODY_ANSWERS)
    open_first_page(browser_page, server)
    controlled(browser_page)
    server.kill()
    browser_page.reload()
    settled(browser_page)
    assert browser_page.get_by_role("heading", level=1).is_visible()
    assert browser_page.evaluate("document.fonts.check('18px \"Atkinson Hyperlegible Next Variable\"')")


def test_the_page_opens_in_a_restarted_browser_when_the_server_is_dead(
    open_browser: OpenBrowser, server: LiveServer, guard: Guard
) -> None:
    guard.allow(NOBODY_ANSWERS)
    first = open_browser(profile="kept")
    open_first_page(first.pages[0], server)
    controlled(first.pages[0])
    first.close()
    server.kill()
    again = open_browser(profile="kept").pages[0]
    again.goto(server.url + "/#/anywhere")
    settled(again)
    assert again.get_by_role("heading", level=1).is_visible()


def test_routes_of_the_server_are_never_answered_from_the_store(
    browser_page: Page, server: LiveServer, guard: Guard
) -> None:
    open_first_page(browser_page, server)
    controlled(browser_page)
    ask = "() => fetch('/health').then((reply) => reply.status, () => 'no answer')"
    assert browser_page.evaluate(ask) == 200
    server.kill()
    guard.allow("/health")
    assert browser_page.evaluate(ask) == "no answer"


def test_every_request_stays_at_the_server(browser_page: Page, server: LiveServer, guard: Guard) -> None:
    open_first_page(browser_page, server)
    controlled(browser_page)
    assert guard.requests, "the guard saw no request at all"
    assert {url for url in guard.requests if not url.startswith(server.url + "/")} == set()


def test_the_guards_see_what_they_are_for(browser_page: Page, server: LiveServer, guard: Guard) -> None:
    open_first_page(browser_page, server)
    browser_page.evaluate("() => document.body.setAttribute('style', 'color: red')")
    browser_page.evaluate("() => fetch('http://elsewhere.invalid/').catch(() => 0)")
    other = browser_page.context.new_page()
    with pytest.raises(Error, match="ERR_NAME_NOT_RESOLVED"):
        other.goto("http://elsewhere.invalid/")
    seen, guard.found = guard.found, []
    assert any("style-src" in line for line in seen)
    assert any("connect-src" in line for line in seen)
    assert "left the origin: http://elsewhere.invalid/" in seen


def test_a_new_build_waits_for_a_safe_point(browser_page: Page, server: LiveServer, tmp_path: Path, root: Path) -> None:
    open_first_page(browser_page, server)
    controlled(browser_page)
    browser_page.evaluate("() => { window.sameVisit = true; }")
    server.stop()
    server.start(LOUPEBOOK_DIST=str(next_build(root / "frontend" / "dist", tmp_path / "next")))

    browser_page.evaluate("() => navigator.serviceWorker.getRegistration().then((one) => one.update())")
    holds_waiting = "() => navigator.serviceWorker.getRegistration().then((one) => one.waiting !== null)"
    eventually(browser_page, holds_waiting)
    assert browser_page.evaluate("window.sameVisit"), "the page was loaded anew under the person's hands"
    assert browser_page.evaluate("caches.keys().then((names) => names.length)") == 2

    browser_page.reload()
    eventually(browser_page, holds_waiting.replace("!==", "==="))
    settled(browser_page)


def next_build(dist: Path, folder: Path) -> Path:
    """A copy of the build that says it is another one."""
    shutil.copytree(dist, folder)
    build = json.loads((dist / "build.json").read_text())["build"]
    worker = (dist / "sw.js").read_text()
    assert build in worker
    (folder / "sw.js").write_text(worker.replace(build, "0" * 12))
    (folder / "sw.js.gz").unlink()
    return folder
