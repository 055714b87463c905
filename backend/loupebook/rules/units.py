"""Sizes as whole micrometres: French gauge and millimetres, and whether a borescope goes into a channel. Pure.

ISO 8600-4: one French unit is a third of a millimetre of outer diameter. Decimals never touch a float:
sizes come as text and stay whole numbers.
"""

from __future__ import annotations

import re
from typing import NamedTuple


class NotASize(ValueError):
    """The text is no size: digits, at most three decimals, nothing else; or not above 0."""


def um_of_mm(text: str) -> int:
    """Micrometres of a size in millimetres, given as text: "2.8" -> 2800. Raises NotASize."""
    return _thousandths(text)


def um_of_fr(text: str) -> int:
    """Micrometres of a size in French: "3.6" -> 1200. Rounded to the nearest whole micrometre. Raises NotASize."""
    return (_thousandths(text) + 1) // 3


def mm_of_um(um: int) -> str:
    """A size in millimetres as text, without trailing zeros: 2800 -> "2.8", 5000 -> "5"."""
    return _text(um)


def fr_of_um(um: int) -> str:
    """A size in French as text: 2800 -> "8.4"."""
    return _text(um * 3)


def _thousandths(text: str) -> int:
    match = re.fullmatch(r"(\d{1,6})(?:\.(\d{1,3}))?", text, re.ASCII)
    if match is None:
        raise NotASize(text)
    return int(match[1]) * 1000 + int((match[2] or "").ljust(3, "0"))


def _text(thousandths: int) -> str:
    whole, rest = divmod(thousandths, 1000)
    return f"{whole}.{rest:03}".rstrip("0").rstrip(".")


class Fit(NamedTuple):
    """Whether a borescope goes into a channel, and the share of its width it fills: thousandths, rounded half up."""

    fits: bool
    fills_permille: int


def fit(borescope_um: int, channel_um: int) -> Fit:
    """Outer diameter of a borescope against the inner diameter of a channel; equal does not go. Both above 0."""
    if borescope_um <= 0 or channel_um <= 0:
        raise NotASize("a size is above 0")
    return Fit(borescope_um < channel_um, (2000 * borescope_um + channel_um) // (2 * channel_um))
