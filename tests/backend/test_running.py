"""How the run is spread over the cores of the machine it finds."""

from __future__ import annotations

import pytest
from suites import MOST_WORKERS, cores, spread


def test_one_core_runs_one_test_at_a_time() -> None:
    assert spread("browser", 1) == spread("backend", 1) == ()


@pytest.mark.parametrize(("machine", "workers"), [(2, 2), (3, 3), (4, 4), (64, MOST_WORKERS)])
def test_each_core_gets_a_worker_up_to_four_and_a_file_is_never_cut_in_two(machine: int, workers: int) -> None:
    assert spread("browser", machine) == ("-n", str(workers), "--dist", "loadfile", "--no-loadscope-reorder")
    assert workers <= 4


@pytest.mark.parametrize("folder", ["faults", "vectors"])
def test_where_a_fault_has_its_moment_one_test_runs_at_a_time(folder: str) -> None:
    assert spread(folder, 2) == ()


def test_there_is_a_core_to_run_on() -> None:
    assert cores() >= 1
