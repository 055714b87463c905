"""GS1: element strings, the bracketed form beside them, and Digital Link addresses.

Only 01 (DI), 10 (lot), 11 (made), 17 (expires) and 21 (serial) are taken; every other field is
stepped over by the lengths of the GS1 General Specifications.
"""

import re
from collections.abc import Iterator
from typing import Final

from loupebook.rules.codes_shape import (
    Field,
    Found,
    Split,
    all_digits,
    full_year,
    month_end,
    real_date,
)

GS: Final = "\x1d"

AI_DIGITS: Final[dict[str, int]] = {
    start: digits
    for digits, first, last in (
        *((2, 0, 3), (2, 10, 13), (2, 15, 17), (2, 20, 22), (2, 30, 30), (2, 37, 37), (2, 90, 99)),
        *((3, 23, 25), (3, 40, 42), (3, 71, 71)),
        *((4, 31, 36), (4, 39, 39), (4, 43, 43), (4, 70, 70), (4, 72, 72), (4, 80, 82)),
    )
    for start in (f"{n:02d}" for n in range(first, last + 1))
}
"""First two digits of an application identifier -> how many digits it has."""

FIXED: Final[dict[str, int]] = {
    start: length
    for length, first, last in (
        *((20, 0, 0), (16, 1, 3), (18, 4, 4), (8, 11, 19)),
        *((4, 20, 20), (10, 31, 36), (16, 41, 41)),
    )
    for start in (f"{n:02d}" for n in range(first, last + 1))
}
"""First two digits -> characters with the AI, for fields that need no separator after them
(GS1 General Specifications, table of predefined lengths). All others end with a separator."""

_TAKEN: Final[dict[str, Field]] = {"10": "lot", "21": "serial"}
_OTHER: Final = {"10": "21", "21": "10"}
_LONGEST: Final = 20
_SET_82: Final = re.compile(r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]+")
_BRACKETS: Final = re.compile(r"\(([0-9]{2,4})\)")
_BLANKS: Final = re.compile(r"[ \t\r\n]+")
_LINK: Final = re.compile(r"[hH][tT][tT][pP][sS]?://")
_GTIN: Final = re.compile(r"[0-9]{8}|[0-9]{12,14}")
_ESCAPE: Final = re.compile(r"%([0-9A-Fa-f]{2})")
_DATE_AT_END: Final = re.compile(r"(?:11|17)([0-9]{6})\Z")


def gtin_check_digit(digits: str) -> str:
    """The mod-10 digit that belongs after `digits`: weights 3, 1, 3 ... from the right."""
    total = sum(int(d) * (3 if at % 2 == 0 else 1) for at, d in enumerate(reversed(digits)))
    return str(-total % 10)


def starts_like_elements(text: str) -> bool:
    """Whether bare text reads as an element string: 01, 14 digits, and a good check digit or more."""
    if text[:2] != "01" or not all_digits(text[2:16]) or len(text) < 16:
        return False
    return len(text) > 16 or gtin_check_digit(text[2:15]) == text[15]


def starts_like_human(text: str) -> bool:
    """Whether text begins with a bracketed application identifier."""
    return _BRACKETS.match(text) is not None


def is_known(ai: str) -> bool:
    """Whether `ai` begins like an assigned identifier and has its number of digits."""
    return AI_DIGITS.get(ai[:2]) == len(ai)


def read_elements(text: str, found: Found, exact: bool) -> None:
    """Read an element string. `exact`: a decoder gave every byte, so no separator can be lost."""
    runs = [_read_run(run, found) for run in text.split(GS)]
    if not exact and len(runs) == 1:
        _doubt_missing_separator(*runs[0], found)


def _read_run(run: str, found: Found) -> tuple[str, str]:
    """Read what stands between two separators; return the last AI and value."""
    at, ai, value = 0, "", ""
    while at < len(run):
        ai, value, at = _next_element(run, at, found)
        take(ai, value, found)
    return ai, value


def _next_element(run: str, at: int, found: Found) -> tuple[str, str, int]:
    """The element at `at` as (AI, value, where the next begins); AI is "" where it is unknown."""
    start = run[at : at + 2]
    stop = at + FIXED.get(start, len(run) - at)
    if stop > len(run):
        found.note("too_short", start)
        return "", "", len(run)
    if start not in AI_DIGITS:
        found.note("unknown_ai", start)
        return "", "", stop
    split = at + AI_DIGITS[start]
    return run[at:split], run[split:stop], stop


def take(ai: str, value: str, found: Found) -> None:
    """Keep the value of a field we use."""
    if ai == "01":
        _take_di(value, found)
    elif ai == "11":
        _take_date("made", ai, value, found)
    elif ai == "17":
        _take_date("expires", ai, value, found)
    elif ai in _TAKEN:
        _take_text(ai, value, found)


def _take_di(value: str, found: Found) -> None:
    if not all_digits(value):
        found.note("not_digits", "01")
        return
    if len(value) != 14:
        found.note("too_short" if len(value) < 14 else "value_too_long", "01")
        return
    if "di" not in found.fields:
        expected = gtin_check_digit(value[:13])
        found.check = "good" if value[13] == expected else "bad"
        if found.check == "bad":
            found.say({"note": "check_digit_wrong", "ai": "01", "expected": expected, "found": value[13]})
    found.put("di", value, "01")


def _take_date(field: Field, ai: str, value: str, found: Found) -> None:
    if len(value) != 6 or not all_digits(value):
        found.put_date(field, None, ai)
        return
    year, month, day = (int(value[i : i + 2]) for i in (0, 2, 4))
    year = full_year(year, found.today_year)
    if day == 0:
        found.note("date_day_zero", ai)
    found.put_date(field, real_date(year, month, day) if day else month_end(year, month), ai)


def _take_text(ai: str, value: str, found: Found) -> None:
    if not value:
        found.note("too_short", ai)
        return
    if len(value) > _LONGEST:
        found.note("value_too_long", ai)
    if not _SET_82.fullmatch(value):
        found.note("character_not_allowed", ai)
    found.put(_TAKEN[ai], value, ai)


def _doubt_missing_separator(ai: str, value: str, found: Found) -> None:
    """Remark where a keyboard reader may have dropped the separator after a lot or serial.

    Such a reader turns `10A213B1<GS>211234` into lot `A213B1211234` and no serial.
    """
    if ai not in _OTHER:
        return
    other = _OTHER[ai]
    readings = [] if _TAKEN[other] in found.fields else list(_splits(ai, other, value))
    if readings or len(value) > _LONGEST or _ends_with_date(value, found.today_year):
        found.say({"note": "separator_may_be_missing", "ai": ai, "readings": readings})


def _splits(ai: str, other: str, value: str) -> Iterator[Split]:
    for at in range(1, min(_LONGEST, len(value) - 3) + 1):
        head, rest = value[:at], value[at + 2 :]
        if value[at : at + 2] == other and len(rest) <= _LONGEST:
            yield {"lot": head, "serial": rest} if ai == "10" else {"lot": rest, "serial": head}


def _ends_with_date(value: str, today_year: int) -> bool:
    tail = _DATE_AT_END.search(value, max(0, len(value) - 8))
    if tail is None or len(value) <= 8:
        return False
    year, month, day = (int(tail[1][i : i + 2]) for i in (0, 2, 4))
    year = full_year(year, today_year)
    return (real_date(year, month, day) if day else month_end(year, month)) is not None


def read_human(text: str, found: Found) -> None:
    """Read the bracketed form; blanks inside values are print, not data."""
    marks = list(_BRACKETS.finditer(text))
    for at, mark in enumerate(marks):
        stop = marks[at + 1].start() if at + 1 < len(marks) else len(text)
        if is_known(mark[1]):
            take(mark[1], _BLANKS.sub("", text[mark.end() : stop]), found)
        else:
            found.note("unknown_ai", mark[1])


def read_link(text: str, found: Found) -> bool:
    """Read a Digital Link address of any host; False where it is some other address or text."""
    scheme = _LINK.match(text)
    if scheme is None:
        return False
    path, _, query = text[scheme.end() :].partition("#")[0].partition("?")
    steps = path.split("/")
    at = _place_of_gtin(steps)
    if at is None:
        return False
    found.note("link_host_ignored")
    take("01", steps[at + 1].rjust(14, "0"), found)
    for key, value in zip(steps[at + 2 :: 2], steps[at + 3 :: 2], strict=False):
        _take_from_link(key, value, found)
    for pair in query.split("&"):
        key, _, value = pair.partition("=")
        if key in ("10", "11", "17", "21"):
            take(key, _unescape(value), found)
    return True


def _take_from_link(key: str, value: str, found: Found) -> None:
    if is_known(key):
        take(key, _unescape(value), found)
    elif key:
        found.note("unknown_ai", key[:4])


def _place_of_gtin(steps: list[str]) -> int | None:
    for at in range(1, len(steps) - 1):
        if steps[at] == "01" and _GTIN.fullmatch(steps[at + 1]):
            return at
    return None


def _unescape(value: str) -> str:
    """Undo %-escapes of printable ASCII; any other escape stays as it stands."""
    return _ESCAPE.sub(lambda m: chr(int(m[1], 16)) if 0x20 <= int(m[1], 16) <= 0x7E else m[0], value)
