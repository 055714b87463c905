"""How sharp, bright and clear a grey picture is; the same numbers as `workers/sharpness.ts` for the same pixels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MEASURED_EDGE = 640
"""Long edge in pixels of the grey picture measured. Larger ones are shrunk to it first, smaller ones left."""
TILE = 32
"""Edge in pixels of the tiles in which glare is looked for."""
WHITE_FROM = 250
"""A grey value from here on is taken for white without detail."""
LEAST_EDGES = 2
"""Quarters of squared steps of grey a pixel; under it there are no edges to measure."""

Grey = NDArray[np.uint8]
Sums = NDArray[np.int64]


@dataclass(frozen=True)
class Measured:
    """What is measured of one picture.

    sharpness  thousandths: energy of the edges at one pixel to that at four; 0 where there is nothing to measure.
               It ranks pictures of one thing
    crisp      the same at one pixel to two: 250 is no detail at all, and what blur leaves of it depends little on
               the scene, so that pictures of different things can be compared
    mean       mean grey, 0 (black) to 255
    white      thousandths of the picture that are white without detail
    glare      thousandths of the tiles that are white for more than half
    low, high  the greys under which 2 % and 98 % of the picture lie
    """

    sharpness: int
    crisp: int
    mean: int
    white: int
    glare: int
    low: int
    high: int


def measure(grey: Grey) -> Measured:
    """All of it at once; shape (height, width)."""
    rows, columns = grey.shape[0] // TILE, grey.shape[1] // TILE
    whites = _whites(grey[: rows * TILE, : columns * TILE], rows, columns)
    counts = np.bincount(grey.ravel(), minlength=256)
    ranked, crisp = _edges(grey) if whites.size else (0, 0)
    return Measured(
        sharpness=ranked,
        crisp=crisp,
        mean=mean_grey(grey),
        white=_thousandths(int(counts[WHITE_FROM:].sum()), grey.size),
        glare=_thousandths(int((2 * whites > TILE * TILE).sum()), whites.size),
        low=_under(counts, 2, grey.size),
        high=_under(counts, 98, grey.size),
    )


def _edges(grey: Grey) -> tuple[int, int]:
    """Thousandths of the edges' energy at one pixel to that at four and at two.

    The energy of a step is the product of two differences that have no pixel in common, so that sensor noise, which
    is not the same in both, adds nothing on average. The ratio takes out light, gain and most of the scene: blur alone
    moves it. Taken over the whole picture: a choice of tiles changes with the light (98.9 % of pairs, not 99.5).
    """
    one, two, four = (_energy(_boxes(grey, edge)) for edge in (1, 2, 4))
    if 4 * four < 16 * LEAST_EDGES * grey.size or two <= 0:
        return 0, 0
    return max(0, math.floor(one * 16000 / four + 0.5)), max(0, math.floor(one * 4000 / two + 0.5))


def mean_grey(grey: Grey) -> int:
    """The mean, rounded half up; 0 for an empty picture."""
    return math.floor(int(grey.sum(dtype=np.int64)) / grey.size + 0.5) if grey.size else 0


def _boxes(grey: Grey, edge: int) -> Sums:
    """Sums over squares of `edge` pixels; what is left over at the right and below is not in any."""
    high, wide = grey.shape[0] // edge, grey.shape[1] // edge
    whole = grey[: high * edge, : wide * edge].astype(np.int64)
    return np.asarray(whole.reshape(high, edge, wide, edge).sum(axis=(1, 3)))


def _energy(g: Sums) -> int:
    """Horizontal steps of two rows multiplied, and vertical ones of two columns, over the picture."""
    if min(g.shape) < 3:
        return 0
    across, down = g[:, 2:] - g[:, :-2], g[2:, :] - g[:-2, :]
    return int((across[:-2] * across[1:-1]).sum() + (down[:, :-2] * down[:, 1:-1]).sum())


def _whites(grey: Grey, rows: int, columns: int) -> Sums:
    """How many pixels of each tile are white; the tiles row by row."""
    white = (grey >= WHITE_FROM).astype(np.int64).reshape(rows, TILE, columns, TILE)
    return np.asarray(white.sum(axis=(1, 3)).ravel())


def _under(counts: NDArray[np.int64], percent: int, size: int) -> int:
    """The first grey at which at least `percent` of the pixels are reached; 0 for an empty picture."""
    return int(np.argmax(np.cumsum(counts) * 100 >= percent * size)) if size else 0


def _thousandths(part: int, whole: int) -> int:
    return part * 1000 // whole if whole else 0
