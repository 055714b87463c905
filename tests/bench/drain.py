"""The whole product against the raw reference RR: a tablet's drain (G1), and sixty tablets at once (G5).

    python tests/bench/drain.py [--rounds N] [--runs N]

A drain is 200 entries in batches of 50, then 100 photos of 600,000 random bytes over 4 connections. The herd is 60
tablets at once, each with 40 entries in batches of 20 and 4 photos. A round is RR, then the product, each so many
times; one client in Node sends to both. The clock stops at the last receipt. Random bytes are no picture, so nothing
is looked at beside.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests"), str(HERE)]

from _measure import Goal, Run, cpu_s, percentile  # noqa: E402
from _tablets import PHOTO_BYTES, Photos, job, write_on, written  # noqa: E402
from live_server import LiveServer  # noqa: E402
from sink_tablet import SinkTablet  # noqa: E402
from tablet import Tablet  # noqa: E402

ENTRIES, PHOTOS, BATCH, CONNECTIONS = 200, 100, 50, 4
TABLETS, HERD_ENTRIES, HERD_PHOTOS, HERD_BATCH = 60, 40, 4, 20
CLIENT = HERE / "drain_client.mjs"


@dataclass
class Servers:
    """The product with its enrolled tablets, and RR."""

    live: LiveServer
    tablets: list[SinkTablet]
    raw_port: str
    folder: Path

    def sent(self, jobs: list[dict[str, Any]], photos: Photos, raw: bool = False) -> dict[str, Any]:
        """What the client says of sending these to the product, or to RR."""
        told = {"blob": str(photos.path), "connections": CONNECTIONS, "raw": raw, "tablets": jobs}
        path = written(self.folder / "jobs.json", told)
        address = self.raw_port if raw else self.live.url
        run = subprocess.run(["node", str(CLIENT), address, str(path)], capture_output=True, text=True, check=False)
        assert run.returncode == 0, run.stderr
        answer: dict[str, Any] = json.loads(run.stdout)
        assert answer["photos"] == sum(len(each["photos"]) for each in jobs)
        return answer

    def emptied(self) -> None:
        """Photos of the rounds before are taken away, so that the disk does not fill."""
        for folder in (self.live.data / "photos" / "photos", self.folder / "raw"):
            for path in folder.rglob("?" * 64):
                path.unlink()


def enrolled(live: LiveServer, number: int) -> list[SinkTablet]:
    """So many tablets, each with a station of its own and an address of its own: codes may be tried ten at a time."""
    first = SinkTablet(live.url, "Sink 1")
    person = first.first(live.said("First code").split()[2])
    more = [SinkTablet(live.url, f"Sink {each}") for each in range(2, number + 1)]
    for each, one in enumerate(more):
        body = {"code": first.invite(one.chain.name), "public_key": one.public_key}
        answer = one.browser.post("/door/enrol", body, **{"X-Forwarded-For": f"192.0.2.{each + 1}"})
        one.browser.enrolled(answer)
    for tablet in (first, *more):
        tablet.chain.person = person
        tablet.chain.at = datetime.now(UTC) - timedelta(days=30)
    return [first, *more]


def to_send(tablet: SinkTablet, photos: Photos, entries: int, number: int, batch: int) -> dict[str, Any]:
    """A tablet's new entries and photos."""
    first, made = len(tablet.chain.lines) + 1, photos.make(number)
    write_on(tablet.chain, entries, made)
    return job(tablet.chain, first, batch, tablet.browser.headers(), photos.jobs(made))


def to_raw(photos: Photos, number: int) -> dict[str, Any]:
    """The same amount for RR, from a tablet it never heard of."""
    tablet, made = Tablet(f"raw {number}"), photos.make(PHOTOS)
    write_on(tablet, ENTRIES, made)
    return job(tablet, 1, BATCH, {}, photos.jobs(made))


def one_round(servers: Servers, runs: int) -> tuple[list[float], list[float], list[dict[str, Any]]]:
    """Seconds of RR's drains, of the product's, and what was said of the herds."""
    with tempfile.TemporaryDirectory() as here:
        photos = Photos(Path(here) / "photos")
        raw = [servers.sent([to_raw(photos, each)], photos, raw=True)["seconds"] for each in range(runs)]
        sink = servers.tablets[0]
        ours = [servers.sent([to_send(sink, photos, ENTRIES, PHOTOS, BATCH)], photos)["seconds"] for _ in range(runs)]
        herds = [
            servers.sent(
                [to_send(each, photos, HERD_ENTRIES, HERD_PHOTOS, HERD_BATCH) for each in servers.tablets], photos
            )
            for _ in range(max(1, runs // 2))
        ]
        photos.close()
    servers.emptied()
    return raw, ours, herds


def measure(run: Run, servers: Servers, rounds: int, runs: int) -> None:
    drain = run.rounds("G1", "drain of one tablet, whole product / RR", Goal("<=", 2.0))
    herd = run.rounds("G5", "herd of 60 tablets, whole product / 146 MB at the rate of RR", Goal("<=", 2.5))
    entries = run.rounds("G5 entry", "herd: p99 of a batch of entries", Goal("<=", 150), " ms")
    shown = run.rounds("G5 photo", "herd: p99 of a photo", Goal("<=", 250), " ms")
    megabytes = PHOTO_BYTES * PHOTOS / 1e6
    one_round(servers, 1)
    for _ in range(rounds):
        run.settle()
        before = cpu_s(servers.live.pid)
        raw, ours, herds = one_round(servers, runs)
        reference = statistics.median(raw)
        product = statistics.median(ours)
        drain.round(
            product / reference, reference, rr_s=round(reference, 3), product_s=round(product, 3),
            rr_mb_per_s=round(megabytes / reference), cpu_s=round(cpu_s(servers.live.pid) - before, 2),
        )  # fmt: skip
        took = statistics.median(each["seconds"] for each in herds)
        size = PHOTO_BYTES * TABLETS * HERD_PHOTOS / 1e6
        herd.round(took / (size / (megabytes / reference)), reference, herd_s=round(took, 3))
        entries.round(_p99(herds, "entries_ms"), reference)
        shown.round(_p99(herds, "photos_ms"), reference)


def _p99(herds: Sequence[dict[str, Any]], name: str) -> float:
    return statistics.median(percentile(each[name], 0.99) for each in herds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--runs", type=int, default=3)
    given = parser.parse_args()
    with Run("drain") as run:
        (run.folder / "raw").mkdir()
        raw = subprocess.Popen(
            [sys.executable, str(HERE / "_raw.py"), str(run.folder / "raw")],
            stdout=subprocess.PIPE, text=True, env={"PYTHONPATH": str(ROOT / "backend"), "PATH": "/usr/bin:/bin"},
        )  # fmt: skip
        assert raw.stdout is not None
        live = LiveServer(run.folder / "record").start()
        try:
            port = raw.stdout.readline().strip()
            measure(run, Servers(live, enrolled(live, TABLETS), port, run.folder), given.rounds, given.runs)
        finally:
            live.close()
            raw.kill()
            raw.communicate()


if __name__ == "__main__":
    main()
