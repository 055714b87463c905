"""The table of expectations in DEVELOPERS.md: each row names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
HEADING = "## Expectations and the tests that hold them"
NUMBER = re.compile(r"\| P?\d+ \|")
HELD = (
    "P1 P2 P3 P4 P5 P6 P10 P11 P12 P13 P14 P15 "
    "1 2 3 4 5 6 7 8 9 10 15 16 17 18 19 20 21 27 28 29 30 31 32 33 34 35 36 "
    "37 38 40 41 44 47 52 62 65 66 67 68 69 72 74 75"
).split()
NAMED = re.compile(r"`([\w/.-]+\.(?:py|ts))::([^`]+)`")


def rows() -> list[list[str]]:
    """The cells of each row: number, who, in short words, tests."""
    section = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition(HEADING)[2].partition("\n## ")[0]
    table = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table if NUMBER.match(line)]


def test_each_row_has_a_number_of_its_own_and_tests() -> None:
    numbers = [row[0] for row in rows()]
    assert numbers and len(numbers) == len(set(numbers))
    assert [row[0] for row in rows() if not NAMED.search(row[-1])] == []


def test_what_must_hold_has_a_row() -> None:
    assert set(HELD) - {row[0] for row in rows()} == set()


def test_each_test_that_is_named_is_there() -> None:
    missing = []
    for row in rows():
        for file, name in NAMED.findall(row[-1]):
            path = ROOT / file
            text = path.read_text("utf-8") if path.is_file() else ""
            stands = f"def {name}(" in text if file.endswith(".py") else f'test("{name}"' in text
            if not stands:
                missing.append(f"{row[0]}: {file}::{name}")
    assert missing == []
