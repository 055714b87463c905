"""G13: a save with four photos (strict, read back, hashed again) against one bare strict transaction of the same bytes.

    python tests/bench/save.py [--times 120] [--rounds 3] [--profile FOLDER]

Interleaved in one page of a real Chromium on the real disk. The ratio is that of each round's medians; the
bare transaction is the limit: nothing that keeps its promise can be faster. `--slow 4` throttles the page's
own work four times (DevTools; workers, WebCrypto and the disk are not throttled, so it says the page only).
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "backend"), str(HERE)]

from _measure import Goal, Run, percentile  # noqa: E402
from browser.store_server import build_page, store_server  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

PHOTO_BYTES = 600_000


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--times", type=int, default=120)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--slow", type=int, default=1)
    asked.add_argument("--profile", type=Path, default=None)
    given = asked.parse_args()
    chromium = shutil.which("chromium")
    assert chromium is not None, "chromium is not installed"
    with Run("save") as run:
        measure(run, chromium, given)


def measure(run: Run, chromium: str, given: argparse.Namespace) -> None:
    """Every round in a browser of its own."""
    work, page_folder = given.profile or run.folder, run.folder / "page"
    build_page(page_folder)
    result = run.rounds("G13", "save of four photos, strict, read back / one bare strict transaction", Goal("<=", 2.0))
    longest = run.rounds("G13 max", f"longest save, page slowed {given.slow}x", Goal("<=", 250), " ms")
    with store_server(page_folder) as (url, _), sync_playwright() as playwright:
        flags = ["--disable-gpu", "--no-first-run", *(["--no-sandbox"] if os.geteuid() == 0 else [])]
        for number in range(given.rounds):
            context = playwright.chromium.launch_persistent_context(
                str(work / f"profile-{number}"), executable_path=chromium, args=flags
            )
            page = context.pages[0]
            page.goto(url + "/index.html")
            page.wait_for_selector("html[data-settled]", state="attached")
            page.evaluate("() => window.tablet.setUp()")
            page.evaluate("([n, p, b]) => window.tablet.measure(n, p, b)", [10, 4, PHOTO_BYTES])
            if given.slow > 1:
                tools = context.new_cdp_session(page)
                tools.send("Emulation.setCPUThrottlingRate", {"rate": given.slow})
            times = page.evaluate("([n, p, b]) => window.tablet.measure(n, p, b)", [given.times, 4, PHOTO_BYTES])
            context.close()
            save, bare = statistics.median(times["save"]), statistics.median(times["bare"])
            result.round(
                save / bare, bare, save_ms=round(save, 2), bare_ms=round(bare, 2),
                save_p99_ms=round(percentile(times["save"], 0.99), 1),
            )  # fmt: skip
            longest.round(max(times["save"]), bare)


if __name__ == "__main__":
    main()
