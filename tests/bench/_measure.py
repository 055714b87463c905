"""What all measurements share: the facts of the machine, probes of its disk, rounds, and the lines they leave behind.

A program makes one `Run`, tells it each ratio of each round, and ends it. One JSON line a metric goes to the screen
and to `tests/output/bench/PROGRAM.jsonl`; `_table.py` makes the table in `RESULTS.md` of them.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import statistics
import subprocess
import tempfile
import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).resolve().parents[2]
LINES = ROOT / "tests" / "output" / "bench"

REFERENCE_MAY_DIFFER = 1.2
"""A reference that differs by more between rounds says that the machine was busy with something else."""
DISK_MAY_DIFFER = 2.0


def say(**result: object) -> None:
    """One line on the screen."""
    print(json.dumps(result), flush=True)


def fdatasync_ms(folder: Path, seconds: float = 3.0) -> dict[str, float]:
    """How long this disk takes to make 4 KiB durable."""
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


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which this share of them lies."""
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def cpu_s(pid: int) -> float:
    """Seconds of processor a process has used, all its threads together; 0 where the system does not tell."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Goal:
    """`<=` or `>=` a ratio."""

    sign: str
    value: float

    def met(self, ratio: float) -> bool:
        return ratio <= self.value if self.sign == "<=" else ratio >= self.value

    def __str__(self) -> str:
        return f"{self.sign} {self.value}"


@dataclass
class Rounds:
    """The ratios of one metric, one a round, each the median of its runs; the reference they are held against."""

    metric: str
    what: str
    goal: Goal
    unit: str = "x"
    ratios: list[float] = field(default_factory=list)
    reference: list[float] = field(default_factory=list)
    more: dict[str, object] = field(default_factory=dict)

    def round(self, ratio: float, reference: float | None = None, **more: object) -> None:
        """One round: its ratio, what the reference took or did in it, and whatever helps to read it."""
        self.ratios.append(ratio)
        if reference is not None:
            self.reference.append(reference)
        self.more = more
        say(metric=self.metric, round=len(self.ratios) - 1, ratio=round(ratio, 3), goal=str(self.goal), **more)

    def line(self, disk: Sequence[Mapping[str, float]], load: float, cores: int) -> dict[str, object]:
        """The closing line, or why nothing was measured. `load`: that of the machine before it began."""
        head = {"metric": self.metric, "what": self.what, "goal": str(self.goal), "unit": self.unit}
        if not self.ratios:
            return head | {"not_measured": self.more.get("why", "nothing ran")}
        median = statistics.median(self.ratios)
        return head | {
            "median": round(median, 3),
            "least": round(min(self.ratios), 3),
            "most": round(max(self.ratios), 3),
            "rounds": [round(each, 3) for each in self.ratios],
            "reference": [round(each, 4) for each in self.reference],
            "met": self.goal.met(median),
            "noise": self._noise(disk, load, cores),
            "last_round": self.more,
        }

    def _noise(self, disk: Sequence[Mapping[str, float]], load: float, cores: int) -> list[str]:
        """Why no verdict is given."""
        found = [f"the machine was busy: load {load} on {cores} cores"] if load > cores else []
        if self.reference and max(self.reference) > REFERENCE_MAY_DIFFER * min(self.reference):
            found.append(f"the reference differed {max(self.reference) / min(self.reference):.1f}x between rounds")
        middles = [probe["p50_ms"] for probe in disk]
        if len(middles) > 1 and max(middles) > DISK_MAY_DIFFER * min(middles):
            found.append(f"fdatasync moved {max(middles) / min(middles):.1f}x")
        return found


class Run:
    """One program's run: a folder on the real disk, facts and a probe before, a probe after, its lines at the end."""

    def __init__(self, program: str) -> None:
        self.program = program
        self._stack = ExitStack()
        self._rounds: list[Rounds] = []
        self._disk: list[dict[str, float]] = []
        self._facts: dict[str, object] = {}
        self._load, self._cores = 0.0, os.cpu_count() or 1

    def __enter__(self) -> Run:
        self.folder = Path(tempfile.mkdtemp(prefix=f"bench-{self.program}-"))
        self._stack.callback(shutil.rmtree, self.folder, ignore_errors=True)
        self._load = round(os.getloadavg()[0], 1)
        self._disk.append(fdatasync_ms(self.folder))
        self._facts = {"facts": self.program, **facts(self.folder)}
        say(**self._facts, fdatasync=self._disk[0])
        return self

    def rounds(self, metric: str, what: str, goal: Goal, unit: str = "x") -> Rounds:
        """A metric of this run."""
        made = Rounds(metric, what, goal, unit)
        self._rounds.append(made)
        return made

    def settle(self) -> None:
        """Between rounds: what the last one left is on the disk before the next begins."""
        os.sync()
        time.sleep(2)

    def __exit__(self, kind: type[BaseException] | None, what: BaseException | None, at: TracebackType | None) -> None:
        try:
            if kind is None:
                self._disk.append(fdatasync_ms(self.folder))
                self._close()
        finally:
            self._stack.close()

    def _close(self) -> None:
        ended = self._facts | {"load_after": round(os.getloadavg()[0], 1), "fdatasync": self._disk}
        lines = [ended, *(each.line(self._disk, self._load, self._cores) for each in self._rounds)]
        for line in lines:
            say(**line)
        LINES.mkdir(parents=True, exist_ok=True)
        (LINES / f"{self.program}.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines), "utf-8")


def facts(folder: Path) -> dict[str, object]:
    """On what it runs."""
    return {
        "day": datetime.now(UTC).date().isoformat(),
        "cores": os.cpu_count(),
        "memory_gb": round(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9, 1),
        "load": round(os.getloadavg()[0], 1),
        "kernel": platform.release(),
        "python": platform.python_version(),
        "node": _output(["node", "--version"]),
        "sqlite": _sqlite(),
        "disk": _output(["stat", "-f", "-c", "%T", str(folder)]),
    }


def _sqlite() -> str:
    from loupebook.log.engine import sqlite_version

    return ".".join(map(str, sqlite_version()))


def _output(command: Sequence[str]) -> str:
    try:
        return subprocess.run(command, capture_output=True, text=True, check=False).stdout.strip()
    except OSError:
        return "none"
