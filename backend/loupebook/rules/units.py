"""Sizes as whole micrometres, whether a borescope goes into a channel, pressures as whole pascals. Pure.

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


_MICROPASCALS = {"kPa": 1_000_000_000, "mbar": 100_000_000, "mm[Hg]": 133_322_387, "[psi]": 6_894_757_293}
"""Of one unit of a leak tester, by its UCUM name. NIST SP 811, appendix B.8 (from memory): mmHg and psi."""
_DECIMALS = {"kPa": 3, "mbar": 0, "mm[Hg]": 0, "[psi]": 2}
_SHOWN = {"kPa": "kPa", "mbar": "mbar", "mm[Hg]": "mmHg", "[psi]": "psi"}


def pa_of(text: str, unit: str) -> int:
    """Pascals, to the nearest, of a pressure given as text in a leak tester's unit; at most 1,000. Raises NotASize."""
    thousandths = _thousandths(text)
    if unit not in _MICROPASCALS or not 0 < thousandths <= 1_000_000:
        raise NotASize(f"{text} {unit}")
    return (thousandths * _MICROPASCALS[unit] + 500_000_000) // 1_000_000_000


def pressure_text(pa: int, unit: str | None) -> str:
    """A pressure with its unit, in the one it was read in: 21332, "mm[Hg]" -> "160 mmHg"; kPa where none is known."""
    known = unit if unit in _MICROPASCALS else "kPa"
    each, decimals = _MICROPASCALS[known], _DECIMALS[known]
    steps = (pa * 1_000_000 * 10**decimals + each // 2) // each
    return f"{_text(steps * 10 ** (3 - decimals))} {_SHOWN[known]}"


class Fit(NamedTuple):
    """Whether a borescope goes into a channel, and the share of its width it fills: thousandths, rounded half up."""

    fits: bool
    fills_permille: int


def fit(borescope_um: int, channel_um: int) -> Fit:
    """Outer diameter of a borescope against the inner diameter of a channel; equal does not go. Both above 0."""
    if borescope_um <= 0 or channel_um <= 0:
        raise NotASize("a size is above 0")
    return Fit(borescope_um < channel_um, (2000 * borescope_um + channel_um) // (2 * channel_um))
