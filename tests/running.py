"""Runs every test there is, or those of one capability. Prepares the checkout first, as the start does."""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import time
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path

from starting.command import tell
from starting.prepare import Ready, prepare
from starting.shell import RealShell, Stopped
from suites import CAPABILITIES, WHOLE_RUN_S, Suite, Tools, benches, checks, cores, tests

ROOT = Path(__file__).resolve().parents[1]
RESULTS = ROOT / "tests" / "output" / "results"

NO_TESTS = 5
"""pytest's exit code when it collected nothing."""

UNDER_WAY: set[subprocess.Popen[bytes]] = set()
"""The programs that run now, for who interrupts a run."""


@dataclass(frozen=True, slots=True)
class Count:
    """How a suite ended."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0

    def __add__(self, other: Count) -> Count:
        return Count(self.passed + other.passed, self.failed + other.failed, self.skipped + other.skipped)

    def __str__(self) -> str:
        return f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped"


def main(argv: Sequence[str] | None = None) -> int:
    """The run; its exit code: 0 all passed, 1 something failed or nothing ran, 4 not ready to run."""
    given = options().parse_args(argv)
    shell = RealShell(ROOT / ".start" / "tests.log")
    try:
        ready = prepare(shell, ROOT, testing=True, long=given.long)
    except Stopped as stopped:
        return tell(shell, stopped)
    suites = chosen(given, Tools(str(ready.venv.python), ready.node.npm, ready.venv.bin))
    if given.pictures or given.long:
        os.environ["LOUPEBOOK_PICTURES"] = "1"
    began = time.monotonic()
    limit = None if given.bench or given.long else began + WHOLE_RUN_S
    shutil.rmtree(RESULTS, ignore_errors=True)
    RESULTS.mkdir(parents=True)
    rows = run_all(suites, ready, limit)
    return close(rows, time.monotonic() - began, limit is not None, given.only)


def options() -> argparse.ArgumentParser:
    """The options of a run."""
    parser = argparse.ArgumentParser(prog="run.py", description=__doc__)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--only", choices=CAPABILITIES, help="the tests of one capability")
    which.add_argument("--bench", action="store_true", help="the measurements instead of the tests")
    parser.add_argument("--pictures", action="store_true", help="keep a picture of every screen that is looked at")
    parser.add_argument("--long", action="store_true", help="also the long forms; no limit on the whole run")
    return parser


def chosen(given: argparse.Namespace, tools: Tools) -> list[Suite]:
    """The suites that were asked for."""
    if given.bench:
        return benches(tools, ROOT)
    found = tests(tools, ROOT, given.only, given.long)
    return found if given.only else checks(tools) + found


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the closing table."""

    suite: Suite
    count: Count
    seconds: float


def run_all(suites: Sequence[Suite], ready: Ready, limit: float | None) -> list[Row]:
    """Every suite: first those that may run beside others, one a core, then one after another. The rows stand in the
    order of the suites."""
    rows: dict[str, Row] = {}
    beside = sorted((suite for suite in suites if suite.beside), key=lambda suite: -suite.budget_s)
    with ThreadPoolExecutor(cores()) as pool:
        try:
            for done in as_completed([pool.submit(run, suite, ready, limit, True) for suite in beside]):
                rows[done.result().suite.name] = done.result()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            for process in list(UNDER_WAY):
                os.killpg(process.pid, signal.SIGKILL)
            raise
    for suite in suites:
        if not suite.beside:
            rows[suite.name] = run(suite, ready, limit)
    return [rows[suite.name] for suite in suites]


def run(suite: Suite, ready: Ready, limit: float | None, together: bool = False) -> Row:
    """Runs one suite and counts it: its output as it comes, of one that runs beside others in one piece at its end.

    A suite that is over the limit of the run is ended.
    """
    if not together:
        print(f"\n=== {suite.name}", flush=True)
    report = RESULTS / (suite.name.replace(": ", "-").replace(" ", "-") + ".xml")
    env = {
        **os.environ,
        "PATH": str(ready.venv.bin) + os.pathsep + ready.node.path,
        "PYTHONPATH": str(ROOT / "backend"),
    }
    began = time.monotonic()
    said = RESULTS / f"{report.stem}.txt" if together else None
    code = call([*suite.command, *reporting(suite, report)], ROOT / suite.where, env, limit, said)
    if said is not None:
        print(f"\n=== {suite.name}\n{said.read_text('utf-8', 'replace')}", end="", flush=True)
    return Row(suite, count(suite, code, report), time.monotonic() - began)


def reporting(suite: Suite, report: Path) -> list[str]:
    """The words that make a suite write down what it ran."""
    if suite.how == "pytest":
        return [f"--junitxml={report}"]
    if suite.how == "vitest":
        words = ["--reporter=default", "--reporter=junit", f"--outputFile.junit={report}"]
        return words if "--" in suite.command else ["--", *words]
    return []


def call(
    command: Sequence[str], where: Path, env: dict[str, str], limit: float | None, said: Path | None = None
) -> int:
    """The exit code of a program that gets a process group of its own, so that ending it ends all it began.

    What it says goes to the file `said`, or is not held back.
    """
    with said.open("wb") if said is not None else nullcontext() as out:
        process = subprocess.Popen(
            command, cwd=where, env=env, stdin=subprocess.DEVNULL, stdout=out, stderr=out, start_new_session=True
        )
    UNDER_WAY.add(process)
    try:
        return process.wait(None if limit is None else max(1.0, limit - time.monotonic()))
    except BaseException as ended:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        if not isinstance(ended, subprocess.TimeoutExpired):
            raise
        print("The whole run is over its limit; this suite was ended.", flush=True)
        return 124
    finally:
        UNDER_WAY.discard(process)


def count(suite: Suite, code: int, report: Path) -> Count:
    """What a suite's report says; a bad exit code is at least one failure, whatever the report says."""
    if suite.how == "tool":
        return Count(passed=int(code == 0), failed=int(code != 0))
    if suite.how == "pytest" and code == NO_TESTS:
        return Count()
    if not report.is_file():
        return Count(failed=1)
    found = Count()
    for case in ET.parse(report).getroot().iter("testcase"):
        bad = case.find("failure") is not None or case.find("error") is not None
        left_out = case.find("skipped") is not None
        found += Count(int(not bad and not left_out), int(bad), int(left_out and not bad))
    return found if code == 0 or found.failed else found + Count(failed=1)


def close(rows: Sequence[Row], seconds: float, limited: bool, only: str | None) -> int:
    """Prints the table of suites and the plain closing line; the exit code."""
    print("\n" + f"{'suite':24} {'passed':>7} {'failed':>7} {'skipped':>8} {'seconds':>8} {'budget':>7}")
    for row in rows:
        over = "  over its budget" if row.seconds > row.suite.budget_s else ""
        one = row.count
        print(
            f"{row.suite.name:24} {one.passed:7} {one.failed:7} {one.skipped:8}"
            f" {row.seconds:8.1f} {row.suite.budget_s:7}{over}"
        )
    total = sum((row.count for row in rows), Count())
    print(f"{'whole run':24} {'':24} {seconds:8.1f}" + (f" {WHOLE_RUN_S:7}" if limited else ""))
    if limited and seconds > WHOLE_RUN_S:
        print(f"The whole run took longer than {WHOLE_RUN_S // 60} minutes: that counts as a failure.")
        total += Count(failed=1)
    nothing = total.passed + total.failed == 0
    if nothing:
        print(f"No test ran: {f'none is marked {only}' if only else 'there is none'} yet. That is no success.")
    print(total, flush=True)
    return int(nothing or total.failed > 0)
