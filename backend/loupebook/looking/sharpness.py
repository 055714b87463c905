"""How sharp and how bright a grey picture is; the same numbers as `workers/sharpness.ts` for the same pixels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

MEASURED_EDGE = 640
"""Long edge in pixels of the grey picture measured. Larger ones are shrunk to it first, smaller ones left."""


def lap2_x100(grey: NDArray[np.uint8]) -> int:
    """100 times the variance of the 4-neighbour Laplacian of the 2x2 moving mean; shape (height, width).

    Chosen among six measures for keeping the order of blur at every sensor noise tried; no value of it means
    "sharp" for every scene, so compare frames of one thing, warn, never block. 0 for pictures under 4x4.
    """
    if min(grey.shape) < 4:
        return 0
    g = grey.astype(np.int64)
    sums = g[:-1, :-1] + g[1:, :-1] + g[:-1, 1:] + g[1:, 1:]  # 4 times the mean, so still whole
    lap = sums[:-2, 1:-1] + sums[2:, 1:-1] + sums[1:-1, :-2] + sums[1:-1, 2:] - 4 * sums[1:-1, 1:-1]
    count: int = lap.size
    mean = int(lap.sum()) / count
    squares = int((lap * lap).sum())
    return math.floor((squares / count - mean * mean) / 16 * 100 + 0.5)


def mean_grey(grey: NDArray[np.uint8]) -> int:
    """The mean, rounded half up; 0 for an empty picture."""
    return math.floor(int(grey.sum(dtype=np.int64)) / grey.size + 0.5) if grey.size else 0
