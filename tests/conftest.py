"""What all tests share: where the checkout is, and where pictures of a run go."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


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
