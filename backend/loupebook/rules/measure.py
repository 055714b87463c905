"""A length in a photo in micrometres with its uncertainty, by a thing of known size in the same photo. Pure.

What is measured: L = S * d / D, with S the size of the reference, d and D the distances in pixels between the two
points laid on the object and on the reference. The uncertainty is that of the GUM (JCGM 100:2008):

- A point lies within +-a pixels of where it is aimed at, along each side of the photo, anywhere as likely: a
  rectangular distribution, u(x) = a / sqrt(3) (4.3.7). Only the way along the line changes a distance, at both of its
  ends, so u(d)^2 = u(D)^2 = 2 a^2 / 3. The reference is off by +-t at most: u(S) = t / sqrt(3).
- The four points and the size are found apart from each other, so the law of propagation of 5.1.2 (equation 10), for a
  product of powers (5.1.6, equation 12), gives (u(L) / L)^2 = (u(d) / d)^2 + (u(D) / D)^2 + (u(S) / S)^2.
- What is said is L +- U with U = k u(L), k = 2: about 95 of 100 (6.2, 6.3.3).

Not in U: that the object lies in another plane than the reference, or aslant. A photo cannot tell; words must.
The law holds while a distance is long against its uncertainty: under `LEAST_AIMS` times a nothing is said at all.
Twin: `frontend/src/rules/measure.ts`, the same operations in the same order, so the same whole numbers.
"""

from __future__ import annotations

from math import ceil, floor, sqrt
from typing import TypedDict

from loupebook.record.kinds import Length, Spot

LEAST_AIMS = 10
"""Distances shorter than this many times `a` say nothing: u(D) / D is above 8 % there, and 1 / D no more straight."""
COVERAGE = 2


class Said(TypedDict):
    """A length and its expanded uncertainty (k = 2), whole micrometres; the uncertainty is rounded up."""

    um: int
    plus_minus_um: int


def said_by(length: Length) -> Said | None:
    """What a length says; nothing where its points or those of its reference lie too near to each other."""
    aim = length.aim_px100 / 100
    seen = _distance(length, length.a, length.b)
    known = _distance(length, length.against.a, length.against.b)
    if seen < LEAST_AIMS * aim or known < LEAST_AIMS * aim:
        return None
    size = length.against.size_um
    um = size * seen / known
    of_points = 2 * aim * aim / 3
    of_size = length.against.tolerance_um * length.against.tolerance_um / 3
    share = sqrt(of_points / (seen * seen) + of_points / (known * known) + of_size / (size * size))
    return {"um": floor(um + 0.5), "plus_minus_um": ceil(COVERAGE * um * share)}


def mm_said(said: Said) -> tuple[str, str]:
    """Millimetres as they are said, two decimals below 1 mm of uncertainty, else one; the uncertainty rounded up."""
    decimals, step = (2, 10) if said["plus_minus_um"] < 1000 else (1, 100)
    mm, off = floor(said["um"] / step + 0.5) * step / 1000, ceil(said["plus_minus_um"] / step) * step / 1000
    return f"{mm:.{decimals}f}", f"{off:.{decimals}f}"


def _distance(length: Length, a: Spot, b: Spot) -> float:
    """Pixels of the photo between two points."""
    across = (b.x - a.x) * length.width / 10000
    down = (b.y - a.y) * length.height / 10000
    return sqrt(across * across + down * down)
