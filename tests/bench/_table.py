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


def table(facts: Iterable[Mapping[str, Any]], metrics: Iterable[Mapping[str, Any]], before: str = "") -> str:
    """The whole file. `before`: the file as it stood; its rows of what was not measured again are kept."""
    measured, programs = _rows_of(before, "Id"), _rows_of(before, "Program")
    measured |= {str(line["metric"]): row(line) for line in metrics}
    programs |= {str(line["facts"]): machine(line) for line in facts}
    told = "\n| Program | Day | Machine | Disk | Versions |\n| --- | --- | --- | --- | --- |\n"
    rows = [measured[name] for name in sorted(measured, key=_number)]
    return HEAD + "".join(rows) + told + "".join(programs[name] for name in sorted(programs))


def _rows_of(text: str, head: str) -> dict[str, str]:
    """The rows under a table's head, by what stands first in each."""
    found: dict[str, str] = {}
    inside = False
    for line in text.splitlines(keepends=True):
        cells = [each.strip() for each in line.split("|")]
        inside = line.startswith("|") and (inside or cells[1] == head)
        if inside and cells[1] != head and not cells[1].startswith("---"):
            found[cells[1]] = line
    return found


if __name__ == "__main__":
    RESULTS.write_text(table(*read(), RESULTS.read_text("utf-8") if RESULTS.exists() else ""), "utf-8")
    print(RESULTS.read_text("utf-8"))
