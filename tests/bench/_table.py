"""Writes `RESULTS.md`: one table of what the programs beside it measured last, and on what machine.

    python tests/bench/_table.py

`python3 tests/run.py --bench` runs it after the measurements. A program that was not run again keeps its rows.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
LINES = HERE.parents[1] / "tests" / "output" / "bench"
RESULTS = HERE / "RESULTS.md"

HEAD = """\
# Measured

Written by `python3 tests/run.py --bench`; do not edit by hand. Each number is a ratio of two things measured in one
run on one machine, never bare seconds: the median of the rounds' medians, then the least and the most of a round.
No verdict is given where the reference or the disk moved too much between rounds: the machine was busy with other
work.

| Id | What against what | Goal | Median | Least to most | Verdict |
| --- | --- | --- | --- | --- | --- |
"""


def read() -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The lines of facts, one a program, and of metrics, in the order of their numbers."""
    lines = [
        json.loads(line) for path in sorted(LINES.glob("*.jsonl")) for line in path.read_text("utf-8").splitlines()
    ]
    metrics = [line for line in lines if "metric" in line]
    return [line for line in lines if "facts" in line], sorted(metrics, key=lambda line: _number(line["metric"]))


def _number(metric: str) -> tuple[int, str]:
    found = re.search(r"\d+", metric)
    return (int(found[0]) if found else 0), metric


def row(line: Mapping[str, Any]) -> str:
    """One metric as a row of the table."""
    if "not_measured" in line:
        return f"| {line['metric']} | {line['what']} | {line['goal']} | | | not measured: {line['not_measured']} |\n"
    unit = line["unit"]
    verdict = ("met" if line["met"] else "missed") if not line["noise"] else f"none: {'; '.join(line['noise'])}"
    median, least, most = (number(line[name]) for name in ("median", "least", "most"))
    goal = line["goal"] if unit == "x" else line["goal"] + unit
    return f"| {line['metric']} | {line['what']} | {goal} | {median}{unit} | {least} to {most} | {verdict} |\n"


def number(value: float) -> str:
    """Three digits that mean something."""
    return f"{value:.0f}" if value >= 100 else f"{value:.2f}"


def machine(line: Mapping[str, Any]) -> str:
    """What one program ran on."""
    probes = ", ".join(f"{probe['p50_ms']:g}/{probe['p99_ms']:g}" for probe in line["fdatasync"])
    return (
        f"| {line['facts']} | {line['day']} | {line['cores']} cores, {line['memory_gb']} GB, load {line['load']} to "
        f"{line['load_after']} | {line['disk']}, fdatasync p50/p99 before, after: {probes} ms | {line['kernel']}, "
        f"Python {line['python']}, Node {line['node']}, SQLite {line['sqlite']} |\n"
    )


def table(facts: Iterable[Mapping[str, Any]], metrics: Iterable[Mapping[str, Any]]) -> str:
    """The whole file."""
    told = "\n| Program | Day | Machine | Disk | Versions |\n| --- | --- | --- | --- | --- |\n"
    return HEAD + "".join(map(row, metrics)) + told + "".join(map(machine, facts))


if __name__ == "__main__":
    RESULTS.write_text(table(*read()), "utf-8")
    print(RESULTS.read_text("utf-8"))
