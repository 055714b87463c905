"""Killed in the middle of a write, under load, again and again: what was said to be saved is there.

The fact these tests stand on, measured with this Chromium (150): a kill in the middle of a write leaves a log whose
last record is cut; the next start goes on writing behind the cut; the start after that finds "checksum mismatch"
there and deletes the whole database without a word. `record/fresh-log.ts` has the browser begin a new log first.
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser.conftest import Guard, launch
from browser.kills import BLOCK, FIRST, HEADER, LAST, Killing, busy_machine, is_torn, judged, kill, log_of
from browser.store_server import Kept, store_server
from browser.test_store import call, tablet
from playwright.sync_api import BrowserContext, Playwright

pytestmark = pytest.mark.sink

OpenProfile = Callable[[Path], BrowserContext]


@pytest.fixture
def site(store_page: Path) -> Iterator[tuple[str, Kept]]:
    with store_server(store_page) as served:
        yield served


@pytest.fixture
def open_profile(playwright: Playwright, chromium: str, guard: Guard) -> OpenProfile:
    """Starts a browser on a profile folder; its own log says what it does with a store it cannot read."""

    def start(profile: Path) -> BrowserContext:
        context = launch(playwright, chromium, profile, flags=("--enable-logging", "--log-level=0"))
        guard.watch(context)
        return context

    return start


def crc32c(data: bytes) -> int:
    """CRC-32C (RFC 3720, B.4: 32 zero bytes give 0x8A9136AA)."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0x82F63B78 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def checksum(sort: int, data: bytes) -> int:
    """As LevelDB's log has it (doc/log_format.md, util/crc32c.h): over the sort and the data, turned and moved."""
    crc = crc32c(bytes([sort]) + data)
    return ((crc >> 15 | crc << 17) + 0xA282EAD8) & 0xFFFFFFFF


def cut(log: Path, count: int) -> None:
    """Adds the beginning of a record to a log, as a kill in the middle of a write leaves it: what is there is right."""
    left = BLOCK - log.stat().st_size % BLOCK
    data = os.urandom(max(0, left - HEADER.size))
    piece = HEADER.pack(checksum(FIRST, data), len(data), FIRST) + data
    with log.open("ab") as file:
        file.write(piece[:count])


def test_a_log_that_ends_within_a_record_is_known_as_torn() -> None:
    assert crc32c(bytes(32)) == 0x8A9136AA
    whole = HEADER.pack(1, 5, 1) + b"whole"
    first = HEADER.pack(2, BLOCK - 12 - 7, FIRST) + bytes(BLOCK - 12 - 7)
    last = HEADER.pack(3, 4, LAST) + b"last"
    assert not is_torn(b"") and not is_torn(whole) and not is_torn(whole + first + last)
    assert is_torn(whole + first), "the last piece is missing"
    assert is_torn(whole[:-1]) and is_torn(whole[:3]) and is_torn(whole + first + last[:9])


@pytest.mark.parametrize(
    "count", [3, 107, pytest.param(7, marks=pytest.mark.slow), pytest.param(BLOCK, marks=pytest.mark.slow)]
)
def test_a_log_that_a_kill_cut_short_does_not_take_the_store_with_it(
    count: int, open_profile: OpenProfile, site: tuple[str, Kept], tmp_path: Path
) -> None:
    url, _ = site
    profile = tmp_path / "profile"
    context = open_profile(profile)
    page = tablet(context, url)
    call(page, "setUp")
    inspection = call(page, "begin")
    said = [call(page, "find", inspection, 2, 60_000) for _ in range(2)]
    kill(context, profile)
    log = log_of(profile)
    assert log is not None
    cut(log, count)
    assert is_torn(log.read_bytes())

    context = open_profile(profile)
    page = tablet(context, url)
    assert judged(page, said) == ("whole", "")
    said.append(call(page, "find", inspection, 2, 60_000))
    kill(context, profile)
    assert not log.exists(), "nothing is written behind a cut end"

    context = open_profile(profile)
    assert judged(tablet(context, url), said) == ("whole", "")
    context.close()


def killed_under_load(
    lives: int, kills: int, busy: int, open_profile: OpenProfile, site: tuple[str, Kept], folder: Path
) -> None:
    url, kept = site
    seed = random.SystemRandom().randrange(1 << 32)
    killing = Killing(open_profile, url, kept, folder / "profiles", folder / "evidence", random.Random(seed))
    with busy_machine(busy, folder / "busy"):
        for life in range(lives):
            killing.live(life, kills)
    print(f"seed {seed}, {len(killing.results)} kills: {dict(killing.counted())}")
    assert killing.lost() == [], f"seed {seed}; the files of each lie in {folder / 'evidence'}"
    assert len(killing.results) == lives * kills
    assert sum(result.said for result in killing.results) > 0


def test_kills_at_any_moment_on_a_busy_machine_lose_nothing_that_was_said_to_be_saved(
    open_profile: OpenProfile, site: tuple[str, Kept], tmp_path: Path
) -> None:
    killed_under_load(1, 3, 2, open_profile, site, tmp_path)


@pytest.mark.slow
def test_three_hundred_kills_on_a_busy_machine_lose_nothing_that_was_said_to_be_saved(
    open_profile: OpenProfile, site: tuple[str, Kept], tmp_path: Path
) -> None:
    killed_under_load(75, 4, 5, open_profile, site, tmp_path)
