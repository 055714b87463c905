"""The log: the writer over HTTP against the same writes without (G9), against a document database (G8), group commit
against a commit a request on a slow disk (G7), and the verifier against a bare hash loop (G18).

    python tests/bench/log.py [writer|peer|singles|verifier ...] [--rounds N] [--entries N]

`peer` installs PouchDB and its server from the package index into a folder that is thrown away; without an index it
says so. `singles` puts strace between the server and the disk, which makes each sync take 4 ms longer.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests"), str(HERE)]

from _measure import Goal, Run, cpu_s  # noqa: E402
from _tablets import bodies, write_on  # noqa: E402
from faults.log_server import LogServer  # noqa: E402
from loupebook.record import verify  # noqa: E402
from loupebook.record.hashes import entry_hash  # noqa: E402
from loupebook.record.heads import base64url, public_der, sign_head  # noqa: E402
from starting.node import RUN_NPM, THE_WHEELS  # noqa: E402
from tablet import Tablet, World  # noqa: E402

CLIENT = HERE / "log_client.mjs"
BATCH = 20
TABLETS = 60
SLOWER_MS = 4
CHAIN = 20_000
"""Entries of the shortest chain the verifier is timed on: below, the bare loop ends in a few milliseconds."""


# ---------------------------------------------------------------- data


def filled(number: int, name: str) -> Tablet:
    """A tablet with so many entries, as a shift writes them."""
    tablet = Tablet(name)
    write_on(tablet, number)
    return tablet


def batches(tablet: Tablet, batch: int = BATCH) -> list[tuple[int, bytes]]:
    return bodies(tablet, 1, batch)


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
    """The same batches sent by a Node client over keep-alive connections to a server process; its processor time."""
    with LogServer(folder, list(tablets)) as server:
        before = cpu_s(server.pid)
        told = client(f"http://127.0.0.1:{server.port}", ours(tablets, BATCH), folder)
        return told | {"cpu_s": cpu_s(server.pid) - before}


def ours(tablets: Sequence[Tablet], batch: int) -> list[dict[str, Any]]:
    """What the client sends to us."""
    return [
        {
            "headers": {"x-test-station": each.name, "x-loupebook": "1"},
            "wanted": 200,
            "batches": [
                {"path": f"/chains/{each.chain}/entries?from={first}", "body": body.decode()}
                for first, body in batches(each, batch)
            ],
        }
        for each in tablets
    ]


def client(base: str, jobs: object, folder: Path) -> dict[str, Any]:
    path = folder / "jobs.json"
    path.write_text(json.dumps(jobs))
    run = subprocess.run(["node", str(CLIENT), base, str(path)], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    told: dict[str, Any] = json.loads(run.stdout)
    return told


def herd(entries: int) -> tuple[list[Tablet], int]:
    """Sixty tablets with so many entries together."""
    tablets = [filled(max(BATCH, entries // TABLETS), f"sink {number}") for number in range(TABLETS)]
    return tablets, sum(len(tablet.lines) for tablet in tablets)


def writer(run: Run, rounds: int, entries: int) -> None:
    """G9, and how many batches share a commit."""
    tablets, total = herd(entries)
    result = run.rounds("G9", "entries over HTTP with their tables / the same writes without HTTP", Goal(">=", 0.6))
    for _ in range(rounds):
        bare, commits = in_new(run.folder, lambda here: without_http(here, tablets))
        http = in_new(run.folder, lambda here: over_http(here, tablets))
        result.round(
            bare / http["seconds"], bare, without_http_per_s=round(total / bare),
            over_http_per_s=round(total / http["seconds"]), cpu_us_an_entry=round(http["cpu_s"] / total * 1e6),
            batches_a_commit=round(total / BATCH / commits, 1), p50_ms=http["p50_ms"], p99_ms=http["p99_ms"],
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
VIEW = "function (doc) { emit([doc.about.inspection, doc.seq], doc.kind); }"
"""The least of our tables: what belongs to an inspection, in its order."""
PEER_SERVER = """\
const PouchDB = require('pouchdb').defaults({ prefix: process.argv[2] + '/db/' });
require('fs').mkdirSync(process.argv[2] + '/db', { recursive: true });
const app = require('express')();
const options = { mode: 'minimumForPouchDB', inMemoryConfig: true, logPath: '/dev/null' };
app.use('/', require('express-pouchdb')(PouchDB, options));
const server = app.listen(0, '127.0.0.1', () => console.log(server.address().port));
"""


def peer(run: Run, rounds: int, entries: int) -> None:
    """G8: the same documents to PouchDB's server by `_bulk_docs`, 20 a request.

    We sync at every commit and fill every table; the peer syncs some 14 times in all and fills none. The second ratio
    asks it once, at the end, for one table (a view): what reading would cost there is in the time, as it is in ours.
    """
    plain = run.rounds("G8", "herd entries with their tables / PouchDB _bulk_docs, no table, no sync", Goal(">=", 3))
    with_view = run.rounds("G8 view", "the same / PouchDB with one table of its own, read once", Goal(">=", 3))
    home = run.folder / "peer"
    home.mkdir()
    (home / "package.json").write_text(json.dumps({"private": True, "dependencies": PEER}))
    npm = shutil.which("npm") or "npm"
    first = [sys.executable, "-c", RUN_NPM] if THE_WHEELS in Path(npm).parts else [npm]
    command = [*first, "install", "--no-audit", "--no-fund", "--loglevel=error"]
    installed = subprocess.run(command, cwd=home, capture_output=True, text=True, check=False, timeout=300)
    if installed.returncode != 0:
        plain.more = with_view.more = {"why": "the peer could not be installed"}
        return
    (home / "server.js").write_text(PEER_SERVER)
    tablets, total = herd(entries)
    for _ in range(rounds):
        mine = in_new(run.folder, lambda here: over_http(here, tablets))
        theirs = in_new(run.folder, lambda here: to_peer(home, here, tablets))
        cpu = theirs["cpu_s"] / mine["cpu_s"] if mine["cpu_s"] else 0
        plain.round(
            theirs["seconds"] / mine["seconds"], theirs["seconds"], ours_per_s=round(total / mine["seconds"]),
            peer_per_s=round(total / theirs["seconds"]), ours_cpu_us=round(mine["cpu_s"] / total * 1e6),
            peer_cpu_us=round(theirs["cpu_s"] / total * 1e6), cpu_ratio=round(cpu, 2),
        )  # fmt: skip
        with_view.round((theirs["seconds"] + theirs["view_s"]) / mine["seconds"], theirs["seconds"])


def to_peer(home: Path, here: Path, tablets: Sequence[Tablet]) -> dict[str, Any]:
    process = subprocess.Popen(["node", "server.js", str(here)], cwd=home, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        base = f"http://127.0.0.1:{int(process.stdout.readline())}"
        _put(base + "/record", b"")
        design = {"_id": "_design/tables", "views": {"inspection": {"map": VIEW}}}
        _put(base + "/record/_design/tables", json.dumps(design).encode())
        jobs = []
        for each in tablets:
            docs = [{"_id": f"{each.chain}-{seq:08}", **json.loads(line)} for seq, line in enumerate(each.lines, 1)]
            some = [docs[start : start + BATCH] for start in range(0, len(docs), BATCH)]
            told = [{"path": "/record/_bulk_docs", "body": json.dumps({"docs": part})} for part in some]
            jobs.append({"headers": {"content-type": "application/json"}, "wanted": 201, "batches": told})
        before = cpu_s(process.pid)
        answer = client(base, jobs, here) | {"cpu_s": cpu_s(process.pid) - before}
        begun = time.perf_counter()
        with urllib.request.urlopen(base + "/record/_design/tables/_view/inspection?limit=1", timeout=120) as view:
            assert json.load(view)["total_rows"] == sum(len(each.lines) for each in tablets)
        return answer | {"view_s": time.perf_counter() - begun}
    finally:
        process.kill()
        process.communicate()


def _put(url: str, body: bytes) -> None:
    request = urllib.request.Request(url, body, {"content-type": "application/json"}, method="PUT")
    urllib.request.urlopen(request, timeout=60).read()


# ---------------------------------------------------------------- G7


def singles(run: Run, rounds: int, entries: int) -> None:
    """G7: requests of one entry each, from sixty tablets, on a disk that needs 4 ms more for each sync.

    The shim has no queue: syncs of several threads would not wait for each other. The writer is one thread.
    """
    result = run.rounds("G7", "group commit / commit a request; single entries, +4 ms a sync (shim)", Goal(">=", 10))
    if shutil.which("strace") is None:
        result.more = {"why": "strace is not installed here"}
        return
    tablets, total = herd(entries // 2)
    for _ in range(rounds):
        alone, together = (
            in_new(run.folder, lambda here, most=most: on_slow_disk(here, tablets, most)) for most in (1, 256)
        )
        result.round(
            alone["seconds"] / together["seconds"], alone["seconds"], requests=together["requests"],
            alone_per_s=round(total / alone["seconds"]), together_per_s=round(total / together["seconds"]),
            together_p99_ms=together["p99_ms"],
        )  # fmt: skip


def on_slow_disk(here: Path, tablets: Sequence[Tablet], most_jobs: int) -> dict[str, Any]:
    with slow_server(here, tablets, most_jobs) as address:
        return client(address, ours(tablets, 1), here)


@contextmanager
def slow_server(here: Path, tablets: Sequence[Tablet], most_jobs: int) -> Iterator[str]:
    """The log's routes behind strace; with seccomp only syncs stop there, everything else runs at its own speed."""
    stations = {each.chain: {"station": each.name, "spki": base64url(public_der(each.key))} for each in tablets}
    told = here / "stations.json"
    told.write_text(json.dumps(stations))
    calls = "fsync,fdatasync"
    strace = ["strace", "-f", "--seccomp-bpf", "-o", "/dev/null", "-e", f"trace={calls}"]
    strace += ["-e", f"inject={calls}:delay_exit={SLOWER_MS * 1000}"]
    command = [*strace, sys.executable, str(HERE / "_log_server.py"), str(here / "log"), str(told), str(most_jobs)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True)
    try:
        assert process.stdout is not None
        yield f"http://127.0.0.1:{int(process.stdout.readline())}"
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


# ---------------------------------------------------------------- G18


def verifier(run: Run, rounds: int, entries: int) -> None:
    """The whole check of an export, signatures apart, against hashing the same lines and nothing else."""
    tablet, folder = filled(max(entries, CHAIN), "sink 1"), run.folder / "export"
    folder.mkdir()
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
    result = run.rounds("G18", "verifier, all rules but signatures / a bare hash loop", Goal("<=", 12))
    whole_s = run.rounds("G18 time", "verifier, 100,000 entries", Goal("<=", 1.2), " s")
    for _ in range(rounds):
        begun = time.perf_counter()
        for line in data.split(b"\n")[:-1]:
            hashlib.sha256(b"loupebook/entry/1\n" + line).hexdigest()
        loop = time.perf_counter() - begun
        begun = time.perf_counter()
        found = verify.check(folder)
        whole = time.perf_counter() - begun
        assert found.faults == [] and found.entries == end
        result.round(whole / loop, loop, loop_s=round(loop, 3), verifier_s=round(whole, 3), entries=end)
        whole_s.round(whole * 100_000 / end, loop)
    assert entry_hash(tablet.lines[-1]) == tablet.hashes[-1]


PARTS: Mapping[str, Callable[[Run, int, int], None]] = {
    "writer": writer,
    "peer": peer,
    "singles": singles,
    "verifier": verifier,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("parts", nargs="*", help=f"of {', '.join(PARTS)}; all when none is named")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--entries", type=int, default=4800)
    given = parser.parse_args()
    for name in given.parts or PARTS:
        with Run(f"log-{name}") as run:
            PARTS[name](run, given.rounds, given.entries)


if __name__ == "__main__":
    main()
