"""WebKit, the engine of Safari and of every browser on iPadOS, driven over the W3C's WebDriver protocol.

Debian's WebKitGTK on a screen of its own in memory (Xvfb). It has no camera, so photos come as files; it keeps nothing
from one session to the next, so a restart of the browser is not asked here, a reload is.
"""

from __future__ import annotations

import base64
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import httpx

LONGEST_WAIT_S = 60
NEEDED = ("Xvfb", "WebKitWebDriver", "dbus-run-session")
SCREEN = "1400x1100x24"

TAP = """const [wanted, within] = arguments; const named = new RegExp(wanted);
const words = (node) => [node.innerText.replace(/\\s+/g, ' ').trim(), node.getAttribute('aria-label') ?? ''];
const found = [...document.querySelectorAll(`${within} button, ${within} [role=radio]`)]
  .filter((node) => node.getClientRects().length > 0 && words(node).some((each) => named.test(each)));
if (found.length === 0 || found[0].getAttribute('aria-disabled') !== null) return false;
for (const move of ['pointerdown', 'pointerup']) found[0].dispatchEvent(new PointerEvent(move, { bubbles: true }));
found[0].click();
return true;"""
FILL = """const named = [...document.querySelectorAll('label')].find((each) => each.innerText.startsWith(arguments[0]));
const field = named.control;
field.value = arguments[1];
field.dispatchEvent(new Event('input', { bubbles: true }));"""
GIVE = """const bytes = Uint8Array.from(atob(arguments[1]), (sign) => sign.charCodeAt(0)), given = new DataTransfer();
given.items.add(new File([bytes], 'photo.jpg', { type: 'image/jpeg' }));
const field = [...document.querySelectorAll('label.way')].find((each) => each.innerText.includes(arguments[0]));
field.control.files = given.files;
field.control.dispatchEvent(new Event('change', { bubbles: true }));"""
BURST = """const moves = [...arguments[0], 'Enter'].flatMap((key) => ['keydown', 'keyup'].map((move) => [move, key]));
const pressed = moves.map(([move, key]) => new KeyboardEvent(move, { key, bubbles: true, cancelable: true }));
for (const each of pressed) (document.activeElement ?? document.body).dispatchEvent(each);"""
WATCH = """window.wrong = [];
addEventListener('error', (event) => window.wrong.push(event.message));
addEventListener('unhandledrejection', (event) => window.wrong.push(String(event.reason?.stack ?? event.reason)));
document.addEventListener('securitypolicyviolation', (event) => window.wrong.push(event.violatedDirective));"""


class WebKit:
    """One page of a WebKit browser. What it is asked for is tried until it is so, a minute at most."""

    def __init__(self, http: httpx.Client, session: str) -> None:
        self._http = http
        self._at = f"/session/{session}"

    def call(self, method: str, path: str, body: object | None = None) -> Any:
        """A command of the protocol; its value. Raises AssertionError with the browser's words."""
        answer = self._http.request(method, self._at + path, json=body if method == "POST" else None)
        value = answer.json()["value"]
        assert answer.status_code == 200, value
        return value

    def js(self, script: str, *given: object) -> Any:
        """What the body of a function answers in the page."""
        return self.call("POST", "/execute/sync", {"script": script, "args": list(given)})

    def open(self, address: str) -> None:
        """Loads a page and watches what goes wrong in it from then on."""
        self.call("POST", "/url", {"url": address})
        self.settled()
        self.js(WATCH)

    def reload(self) -> None:
        self.call("POST", "/refresh", {})
        self.settled()
        self.js(WATCH)

    def until(self, script: str, *given: object) -> None:
        """Waits until the body of a function answers true."""
        end = time.monotonic() + LONGEST_WAIT_S
        while True:
            with suppress(AssertionError):  # the page may be between two documents
                if self.js(script, *given):
                    return
            assert time.monotonic() < end, f"never came true: {script[:200]} {given}\n{self.words()}"
            time.sleep(0.02)

    def settled(self) -> None:
        self.until("return document.documentElement.hasAttribute('data-settled')")

    def says(self, words: str, where: str = "body") -> None:
        """Waits until `where` says `words`."""
        self.until("return document.querySelector(arguments[1])?.innerText.includes(arguments[0])", words, where)

    def tap(self, named: str, within: str = "body") -> None:
        """The first button or choice whose words fit a pattern, once it is there and acts."""
        self.until(TAP, named, within)
        self.settled()

    def fill(self, label: str, text: str) -> None:
        self.js(FILL, label, text)

    def scan(self, text: str) -> None:
        """As a keyboard reader sends it."""
        self.js(BURST, text)

    def give_file(self, way: str, picture: Path) -> None:
        """A picture as the tablet's camera sheet or a choice of files hands it over."""
        self.until(
            "return [...document.querySelectorAll('label.way')].some((each) => each.innerText.includes(arguments[0]))",
            way,
        )
        self.settled()
        self.js(GIVE, way, base64.b64encode(picture.read_bytes()).decode())

    def sign_in(self, person: str, pin: str) -> None:
        """Chosen by name, proved by PIN."""
        self.tap(f"{person}|^Others", "main")
        if "PIN for" not in self.words():
            self.tap(person, "main")
        self.says(f"PIN for {person}")
        for digit in pin:
            self.tap(f"^{digit}$", ".pad")
        self.tap("^Enter$", ".pad")
        self.until("return !document.querySelector('h1').innerText.includes('Badge in')")
        self.settled()

    def heading(self) -> str:
        return str(self.js("return document.querySelector('h1').innerText")).strip()

    def words(self) -> str:
        """All words on the screen."""
        return str(self.js("return document.body.innerText"))

    def wrong(self) -> list[str]:
        """Errors and broken policies of the document that stands."""
        return list(self.js("return window.wrong"))

    def picture(self, target: Path) -> None:
        target.write_bytes(base64.b64decode(self.call("GET", "/screenshot")))

    def turn(self, width: int, height: int) -> None:
        self.call("POST", "/window/rect", {"width": width, "height": height})


@contextmanager
def webkit(folder: Path) -> Iterator[WebKit]:
    """A WebKit browser with a page, ended whatever happens; what it prints goes to `folder`."""
    absent = [name for name in NEEDED if shutil.which(name) is None]
    assert absent == [], (
        f"not installed: {absent}; apt-get install -y --no-install-recommends xvfb dbus webkit2gtk-driver"
    )
    with open(folder / "webkit.log", "w") as told:
        read, write = os.pipe()
        screen = subprocess.Popen(
            ["Xvfb", "-displayfd", str(write), "-screen", "0", SCREEN], stderr=told, pass_fds=[write]
        )
        os.close(write)
        with os.fdopen(read) as number:
            display = f":{number.readline().strip()}"
        env = {**os.environ, "DISPLAY": display, "LIBGL_ALWAYS_SOFTWARE": "1"}
        port = free_port()
        driver = subprocess.Popen(
            ["dbus-run-session", "--", "WebKitWebDriver", "-p", str(port)], env=env, stdout=told, stderr=told
        )
        try:
            with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120) as http:
                session = begun(http)
                try:
                    yield WebKit(http, session)
                finally:
                    with suppress(httpx.HTTPError):
                        http.delete(f"/session/{session}")
        finally:
            for process in (driver, screen):
                process.terminate()
                process.wait(30)


def begun(http: httpx.Client) -> str:
    """The session, once the driver listens."""
    end = time.monotonic() + LONGEST_WAIT_S
    (mini,) = sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"))[:1]
    wanted = {"webkitgtk:browserOptions": {"binary": str(mini), "args": ["--automation"]}}
    while True:
        try:
            answer = http.post("/session", json={"capabilities": {"alwaysMatch": wanted}})
            return str(answer.json()["value"]["sessionId"])
        except httpx.ConnectError:
            assert time.monotonic() < end, "the driver does not listen"
            time.sleep(0.05)


def free_port() -> int:
    """A port nobody listens at now."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])
