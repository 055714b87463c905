"""G13: a save with four photos (strict, read back, hashed again) against one bare strict transaction of the same bytes.

    python tests/bench/save.py [--times 120] [--rounds 3] [--profile FOLDER]

Interleaved in one page of a real Chromium on the real disk. The ratio is that of each round's medians; the
bare transaction is the limit: nothing that keeps its promise can be faster. `--slow 4` throttles the page's
own work four times (DevTools; workers, WebCrypto and the disk are not throttled, so it says the page only).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "backend")]

from browser.store_server import build_page, store_server  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

PHOTO_BYTES = 600_000


def fdatasync_ms(folder: Path, seconds: float = 1.0) -> float:
    """Median of fdatasync after 4 KiB on this disk, in ms."""
    times = []
    with (folder / "probe").open("wb") as file:
        until = time.perf_counter() + seconds
        while time.perf_counter() < until:
            file.write(b"x" * 4096)
            file.flush()
            started = time.perf_counter()
            os.fdatasync(file.fileno())
            times.append((time.perf_counter() - started) * 1000)
    return statistics.median(times)


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--times", type=int, default=120)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--slow", type=int, default=1)
    asked.add_argument("--profile", type=Path, default=None)
    given = asked.parse_args()
    chromium = shutil.which("chromium")
    assert chromium is not None, "chromium is not installed"
    work = Path(tempfile.mkdtemp(prefix="save-", dir=given.profile))
    page_folder = work / "page"
    build_page(page_folder)
    before = fdatasync_ms(work)
    rounds = []
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
            rounds.append(
                {
                    "save_ms": round(statistics.median(times["save"]), 2),
                    "bare_ms": round(statistics.median(times["bare"]), 2),
                    "ratio": round(statistics.median(times["save"]) / statistics.median(times["bare"]), 2),
                    "save_p99_ms": round(percentile(times["save"], 0.99), 1),
                    "save_max_ms": round(max(times["save"]), 1),
                }
            )
    after = fdatasync_ms(work)
    shutil.rmtree(work)
    print(
        json.dumps(
            {
                "metric": "G13", "times": given.times, "photos": 4, "photo_bytes": PHOTO_BYTES,
                "page_slowed": given.slow,
                "ratio": statistics.median(each["ratio"] for each in rounds), "rounds": rounds,
                "cores": os.cpu_count(), "kernel": platform.release(), "load": os.getloadavg()[0],
                "fdatasync_ms": [round(before, 2), round(after, 2)],
            }
        )
    )  # fmt: skip


if __name__ == "__main__":
    main()
