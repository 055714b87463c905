"""Measures the log: the writer over HTTP against the same writes without (G9), against a document database (G8),
group commit (G7 in kind), and the verifier against a bare hash loop (G18).

    python tests/bench/log.py [writer|peer|verifier ...] [--rounds N] [--entries N]

One JSON line a result, ratios side by side in one round; the first line says on what it ran. `peer` installs
PouchDB and its server from the package index into a folder that is thrown away; without an index it says so.
The short form is the default and stays under a minute without `peer`.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests")]

from faults.log_server import LogServer  # noqa: E402
from loupebook.log.engine import sqlite_version  # noqa: E402
from loupebook.record import verify  # noqa: E402
from loupebook.record.hashes import entry_hash  # noqa: E402
from loupebook.record.heads import base64url, public_der, sign_head  # noqa: E402
from story import photo  # noqa: E402
from tablet import Tablet, World  # noqa: E402

CLIENT = Path(__file__).with_name("log_client.mjs")
BATCH = 20
TABLETS = 60


def say(**result: object) -> None:
    print(json.dumps(result), flush=True)


def fdatasync_ms(folder: Path, seconds: float = 1.0) -> dict[str, float]:
    """How long this disk takes to make 4 KiB durable, as a probe before and after."""
    took: list[float] = []
    with open(folder / "probe", "wb", buffering=0) as file:
        until = time.perf_counter() + seconds
        while time.perf_counter() < until:
            file.write(b"x" * 4096)
            begun = time.perf_counter()
            os.fdatasync(file.fileno())
            took.append((time.perf_counter() - begun) * 1000)
    took.sort()
    return {"p50_ms": round(took[len(took) // 2], 3), "p99_ms": round(took[int(len(took) * 0.99)], 3)}


def facts(folder: Path) -> None:
    """On what this ran."""
    kind = subprocess.run(["stat", "-f", "-c", "%T", str(folder)], capture_output=True, text=True, check=False)
    say(
        facts=True, cores=os.cpu_count(), load=round(os.getloadavg()[0], 1), kernel=platform.release(),
        python=platform.python_version(), sqlite=".".join(map(str, sqlite_version())), folder=kind.stdout.strip(),
        fdatasync=fdatasync_ms(folder),
    )  # fmt: skip


# ---------------------------------------------------------------- data


def filled(number: int, name: str) -> Tablet:
    """A tablet with `number` entries of 0.8 to 0.95 kB, as a shift writes them."""
    tablet = Tablet(name)
    note = "a line of words of the length a person dictates " * 5
    while len(tablet.lines) < number:
        at = len(tablet.lines) % 40
        if at == 0:
            tablet.begin(none_here=["jet_outlet", "stiffness_ring"], not_due=["ch_air", "ch_water", "ch_jet"])
        elif at == 1:
            tablet.serial(where=note[:200])
        elif at % 4 == 0:
            shown = photo(f"{name} {len(tablet.lines)}", "finding")
            tablet.find("lens", "scratch", [shown], since="same", note=note[:150])
        else:
            tablet.mark("valves", tool=note[:180], reason="other")
    return tablet


def batches(tablet: Tablet) -> list[tuple[int, bytes]]:
    return [
        (first, tablet.batch(first, min(first + BATCH - 1, len(tablet.lines))))
        for first in range(1, len(tablet.lines) + 1, BATCH)
    ]


# ---------------------------------------------------------------- G9 and group commit


def without_http(folder: Path, tablets: Sequence[Tablet]) -> tuple[float, int]:
    """The same batches handed to the log by threads, one a tablet: seconds, and how many commits they took."""
    world = World(folder)
    for each in tablets:
        world.door.enrol(each)
    ready = [(each, batches(each)) for each in tablets]
    begun = time.perf_counter()
    with ThreadPoolExecutor(len(tablets)) as threads:
        for done in [threads.submit(_send_all, world, each, some) for each, some in ready]:
            done.result()
    seconds = time.perf_counter() - begun
    commits = world.log.commits
    assert world.log.position == sum(len(each.lines) for each in tablets)
    world.close()
    return seconds, commits


def _send_all(world: World, tablet: Tablet, some: Sequence[tuple[int, bytes]]) -> None:
    for first, body in some:
        for receipt in world.log.intake(tablet.chain, first, body, tablet.name).receipts:
            assert receipt.verdict == "counted", receipt


def over_http(folder: Path, tablets: Sequence[Tablet]) -> dict[str, Any]:
    """The same batches sent by a Node client over keep-alive connections to a server process."""
    jobs = [
        {
            "headers": {"x-test-station": each.name, "x-loupebook": "1"},
            "wanted": 200,
            "batches": [
                {"path": f"/chains/{each.chain}/entries?from={first}", "body": body.decode()}
                for first, body in batches(each)
            ],
        }
        for each in tablets
    ]
    with LogServer(folder, list(tablets)) as server:
        return client(f"http://127.0.0.1:{server.port}", jobs, folder)


def client(base: str, jobs: object, folder: Path) -> dict[str, Any]:
    path = folder / "jobs.json"
    path.write_text(json.dumps(jobs))
    run = subprocess.run(["node", str(CLIENT), base, str(path)], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    told: dict[str, Any] = json.loads(run.stdout)
    return told


def writer(folder: Path, rounds: int, entries: int) -> None:
    """G9, and how many batches share a commit."""
    each = max(BATCH, entries // TABLETS)
    tablets = [filled(each, f"sink {number}") for number in range(TABLETS)]
    total = sum(len(tablet.lines) for tablet in tablets)
    size = sum(len(line) for line in tablets[0].lines) // len(tablets[0].lines)
    for number in range(rounds):
        bare, commits = in_new(folder, lambda here: without_http(here, tablets))
        http = in_new(folder, lambda here: over_http(here, tablets))
        say(
            metric="G9", round=number, entries=total, bytes_an_entry=size, batch=BATCH,
            without_http_per_s=round(total / bare), over_http_per_s=round(total / http["seconds"]),
            ratio=round(bare / http["seconds"], 2), goal=0.6, batches_a_commit=round(total / BATCH / commits, 1),
            p50_ms=http["p50_ms"], p99_ms=http["p99_ms"],
        )  # fmt: skip


def in_new(folder: Path, run: Callable[[Path], Any]) -> Any:
    """Runs in a folder of its own and throws it away."""
    here = Path(tempfile.mkdtemp(dir=folder))
    try:
        return run(here)
    finally:
        shutil.rmtree(here, ignore_errors=True)


# ---------------------------------------------------------------- G8


PEER = {"pouchdb": "9.0.0", "express-pouchdb": "4.2.0", "express": "4.21.2"}
PEER_SERVER = """\
const PouchDB = require('pouchdb').defaults({ prefix: process.argv[2] + '/db/' });
require('fs').mkdirSync(process.argv[2] + '/db', { recursive: true });
const app = require('express')();
const options = { mode: 'minimumForPouchDB', inMemoryConfig: true, logPath: '/dev/null' };
app.use('/', require('express-pouchdb')(PouchDB, options));
const server = app.listen(0, '127.0.0.1', () => console.log(server.address().port));
"""


def peer(folder: Path, rounds: int, entries: int) -> None:
    """G8: the same documents to PouchDB's server by `_bulk_docs`, 20 a request (it syncs a few times in all)."""
    home = folder / "peer"
    home.mkdir()
    (home / "package.json").write_text(json.dumps({"private": True, "dependencies": PEER}))
    command = ["npm", "install", "--no-audit", "--no-fund", "--loglevel=error"]
    installed = subprocess.run(command, cwd=home, capture_output=True, text=True, check=False, timeout=300)
    if installed.returncode != 0:
        say(metric="G8", not_measured="the peer could not be installed", why=installed.stderr[-300:])
        return
    (home / "server.js").write_text(PEER_SERVER)
    each = max(BATCH, entries // TABLETS)
    tablets = [filled(each, f"sink {number}") for number in range(TABLETS)]
    total = sum(len(tablet.lines) for tablet in tablets)
    for number in range(rounds):
        ours = in_new(folder, lambda here: over_http(here, tablets))
        theirs = in_new(folder, lambda here: to_peer(home, here, tablets))
        say(
            metric="G8", round=number, entries=total, ours_per_s=round(total / ours["seconds"]),
            peer_per_s=round(total / theirs["seconds"]), ratio=round(theirs["seconds"] / ours["seconds"], 2), goal=3,
        )  # fmt: skip


def to_peer(home: Path, here: Path, tablets: Sequence[Tablet]) -> dict[str, Any]:
    process = subprocess.Popen(["node", "server.js", str(here)], cwd=home, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        base = f"http://127.0.0.1:{int(process.stdout.readline())}"
        client(
            base, [{"headers": {}, "wanted": 412, "batches": [{"path": "/none", "body": ""}]}], here
        ) if False else None
        _put(base + "/record")
        jobs = []
        for each in tablets:
            docs = [{"_id": f"{each.chain}-{seq:08}", **json.loads(line)} for seq, line in enumerate(each.lines, 1)]
            some = [docs[start : start + BATCH] for start in range(0, len(docs), BATCH)]
            bodies = [{"path": "/record/_bulk_docs", "body": json.dumps({"docs": part})} for part in some]
            jobs.append({"headers": {"content-type": "application/json"}, "wanted": 201, "batches": bodies})
        return client(base, jobs, here)
    finally:
        process.kill()
        process.wait()


def _put(url: str) -> None:
    import urllib.request

    urllib.request.urlopen(urllib.request.Request(url, method="PUT")).read()


# ---------------------------------------------------------------- G18


def verifier(folder: Path, rounds: int, entries: int) -> None:
    """The whole check of an export, signatures apart, against hashing the same lines and nothing else."""
    tablet = filled(entries, "sink 1")
    (folder / "entries").mkdir()
    data = b"".join(line + b"\n" for line in tablet.lines)
    (folder / "entries" / f"{tablet.chain}.jsonl").write_bytes(data)
    (folder / "keys.json").write_text(json.dumps({tablet.chain: base64url(public_der(tablet.key))}))
    end = len(tablet.lines)
    head = {"chain": tablet.chain, "seq": end, "hash": tablet.hashes[-1]}
    head["sig"] = sign_head(tablet.key, tablet.chain, end, tablet.hashes[-1])
    (folder / "heads.jsonl").write_text(json.dumps(head) + "\n")
    named = {each["sha256"] for line in tablet.lines for each in json.loads(line)["photos"]}
    missing = (json.dumps({"sha256": each, "why": "not_received"}) + "\n" for each in sorted(named))
    (folder / "missing.jsonl").write_text("".join(missing))
    for number in range(rounds):
        begun = time.perf_counter()
        for line in data.split(b"\n")[:-1]:
            hashlib.sha256(b"loupebook/entry/1\n" + line).hexdigest()
        loop = time.perf_counter() - begun
        begun = time.perf_counter()
        result = verify.check(folder)
        whole = time.perf_counter() - begun
        assert result.faults == [] and result.entries == end
        say(
            metric="G18", round=number, entries=end, loop_s=round(loop, 3), verifier_s=round(whole, 3),
            ratio=round(whole / loop, 1), goal=12, per_100k_s=round(whole * 100_000 / end, 2), goal_s=1.2,
        )  # fmt: skip
    assert entry_hash(tablet.lines[-1]) == tablet.hashes[-1]


PARTS = {"writer": writer, "verifier": verifier, "peer": peer}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], help="what to measure (default: writer, verifier)")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--entries", type=int, default=4800)
    given = parser.parse_args()
    for name in given.parts or ["writer", "verifier"]:
        folder = Path(tempfile.mkdtemp(prefix="log-bench-"))
        try:
            facts(folder)
            PARTS[name](folder, given.rounds, given.entries)
            say(facts="after", part=name, fdatasync=fdatasync_ms(folder))
        finally:
            shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
