"""What all tests share: where the checkout is, and where pictures of a run go."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).resolve().parents[1]

settings.register_profile(
    "run", deadline=None, derandomize=True, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("run")
"""A drawn example takes what it takes on a machine that does other things too, and each run draws the same ones."""


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture(scope="session")
def screens(root: Path) -> Path:
    """The folder that keeps the pictures of a run."""
    folder = root / "tests" / "output" / "screens"
    folder.mkdir(parents=True, exist_ok=True)
    return folder
