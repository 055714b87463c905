"""Kills a Chromium again and again while a tablet saves, beside a machine that is kept busy, and says what was lost.

A *life* is a new profile: the tablet is set up and saves without end; the browser is killed, started again on the
same profile, looked at, and killed again while it saves on. What the page said to be saved is kept by the server
as markers, so it outlives the browser. For each kill the files of the store are copied as they lay when the
browser was dead, and stay in the evidence folder only where something is not as it was said.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import struct
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from browser.conftest import settled
from browser.store_server import Kept
from playwright.sync_api import BrowserContext, Error, Page
from syncs import CANNOT

BUSY = """
import hashlib, os, sys, tempfile
block = os.urandom(1 << 20)
with tempfile.TemporaryFile(dir=sys.argv[1]) as file:
    while True:
        for _ in range(40):
            hashlib.sha256(block).digest()
        file.seek(0)
        file.write(block)
        file.flush()
        os.fsync(file.fileno())
"""
"""Half of it is counting, half of it waits for the disk: what a busy machine's tests do."""


@contextmanager
def busy_machine(processes: int, folder: Path) -> Iterator[None]:
    """So many processes that count and write, at a lower priority."""
    folder.mkdir(parents=True, exist_ok=True)
    command = ["nice", "-n", "5", sys.executable, "-c", BUSY, str(folder)]
    running = [subprocess.Popen(command) for _ in range(processes)]
    try:
        yield
    finally:
        for each in running:
            each.kill()
        for each in running:
            each.wait()


def named_by(profile: Path) -> dict[int, str]:
    """Every process of a profile: number, and its kind.

    Children write their command line as one word with blanks, and a profile's own name may have one: `Sink 2`. So the
    name ends where the next switch begins, and `Sink 2` is not `Sink 2, a copy`.
    """
    mark = f"--user-data-dir={profile} -".encode()
    found = {}
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        with suppress(OSError):
            line = (entry / "cmdline").read_bytes().replace(b"\0", b" ").rstrip() + b" -"
            if mark in line:
                kinds = re.findall(rb"(?<= --type=)[^ ]+", line)
                found[int(entry.name)] = kinds[0].decode() if kinds else "browser"
    return found


def gone(pid: int) -> bool:
    """True once a process holds nothing any more: ended, or waiting only to be counted by its parent."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] in ("Z", "X")
    except OSError:
        return True


def end_at_once(profile: Path, begun: bool = False, within_s: float = 30) -> None:
    """Ends every process of a profile as a power switch does, and answers when the last of them is gone.

    `begun`: the browser itself was ended before, and its children may be gone with it.
    """
    killed: set[int] = set()
    end = time.monotonic() + within_s
    while living := [pid for pid in {*named_by(profile), *killed} if not gone(pid)]:
        assert time.monotonic() < end, f"still there {within_s} s after the kill: {living}"
        for pid in living:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        killed.update(living)
        time.sleep(0.001)
    assert killed or begun, "no process has this profile"


def kill(context: BrowserContext, profile: Path, begun: bool = False) -> None:
    """Ends a browser as a power switch ends its processes, and clears its lock away."""
    end_at_once(profile, begun)
    with suppress(Error):  # it is dead, which is the point
        context.close()
    for lock in profile.glob("Singleton*"):
        lock.unlink()


@dataclass
class Moment:
    """When a browser is killed: so long after the page stood, after so many saves more, or in the middle of a write."""

    word: str
    wait_s: float = 0
    saves: int = 0
    writes: int = 0


def moments(chance: random.Random, first: bool) -> Moment:
    """A moment by chance. The first of a life is mostly early: the database, the key, the first entries."""
    if first and chance.random() < 0.5:
        return Moment("early", wait_s=chance.uniform(0, 1.2))
    if chance.random() < 0.5:
        return Moment("writing", saves=chance.randint(0, 4), writes=chance.randint(1, 40))
    if chance.random() < 0.5:
        return Moment("after saves", saves=chance.randint(1, 6), wait_s=chance.uniform(0, 0.05))
    return Moment("any", wait_s=chance.uniform(0, 3))


def log_of(profile: Path) -> Path | None:
    """The newest log of the store's files, where there is one."""
    logs = sorted((profile / "Default/IndexedDB").glob("*.leveldb/*.log"))
    return logs[-1] if logs else None


def size_of(log: Path) -> int:
    """How long a log is; -1 once it is gone."""
    try:
        return log.stat().st_size
    except FileNotFoundError:
        return -1


def end_while_writing(profile: Path, writes: int, within_s: float = 6) -> None:
    """Ends the browser itself at the so-manieth write to its log from now on: between two pieces of a record, mostly.

    Where strace is not at hand, or nothing is written, it is ended all the same: as soon as the log has grown.
    """
    browser = next(pid for pid, kind in named_by(profile).items() if kind == "browser")
    log = log_of(profile)
    if log is not None and CANNOT:
        before, end = size_of(log), time.monotonic() + within_s
        while size_of(log) == before and time.monotonic() < end:
            pass
    elif log is not None:
        calls = "write,pwrite64"
        what = ["-e", f"trace={calls}", "-e", f"inject={calls}:signal=KILL:when={writes}"]
        command = ["strace", "-f", "-q", "-o", "/dev/null", "-p", str(browser), "-P", str(log), *what]
        strace = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        end = time.monotonic() + within_s
        while not gone(browser) and time.monotonic() < end:
            time.sleep(0.01)
        strace.kill()
        strace.wait()
    if not gone(browser):
        os.kill(browser, signal.SIGKILL)


BLOCK = 32768
HEADER = struct.Struct("<IHB")
FULL, FIRST, MIDDLE, LAST = 1, 2, 3, 4


def is_torn(log: bytes) -> bool:
    """Whether a LevelDB log ends within a record: a header or a piece cut short, or a first piece without its last.

    The form is LevelDB's own (doc/log_format.md): blocks of 32 KiB, pieces of checksum, length, type and bytes.
    """
    at, within = 0, False
    while at < len(log):
        left = BLOCK - at % BLOCK
        if left < HEADER.size:
            at += left
            continue
        if at + HEADER.size > len(log):
            return True
        _, length, kind = HEADER.unpack_from(log, at)
        if kind == 0 and length == 0:
            break
        at += HEADER.size + length
        if at > len(log):
            return True
        within = kind in (FIRST, MIDDLE)
    return within


@dataclass
class Result:
    """One kill: when, how much had been said to be saved, and what was found after."""

    life: int
    kill: int
    when: str
    said: int
    torn: bool
    found: str
    words: str = ""


@dataclass
class Killing:
    """A run of kills. `open_browser(profile)` starts a Chromium on a profile folder."""

    open_browser: Callable[[Path], BrowserContext]
    url: str
    kept: Kept
    folder: Path
    evidence: Path
    chance: random.Random
    photo_bytes: tuple[int, ...] = (60_000, 300_000)
    results: list[Result] = field(default_factory=list)

    def live(self, life: int, kills: int) -> None:
        """One life of a profile, with so many kills."""
        profile = self.folder / f"life-{life}"
        self.kept.markers.clear()
        context = self.open_browser(profile)
        self._start(context, first=True)
        for each in range(kills):
            when = moments(self.chance, each == 0)
            if when.saves:
                self.kept.wait_for_markers(len(self.kept.markers) + when.saves)
            time.sleep(when.wait_s)
            if when.writes:
                end_while_writing(profile, when.writes)
            kill(context, profile, begun=when.writes > 0)
            said = list(self.kept.markers)
            log = log_of(profile)
            torn = log is not None and is_torn(log.read_bytes())
            copied = self._copy(profile, life, each)
            context = self.open_browser(profile)
            page = self._page(context)
            found, words = judged(page, [*said, *self.kept.markers])
            self.results.append(Result(life, each, when.word, len(said), torn, found, words))
            if found == "whole":
                shutil.rmtree(copied)
            else:
                shutil.copytree(profile / "Default/IndexedDB", copied / "after", dirs_exist_ok=True)
                break
            if each + 1 < kills:
                self._start(context, first=False, page=page)
        kill(context, profile)
        shutil.rmtree(profile)

    def counted(self) -> Counter[tuple[str, str]]:
        """How many kills of each moment had which end; `torn` where the log ended within a record."""
        return Counter((result.when + (", torn" if result.torn else ""), result.found) for result in self.results)

    def lost(self) -> list[Result]:
        """The kills after which something was not as it was said."""
        return [result for result in self.results if result.found != "whole"]

    def _page(self, context: BrowserContext) -> Page:
        page = context.pages[0] if context.pages else context.new_page()
        page.goto(self.url + "/index.html")
        settled(page)
        return page

    def _start(self, context: BrowserContext, first: bool, page: Page | None = None) -> None:
        page = page or self._page(context)
        bytes = self.chance.choice(self.photo_bytes)
        page.evaluate("([photos, bytes]) => { void window.tablet.liveOn(photos, bytes); }", [2, bytes])

    def _copy(self, profile: Path, life: int, each: int) -> Path:
        to = self.evidence / f"life-{life}-kill-{each}"
        for name in ("IndexedDB", "WebStorage", "Local Storage", "File System"):
            if (profile / "Default" / name).is_dir():
                shutil.copytree(profile / "Default" / name, to / "dead" / name)
        log = profile / "chrome_debug.log"
        to.mkdir(parents=True, exist_ok=True)
        if log.exists():
            shutil.copy(log, to / "before.log")
        return to


def judged(page: Page, said: list[dict[str, Any]]) -> tuple[str, str]:
    """What became of a store: `whole`, or the first that is wrong, with the words to look for it."""
    try:
        looked = page.evaluate("window.tablet.look()")
    except Error as cause:
        return "not opened", str(cause)
    rows = {row["seq"]: row for row in looked["rows"]}
    words = f"{sorted(rows)} of {looked['chain']!r}, {looked['all']} in all; said {[each['seq'] for each in said]}"
    if said and looked["all"] == 0:
        return "empty", words
    if any(each["chain"] != looked["chain"] for each in said):
        return "another chain", words
    if looked["broken"] or looked["missing"]:
        return "broken", f"{looked['broken']} {looked['missing']} {words}"
    if any(rows.get(each["seq"], {}).get("hash") != each["hash"] for each in said):
        return "entries lost", words
    return "whole", ""
