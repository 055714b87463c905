"""How far two readers agree: raw, with its interval, and beyond chance. Pure.

Check values and where they come from: `tests/vectors/test_agreement.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal, TypeVar

Z95 = 1.959963984540054
"""The 97.5 % point of the standard normal distribution: an interval of 95 % has as much on either side."""
LEAST = 20
"""Pairs below which no kappa is given: one more pair would move it by whole tenths. Common practice, no source."""

Table = Sequence[Sequence[int]]
"""Square, counts: row = what the first said, column = what the second said, both in the same order."""
Word = TypeVar("Word")


@dataclass(frozen=True)
class Agreement:
    """`n` pairs, `agreed` of them the same. `share`, `low`, `high`: 0 to 1, nothing where there is no pair.

    `kappa` is Cohen's, -1 to 1; nothing where `why` says why not: too few pairs, or both said only one same thing, so
    that chance alone explains all of it (0/0).
    """

    n: int
    agreed: int
    share: float | None
    low: float | None
    high: float | None
    kappa: float | None
    why: Literal["too_few", "undefined"] | None


def wilson(count: int, of: int, z: float = Z95) -> tuple[float, float]:
    """The score interval of a share (Wilson 1927; method 3 of Newcombe, Stat Med 1998;17:857). `of` is 1 or more."""
    share, square = count / of, z * z
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = z / (1 + square / of) * sqrt(share * (1 - share) / of + square / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def kappa(table: Table) -> float | None:
    """Cohen's kappa, not weighted (Educ Psychol Meas 1960;20:37): (po - pe) / (1 - pe).

    Nothing where pe is 1 or n is 0.
    """
    n, agreed = _counts(table)
    by_chance: int = sum(sum(row) * sum(column) for row, column in zip(table, zip(*table, strict=True), strict=True))
    if n * n == by_chance:
        return None
    return (n * agreed - by_chance) / (n * n - by_chance)


def _counts(table: Table) -> tuple[int, int]:
    """How many pairs, and how many of them are the same."""
    return sum(map(sum, table)), sum(row[at] for at, row in enumerate(table))


def tabled(pairs: Iterable[tuple[Word, Word]], words: Sequence[Word]) -> list[list[int]]:
    """The table of these pairs; what one of them says must be one of the words."""
    at = {word: place for place, word in enumerate(words)}
    table = [[0] * len(words) for _ in words]
    for first, second in pairs:
        table[at[first]][at[second]] += 1
    return table


def agreement(table: Table, least: int = LEAST) -> Agreement:
    """All of it of one table."""
    n, agreed = _counts(table)
    share, low, high = (agreed / n, *wilson(agreed, n)) if n else (None, None, None)
    if n < least:
        return Agreement(n, agreed, share, low, high, None, "too_few")
    found = kappa(table)
    return Agreement(n, agreed, share, low, high, found, "undefined" if found is None else None)
