"""Which of two answers, and which of two marks, is the stricter. The orders are closed lists, laxest first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from loupebook.record.kinds import First, Goes

FIRST: tuple[str, ...] = get_args(First)
GOES: tuple[str, ...] = get_args(Goes)
MARKS: tuple[str, ...] = ("nothing_found", "could_not_look", "finding")


def strictest(values: Iterable[str], order: tuple[str, ...]) -> str | None:
    """The strictest of these, nothing when there is none."""
    return max(values, key=order.index, default=None)


def stricter_goes(one: str, other: str) -> str:
    return max(one, other, key=GOES.index)


def stricter_first(one: str, other: str) -> str:
    return max(one, other, key=FIRST.index)
