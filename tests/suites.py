"""What a run consists of: every suite, what it may take, and which capability asks for what."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

WHOLE_RUN_S = 24 * 60
CAPABILITIES = ("sink", "photos", "repair", "shift", "breadth")

SPREAD = ("backend", "browser")
"""The folders whose files run side by side; in the others a fault must come at its own moment, or strace looks on."""

MOST_WORKERS = 4

How = Literal["tool", "pytest", "vitest"]


@dataclass(frozen=True, slots=True)
class Tools:
    """The programs a suite is made of."""

    python: str
    npm: tuple[str, ...]
    bin: Path


@dataclass(frozen=True, slots=True)
class Suite:
    """One suite: its name, the seconds it should stay under, how it is counted, and its command.

    `beside`: it keeps one core busy and nothing in it looks at a clock, so it may run while others do.
    """

    name: str
    budget_s: int
    how: How
    command: tuple[str, ...]
    where: str = "."
    beside: bool = False


def checks(tools: Tools) -> list[Suite]:
    """What is looked at without running the product; each counts as one check."""
    npm = tools.npm
    return [
        Suite("style", 20, "tool", (str(tools.bin / "ruff"), "check", "."), beside=True),
        Suite("types", 150, "tool", (str(tools.bin / "mypy"),), beside=True),
        Suite("import lines", 20, "tool", (str(tools.bin / "lint-imports"),), beside=True),
        Suite("screens: style", 20, "tool", (*npm, "run", "--silent", "lint"), "frontend", beside=True),
        Suite("screens: types", 120, "tool", (*npm, "run", "--silent", "check"), "frontend", beside=True),
    ]


def tests(tools: Tools, root: Path, capability: str | None, long: bool) -> list[Suite]:
    """The suites that run the product; of one capability only, when one is named."""
    found: list[Suite] = []
    files = vitest_files(root, capability)
    if files:
        chosen = [] if capability is None else ["--", *(path.as_posix() for path in files)]
        found.append(
            Suite("screens", 120, "vitest", (*tools.npm, "run", "--silent", "test", *chosen), "frontend"),
        )
    for folder, budget_s in (("backend", 240), ("vectors", 120), ("faults", 240), ("browser", 1080)):
        if any((root / "tests" / folder).glob("**/test_*.py")):
            command = (tools.python, "-m", "pytest", f"tests/{folder}", "-m", expression(capability, long), "-q")
            found.append(
                Suite(folder, budget_s, "pytest", (*command, *spread(folder, cores())), beside=folder == "vectors")
            )
    return found


def cores() -> int:
    """The processor cores this run may use."""
    may = getattr(os, "sched_getaffinity", None)
    return len(may(0)) if may else os.cpu_count() or 1


def spread(folder: str, cores: int) -> tuple[str, ...]:
    """The words that spread a folder's files over the cores, a worker each; all tests of a file stay with one worker.

    The files are begun in the order they are collected in. None for a folder that runs one test at a time, and none on
    a single core.
    """
    workers = min(cores, MOST_WORKERS)
    return (
        ("-n", str(workers), "--dist", "loadfile", "--no-loadscope-reorder") if folder in SPREAD and workers > 1 else ()
    )


def expression(capability: str | None, long: bool) -> str:
    """The pytest marker expression of a run."""
    parts = ([capability] if capability else []) + ([] if long else ["not slow"])
    return " and ".join(parts)


def vitest_files(root: Path, capability: str | None) -> list[Path]:
    """The vitest files of a capability: those that name it in a line `// capability: NAME, NAME`.

    A file that names none belongs to the sink, on which all else stands.
    """
    folders = (root / "frontend" / "src", root / "tests" / "frontend")
    files = sorted(path for folder in folders for path in folder.rglob("*.test.ts"))
    return [path for path in files if capability is None or capability in named_in(path.read_text("utf-8"))]


def named_in(text: str) -> set[str]:
    """The capabilities a vitest file names."""
    lines = (line.removeprefix("// capability:") for line in text.splitlines() if line.startswith("// capability:"))
    return {name.strip() for line in lines for name in line.split(",")} or {"sink"}


def benches(tools: Tools, root: Path) -> list[Suite]:
    """Every program in tests/bench, each counted as one check, and last the table of what they found."""
    programs = sorted((root / "tests" / "bench").glob("*.py"))
    measuring = [path.relative_to(root).as_posix() for path in programs if not path.name.startswith("_")]
    found = [Suite(f"bench: {Path(name).stem}", 600, "tool", (tools.python, name)) for name in measuring]
    return [*found, Suite("bench: table", 10, "tool", (tools.python, "tests/bench/_table.py"))]
