"""The key of a scope, and two serial numbers held side by side."""

import re
import unicodedata
from itertools import zip_longest
from typing import Final, TypedDict

from loupebook.rules.codes_shape import Code

LONGEST_KEY: Final = 300
_ASKS_FIRST: Final = frozenset({"separator_may_be_missing", "field_twice"})
_BLANKS: Final = re.compile("[\t-\r\x20\x85\xa0\u1680\u2000-\u200b\u2028\u2029\u202f\u205f\u3000\ufeff]+")
_ALIKE: Final = ("0Oo", "1Iil", "5Ss", "8B", "2Zz")
"""Characters that are taken for one another on a worn mark (common practice, no source)."""


class Difference(TypedDict):
    """One place where two serials part: `at` counts from 0; "" where one is shorter."""

    at: int
    a: str
    b: str
    alike: bool


class Comparison(TypedDict):
    """Two serials held side by side; `same` where nothing differs."""

    same: bool
    differences: list[Difference]


def key_of(code: Code, *, confirmed: bool = False) -> str | None:
    """`udi:DI/SERIAL`, or None where the code does not name one scope.

    Without `confirmed` (a person looked at the mark and stands by it) there is no key for a wrong
    check character, a separator that may be missing, or a field with two values. A DI alone is a
    model, not a scope (21 CFR 830.3). The serial is kept letter for letter.
    """
    di, serial = code.get("di"), code.get("serial")
    if di is None or serial is None:
        return None
    doubtful = code["check"] == "bad" or any(n["note"] in _ASKS_FIRST for n in code["notes"])
    if doubtful and not confirmed:
        return None
    key = f"udi:{di}/{serial}"
    return key if len(key) <= LONGEST_KEY else None


def mms_key(maker: str, model: str, serial: str) -> str | None:
    """`mms:MAKER|MODEL|SERIAL` for a scope without a UDI, or None where one of the three is empty.

    Each is normalised so that two people who type it apart get one key: NFC, capitals, no blanks
    at the ends, one blank for any run of blanks. `%` and `|` inside are written %25 and %7C.
    """
    parts = [_normal(part) for part in (maker, model, serial)]
    if not all(parts):
        return None
    key = "mms:" + "|".join(p.replace("%", "%25").replace("|", "%7C") for p in parts)
    return key if len(key) <= LONGEST_KEY else None


def _normal(text: str) -> str:
    capital = unicodedata.normalize("NFC", unicodedata.normalize("NFC", text).upper())
    return _BLANKS.sub(" ", capital).strip(" ")


def compare_serials(a: str, b: str) -> Comparison:
    """Where two serials differ, character by character; `alike` marks pairs often confused."""
    differences: list[Difference] = [
        {"at": at, "a": left, "b": right, "alike": _are_alike(left, right)}
        for at, (left, right) in enumerate(zip_longest(a, b, fillvalue=""))
        if left != right
    ]
    return {"same": not differences, "differences": differences}


def _are_alike(left: str, right: str) -> bool:
    return bool(left and right) and any(left in group and right in group for group in _ALIKE)
