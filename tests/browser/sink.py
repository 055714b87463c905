"""Hands at the sink: drives the real app in a real browser by what a person does, and waits on facts alone.

A tap is a click in the middle of a control that is in view; each is counted. A scan is a burst of keys as a
keyboard reader sends it; it is no tap. The number of characters, the gaps and the end are those of `wedge-reader.ts`.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from browser.conftest import LONGEST_WAIT_MS, Guard, holds, launch, settled
from browser.kills import kill
from browser.plates import film, plate, udi
from browser.sink_house import PIN, House, Scope, copy_of
from door_world import Tablet as DeskTablet
from door_world import public_key
from loupebook.record.hashes import entry_hash
from playwright.sync_api import BrowserContext, Error, Locator, Page, Playwright
from quick_server import QuickServer

BROKEN: list[str] = []
"""The tests that failed so far; after one, each sink that ends leaves a picture of how it stood."""

LANDSCAPE = {"width": 1180, "height": 820}
PORTRAIT = {"width": 820, "height": 1180}
LOW = {"width": 1280, "height": 720}
"""A ten-inch tablet with the bars of its system."""
SHUTTER = re.compile("^Take the photo")
NOTHING_FOUND = "Looked, nothing found"
ZONE = re.compile(r"^Whole .*: looked, nothing found · \d+ parts$")

BURST = """(text) => {
  const moves = [...text, 'Enter'].flatMap((key) => ['keydown', 'keyup'].map((move) => [move, key]));
  // Made before the first is heard: a key carries the time at which it was pressed, however long a page takes over it.
  const pressed = moves.map(([move, key]) => new KeyboardEvent(move, { key, bubbles: true, cancelable: true }));
  for (const each of pressed) (document.activeElement ?? document.body).dispatchEvent(each);
}"""
TARGET = """(button) => {
  const box = button.getBoundingClientRect();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const seen = box.width > 0 && box.height > 0 && button.checkVisibility({ visibilityProperty: true });
  const main = button.matches('.hand .btn.filled, .hand .btn.best');
  return {
    x, y, seen,
    name: (button.getAttribute('aria-label') ?? button.innerText).replaceAll('\\n', ' '),
    waits: button.hasAttribute('aria-disabled'),
    inside: x >= 0 && x < innerWidth && y >= 0 && y < innerHeight,
    whole: !main || (box.top >= 0 && box.bottom <= innerHeight),
    free: seen && !button.disabled && button.contains(document.elementFromPoint(x, y)),
  };
}"""
"""What is asked of a control that somebody wants to tap: where its middle is and whether that is in view, whether a
main act is in view as a whole, and whether nothing lies over it."""
TOLD = """(sent) => new Promise((done, fail) => {
  const until = performance.now() + sent.longest;
  const look = () => {
    const text = document.querySelector(sent.where)?.textContent ?? '';
    if (sent.is === undefined ? text !== sent.was : text.includes(sent.is)) done(text);
    else if (performance.now() > until) fail(new Error(`not said: ${sent.is ?? 'anything else'}; it says: ${text}`));
    else requestAnimationFrame(look);
  };
  look();
})"""
STORED = """(store) => new Promise((done, fail) => {
  const ask = indexedDB.open('loupebook');
  ask.onerror = () => fail(ask.error);
  ask.onsuccess = () => {
    const read = ask.result.transaction(store).objectStore(store).getAll();
    read.onerror = () => fail(read.error);
    read.onsuccess = () => {
      ask.result.close();
      done(read.result.map((row) => {
        const { bytes, line, photos, ...rest } = row;
        return {
          ...rest, ...(line === undefined ? {} : { line: new TextDecoder().decode(line) }),
          ...(photos === undefined ? {} : { photos: photos.map((photo) => photo.sha256) }),
        };
      }));
    };
  };
})"""
TITLES: dict[str, str] = {
    "leak": "Leak test",
    "finding": "What, and how much: one tap",
    "cycle": "Where is it in the cycle?",
    "serial": "Photograph the serial number",
}


@dataclass
class Hands:
    """One person at one tablet: the page, and every tap made so far."""

    page: Page
    taps: list[str] = field(default_factory=list)

    # ------------------------------------------------------------ looking

    def button(self, name: str | re.Pattern[str], within: str = "body") -> Locator:
        """The one button (or choice) that is called so; `name` is its whole visible name, or a pattern of it."""
        exact = isinstance(name, str)
        scope = self.page.locator(within)
        named = scope.get_by_role("button", name=name, exact=exact) if exact else scope.get_by_role("button", name=name)
        chosen = scope.get_by_role("radio", name=name, exact=exact) if exact else scope.get_by_role("radio", name=name)
        return named.or_(chosen)

    def heading(self) -> str:
        """The words of the screen's heading."""
        return self.page.locator("h1").first.inner_text()

    def text(self) -> str:
        """All words on the screen."""
        return self.page.locator("body").inner_text()

    def wait_for(self, words: str, where: str = "body") -> None:
        """Waits until `where` says `words`."""
        self.page.evaluate(TOLD, {"where": where, "is": words, "longest": LONGEST_WAIT_MS})

    def wait_changed(self, where: str, was: str) -> str:
        """Waits until `where` says something else; what it says."""
        return str(self.page.evaluate(TOLD, {"where": where, "was": was, "longest": LONGEST_WAIT_MS}))

    def wait_screen(self, name: str) -> None:
        """Waits until a screen stands and nothing is under way on it."""
        self.wait_for(TITLES.get(name, name), "h1")
        settled(self.page)

    # ------------------------------------------------------------ acting

    def tap(self, name: str | re.Pattern[str], within: str = "body") -> None:
        """One tap on a control that is in view and acts; that it is the only one of its name is asked too."""
        self.tap_on(self.button(name, within))

    def tap_on(self, target: Locator) -> None:
        """One tap on the middle of a control, as it lies on the screen.

        All that is asked of it is asked at once, and what lies there uncovered is tapped at that spot. All else goes
        by the browser driver's own click, which waits until the control can be pressed.
        """
        found = target.evaluate(TARGET)
        if not found["seen"]:
            target.wait_for()
            found = target.evaluate(TARGET)
        name, x, y = found["name"], found["x"], found["y"]
        assert not found["waits"], f"it waits: {name}"
        assert found["inside"], f"out of view: {name} at {x:.0f}, {y:.0f}"
        assert found["whole"], f"the main act is cut off: {name}"
        if found["free"]:
            self.page.mouse.click(x, y)
        else:
            target.click()
        self.taps.append(name)

    def scan(self, text: str) -> None:
        """A keyboard reader sends `text` and Enter."""
        self.page.evaluate(BURST, text)

    def scan_into_field(self, text: str) -> None:
        """The same with real keys while a text field has the focus, 10 ms apart by the page's own, stopped clock."""
        clock = self.page.clock
        clock.pause_at(datetime.fromtimestamp(self.page.evaluate("Date.now()") / 1000 + 1, UTC))
        for sign in text:
            self.page.keyboard.press(sign)
            clock.run_for(10)
        self.page.keyboard.press("Enter")
        clock.resume()

    def give_file(self, way: str, picture: Path) -> None:
        """A picture through the tablet's own camera sheet or as a file: a tap, then what the tablet hands over."""
        with self.page.expect_file_chooser() as asked:
            self.tap_on(self.page.locator(".way", has_text=way))
        asked.value.set_files(picture)

    def type(self, label: str, text: str) -> None:
        """Words into a field."""
        self.page.get_by_label(label, exact=True).fill(text)

    def digits(self, pin: str) -> None:
        """A PIN on the pad, then Enter."""
        for digit in pin:
            self.tap(digit, ".pad")
        self.tap("Enter", ".pad")

    # ------------------------------------------------------------ the steps of an inspection

    def serial_photo(self, then: str | None = None) -> None:
        """The photo of the serial number whose code agrees: one tap, and the inspection has begun."""
        self.wait_screen("serial")
        self.page.wait_for_selector("video[data-live]")
        self.tap(SHUTTER)
        if then is None:
            self.wait_changed("h1", TITLES["serial"])
        else:
            self.wait_screen(then)
        settled(self.page)

    def answer(self, name: str | re.Pattern[str]) -> None:
        """An answer about the part in hand, after which another screen or part stands."""
        before = self.heading()
        self.tap(name, ".hand")
        self.wait_changed("h1", before)
        settled(self.page)

    def nothing_found(self) -> None:
        self.answer(NOTHING_FOUND)

    def could_not_look(self, reason: str) -> None:
        self.tap("Could not look", ".hand")
        self.answer(reason)

    def choose(self, finding: str, grade: str, since: str = "New") -> None:
        """What and how much in one tap, and how it stands against the last inspection in another."""
        row = self.page.get_by_role("group", name=finding, exact=True)
        self.tap_on(row.get_by_role("button", name=grade, exact=True))
        self.tap(since, ".hand")

    def take_photo(self) -> None:
        """A photo of the part in hand, kept."""
        before = self.heading()
        self.tap(re.compile("^(Photo|One more photo)$"), ".hand")
        self.page.wait_for_selector("video[data-live]")
        self.tap(SHUTTER)
        self.tap("Keep 1 photo")
        holds(self.page, "!location.hash.startsWith('#/photo')")
        self.wait_for(before, "h1")
        settled(self.page)

    def finish_route(self) -> int:
        """Looked, nothing found, for every zone and part that is left; how many taps that took."""
        taps = len(self.taps)
        while "#/route" in self.page.url and self.page.locator(".hand .btn.filled").count() == 1:
            zone = self.button(ZONE, ".hand")
            self.answer(ZONE if zone.count() == 1 else NOTHING_FOUND)
            assert len(self.taps) - taps < 40, "the route does not end"
        return len(self.taps) - taps

    # ------------------------------------------------------------ what is kept

    def stored(self, store: str) -> list[dict[str, Any]]:
        """The rows of a store of the tablet, without bytes."""
        return list(self.page.evaluate(STORED, store))

    def entries(self) -> list[dict[str, Any]]:
        """Every entry on the tablet, in the order of its chain, parsed."""
        return [json.loads(row["line"]) for row in sorted(self.stored("entries"), key=lambda row: int(row["seq"]))]

    def wait_sent(self) -> None:
        """Waits until the corner says that everything is on the server."""
        self.wait_for("All on the server", ".bar")

    def corner(self) -> str:
        """What the corner says is kept, and where."""
        return self.page.locator(".bar button.corner").first.inner_text().replace("\n", " ")

    def badge(self) -> str:
        """Whose name is on the screen."""
        return str(self.page.locator(".bar button.corner").last.get_attribute("aria-label"))


@dataclass
class Sink:
    """A server on a copy of the house, its tablets, and what must not happen in any of them."""

    folder: Path
    house: House
    playwright: Playwright
    chromium: str
    guard: Guard = field(default_factory=Guard)
    contexts: dict[str, BrowserContext] = field(default_factory=dict)
    desk: Lead | None = None

    def __post_init__(self) -> None:
        self.server = QuickServer(copy_of(self.house, self.folder / "record"))
        self.server.port = 0 if self.house.worn is None else self.house.worn.take()
        self.server.start()

    @property
    def drawn(self) -> Path:
        """Where pictures and films lie that every sink of this run shows: each is drawn once."""
        return self.house.folder.parent

    def camera(self, serial: str = "2741906", coded: bool = True) -> Path:
        """A film of the plate with this number, with its code or without one."""
        target = self.drawn / f"{serial}-{coded}.mjpeg"
        if not target.exists():
            film(target, [plate(serial, self.drawn, udi(serial) if coded else None)])
        return target

    def plate(self, serial: str, coded: bool = True) -> Path:
        """One picture of the plate with this number, as a tablet's own camera would give it."""
        target = self.drawn / f"{serial}-{coded}.jpg"
        if not target.exists():
            plate(serial, self.drawn, udi(serial) if coded else None).convert("RGB").save(target, quality=92)
        return target

    def open(
        self,
        name: str,
        camera: Path | None = None,
        path: str = "/",
        clock: bool = False,
        offline: bool = False,
        script: str | None = None,
        **options: Any,
    ) -> Hands:
        """The app in a browser of its own profile; with `clock` its time can be stopped and moved.

        `offline`: opened without the network, by what the service worker kept. `script`: a JavaScript function that
        every page of it runs before anything of ours.
        """
        context = launch(self.playwright, self.chromium, self.folder / "profiles" / name, camera, **options)
        self.guard.watch(context)
        self.contexts[name] = context
        if script is not None:
            context.add_init_script(f"({script})()")
        page = context.pages[0]
        # Asked for from the start: where it is asked for at the press alone, the browser may open its own sheet first.
        page.on("filechooser", lambda _: None)
        if clock:
            page.clock.install()
        if offline:
            context.set_offline(True)
        page.goto(self.server.url + path)
        settled(page)
        return Hands(page)

    def tablet(
        self,
        name: str = "Sink 2",
        person: str = "Ila Venn",
        camera: Path | Literal["plate", "none"] = "plate",
        **options: Any,
    ) -> Hands:
        """A tablet that was just enrolled, with a person signed in by PIN, on its home screen. It opened the app
        before, where the sink's port allows that."""
        film = self.camera() if camera == "plate" else None if isinstance(camera, str) else camera
        if self.house.worn is not None:
            self.house.worn.copy(self.folder / "profiles" / name, self.server.port)
        hands = self.open(name, film, **options)
        enrol(hands, self.house.codes[name])
        sign_in(hands, person)
        hands.taps.clear()
        return hands

    def kill(self, name: str) -> None:
        """Ends a browser as a power switch does."""
        kill(self.contexts.pop(name), self.folder / "profiles" / name)

    def close_browser(self, name: str) -> None:
        self.contexts.pop(name).close()

    def copy_profile(self, name: str, to: str) -> None:
        """The profile of a closed browser, copied as a backup program or a cloned disk does it."""
        profiles = self.folder / "profiles"
        if (profiles / to).exists():
            shutil.rmtree(profiles / to)
        shutil.copytree(profiles / name, profiles / to, ignore=shutil.ignore_patterns("Singleton*"))

    def lead(self) -> Lead:
        """The lead at the desk, signed in once."""
        self.desk = self.desk or Lead(self)
        return self.desk

    def close(self) -> None:
        if self.desk is not None:
            self.desk.close()
        for name, context in self.contexts.items():
            if BROKEN:  # a picture of how it ended, for whoever looks why
                with suppress(Error):
                    context.pages[0].screenshot(path=self.folder / f"{name}.png", timeout=5_000)
            context.close()
        self.server.close()
        if self.house.worn is not None:
            self.house.worn.give_back(self.server.port)

    # ------------------------------------------------------------ what the server has

    def log(self, chain: str | None = None) -> list[dict[str, Any]]:
        """Every entry in the order it was taken: `entry`, `hash`, `verdict`, `reason`."""
        with closing(sqlite3.connect(f"file:{self.server.data / 'record.sqlite'}?mode=ro", uri=True)) as base:
            rows = base.execute(LOG).fetchall()
        found = [
            {"entry": json.loads(line), "hash": entry_hash(bytes(line)), "verdict": verdict, "reason": reason}
            for line, verdict, reason in rows
        ]
        return [row for row in found if chain is None or row["entry"]["chain"] == chain]

    def photos(self) -> dict[str, bytes]:
        """Every photo file in the vault by the name it has there."""
        found = {}
        for path in (self.server.data / "vault").rglob("*"):
            name = path.name.split(".")[0]
            if path.is_file() and re.fullmatch("[0-9a-f]{64}", name):
                found[name] = path.read_bytes()
        return found


LOG = """SELECT e.line, v.verdict, v.reason FROM log_entries e JOIN log_verdicts v ON v.position = e.position
WHERE v.n = (SELECT max(n) FROM log_verdicts w WHERE w.position = e.position) ORDER BY e.position"""


def enrol(hands: Hands, code: str, keys: bool = False) -> None:
    """This browser becomes a station by a lead's code; by `keys`, Enter in the field instead of a tap."""
    hands.wait_for("Enrol this tablet", "h1")
    hands.type("One-time code", code)
    if keys:
        hands.page.get_by_label("One-time code").press("Enter")
    else:
        hands.tap("Enrol")
    hands.wait_for("Badge in to go on")
    hands.page.locator(".people button").first.wait_for()


def sign_in(hands: Hands, person: str, pin: str = PIN) -> None:
    """Chosen by name, proved by PIN."""
    tile = hands.page.locator("main").get_by_role("button", name=re.compile(person))
    if tile.count() == 0:
        hands.tap(re.compile("^Others"))
    tile.wait_for()
    hands.tap_on(tile)
    hands.wait_for(f"PIN for {person}")
    hands.digits(pin)
    hands.page.locator(".bar button.corner", has_text="").last.wait_for()
    hands.wait_changed("h1", "Badge in to go on")
    settled(hands.page)


def scanned_for(hands: Hands, code: Scope | str, point: str) -> None:
    """Scanned for a look at this point: chosen where the cycle is asked for, else on the serial photo's screen."""
    hands.scan(code if isinstance(code, str) else f"01{code.di}21{code.serial}")
    either = hands.page.locator("h1", has_text=re.compile(f"{TITLES['serial']}|{TITLES['cycle']}".replace("?", r"\?")))
    either.wait_for()
    settled(hands.page)
    if TITLES["cycle"] in either.inner_text():
        hands.tap(f"Inspect: {point.lower()}")
        hands.wait_screen("serial")
    else:
        hands.tap(point, "main")


def begun_at(hands: Hands, scope: Scope, point: str, then: str) -> str:
    """Scanned, its place in the cycle chosen, its serial number photographed; the hash of the inspection."""
    scanned_for(hands, scope, point)
    hands.serial_photo(then)
    return str([row for row in hands.stored("entries") if row["kind"] == "inspection.begun"][-1]["hash"])


def conclude(hands: Hands) -> None:
    """The decision as it is suggested; the tag is on where one is asked for."""
    hands.page.locator(".hand .btn.best").wait_for()
    tag = hands.button("The tag is on the scope", ".hand")
    if tag.count() == 1:
        hands.tap_on(tag)
    hands.tap_on(hands.page.locator(".hand .btn.best"))
    hands.wait_for("Scan a scope to begin")


class Lead:
    """A lead at a desk, over HTTP, as one more station."""

    def __init__(self, sink: Sink) -> None:
        self._desk = DeskTablet(sink.server.url)
        self._desk.enrolled(
            self._desk.post("/door/enrol", {"code": sink.house.codes["Desk"], "public_key": public_key()})
        )
        assert self._desk.sign_in("moira.keld", PIN).status_code == 200

    def get(self, path: str) -> dict[str, Any]:
        """The JSON answer of a page of the lead's."""
        answer = self._desk.get(path)
        if answer.status_code == 401:  # a long walk lies behind: the sign-in of before is over, as it should be
            assert self._desk.sign_in("moira.keld", PIN).status_code == 200
            answer = self._desk.get(path)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def today(self) -> dict[str, Any]:
        """The list of the shifts that run now."""
        return self.get("/lead/today")

    def post(self, path: str, body: object) -> dict[str, Any]:
        """What a command answers."""
        answer = self._desk.post(path, body)
        assert answer.status_code in (200, 201), answer.text
        return dict(answer.json())

    def close(self) -> None:
        self._desk.http.close()


@contextmanager
def at_sink(house: House, folder: Path, playwright: Playwright, chromium: str) -> Iterator[Sink]:
    """A sink of its own, ended whatever happens."""
    sink = Sink(folder, house, playwright, chromium)
    try:
        yield sink
    finally:
        sink.close()
