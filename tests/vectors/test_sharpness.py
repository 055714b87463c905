"""The measured numbers of drawn pictures, in both languages (`frontend/src/workers/sharpness.test.ts`).

The pictures come of whole numbers alone, so that both languages draw the same: a linear congruential generator
(constants of Numerical Recipes) gives blocks of grey, which are averaged over a square. What is expected of edges was
checked here by the definition in floating point, written out as loops; the shares and means by numpy.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from loupebook.looking.sharpness import Grey, measure

pytestmark = pytest.mark.photos

ROWS: list[dict[str, Any]] = json.loads(
    (Path(__file__).resolve().parents[2] / "shared/vectors/sharpness.json").read_text()
)["pictures"]


def drawn(width: int, height: int, seed: int, block: int, over: int, gain: int, add: int) -> Grey:
    """Blocks of `block` pixels, averaged over squares of `over`, times `gain` / 16 plus `add`, at most 255."""
    state, wide, high = seed, -(-(width + over) // block), -(-(height + over) // block)
    cells = np.empty(wide * high, np.int64)
    for at in range(cells.size):
        state = (state * 1664525 + 1013904223) % 2**32
        cells[at] = state >> 24
    whole = np.kron(cells.reshape(high, wide), np.ones((block, block), np.int64))
    sums = np.zeros((height, width), np.int64)
    for y in range(over):
        for x in range(over):
            sums += whole[y : y + height, x : x + width]
    return np.minimum(255, sums // (over * over) * gain // 16 + add).astype(np.uint8)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["description"])
def test_the_numbers_of_a_drawn_picture(row: dict[str, Any]) -> None:
    assert asdict(measure(drawn(**row["input"]))) == row["expected"]


def edge_energy(grey: np.ndarray[Any, np.dtype[Any]], edge: int) -> float:
    """By the definition, pixel for pixel: steps of neighbouring rows and columns multiplied."""
    high, wide = grey.shape[0] // edge, grey.shape[1] // edge
    mean = grey[: high * edge, : wide * edge].astype(float).reshape(high, edge, wide, edge).mean(axis=(1, 3))
    total = 0.0
    for y in range(high - 2):
        for x in range(wide - 2):
            total += (mean[y, x + 2] - mean[y, x]) * (mean[y + 1, x + 2] - mean[y + 1, x])
            total += (mean[y + 2, x] - mean[y, x]) * (mean[y + 2, x + 1] - mean[y, x + 1])
    return total * edge * edge


def test_the_edges_are_measured_as_they_are_defined() -> None:
    grey = drawn(width=96, height=64, seed=1, block=5, over=3, gain=12, add=20)
    one, two, four = (edge_energy(grey, edge) for edge in (1, 2, 4))
    found = measure(grey)
    assert found.sharpness == pytest.approx(1000 * one / four, abs=0.6)
    assert found.crisp == pytest.approx(1000 * one / two, abs=0.6)


@pytest.mark.parametrize("shape", [(0, 0), (1, 1), (31, 640), (64, 64)])
def test_what_is_too_small_or_flat_has_no_sharpness(shape: tuple[int, int]) -> None:
    found = measure(np.full(shape, 90, np.uint8))
    assert (found.sharpness, found.crisp, found.white, found.glare) == (0, 0, 0, 0)
    assert found.mean == (90 if shape[0] else 0)
