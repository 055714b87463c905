"""The table of measurements: what counts as met, as missed, and when nothing may be said."""

from __future__ import annotations

import pytest
from _measure import Goal, Rounds
from _table import row, table

pytestmark = pytest.mark.sink

QUIET = [{"p50_ms": 0.2, "p99_ms": 1.0}, {"p50_ms": 0.3, "p99_ms": 1.0}]

AT_MOST_TWO = Goal("<=", 2.0)


def measured(*ratios: float, reference: float = 1.0, goal: Goal = AT_MOST_TWO) -> Rounds:
    rounds = Rounds("G1", "drain / RR", goal)
    for number, ratio in enumerate(ratios):
        rounds.round(ratio, reference**number)
    return rounds


def said(rounds: Rounds, disk: list[dict[str, float]] = QUIET, load: float = 0.5) -> str:
    """The row's verdict."""
    return row(rounds.line(disk, load, 2)).split("|")[-2].strip()


def test_a_goal_is_met_by_the_median_of_the_rounds() -> None:
    assert said(measured(1.5, 1.9, 3.0)) == "met"
    assert said(measured(1.5, 2.1, 3.0)) == "missed"
    assert said(measured(2.9, 3.1, 3.2, goal=Goal(">=", 3))) == "met"
    assert said(measured(2.9, 2.8, 3.2, goal=Goal(">=", 3))) == "missed"


def test_nothing_is_said_when_the_reference_the_disk_or_the_machine_moved() -> None:
    assert said(measured(1.0, 1.0, reference=1.3)) == "none: the reference differed 1.3x between rounds"
    assert said(measured(1.0), [*QUIET, {"p50_ms": 0.5, "p99_ms": 1.0}]) == "none: fdatasync moved 2.5x"
    assert said(measured(1.0), load=3.0) == "none: the machine was busy: load 3.0 on 2 cores"


def test_what_could_not_be_measured_says_why() -> None:
    rounds = measured()
    rounds.more = {"why": "strace is not installed here"}
    assert said(rounds) == "not measured: strace is not installed here"


def test_the_table_tells_median_least_and_most() -> None:
    told = table([], [measured(1.0, 2.5, 1.5).line(QUIET, 0.5, 2)])
    assert "| G1 | drain / RR | <= 2.0 | 1.50x | 1.00 to 2.50 | met |" in told


def test_what_was_not_measured_again_keeps_its_row() -> None:
    before = table([], [measured(1.0, 2.5, 1.5).line(QUIET, 0.5, 2)])
    other = Rounds("G12", "growth", AT_MOST_TWO)
    other.round(1.25)
    told = table([], [other.line(QUIET, 0.5, 2)], before)
    assert "| G1 | drain / RR | <= 2.0 | 1.50x |" in told and "| G12 | growth | <= 2.0 | 1.25x |" in told
    assert table([], [], told) == told
