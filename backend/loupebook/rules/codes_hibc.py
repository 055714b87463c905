"""HIBC: product code, lot or serial code, and the two in one, with the mod-43 check character.

Source of the forms and date digits: the HIBC supplier labelling standard (ANSI/HIBC 2.6), its UDI
guide and public scanner manuals; the table of date digits is from memory of the standard.
"""

import re
from typing import Final

from loupebook.rules.codes_shape import (
    Field,
    Found,
    all_digits,
    days_in,
    full_year,
    month_end,
    real_date,
)

ALPHABET: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
"""Place of a character = its value in the check sum."""

_PRIMARY: Final = re.compile(r"[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9]")
_BEGINS_PRIMARY: Final = re.compile(r"\+[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9](?:/|[\s\S]\Z)")
_SMALL: Final = re.compile(r"[a-z]")
_JULIAN: Final = re.compile(r"[0-9]{5}")
_QUANTITY: Final = re.compile(r"Q[0-9]+")
_LONGEST: Final = 18
_DATE_LENGTHS: Final = {"2": 6, "3": 6, "4": 8, "5": 5, "6": 7}


def check_character(text: str) -> str | None:
    """The mod-43 character that belongs after `text`; None where a character has no value."""
    total = 0
    for character in text:
        value = ALPHABET.find(character)
        if value < 0:
            return None
        total += value
    return ALPHABET[total % 43]


def read_hibc(text: str, found: Found) -> bool:
    """Read a HIBC text (`+...` or, as printed, `*+...*`); False where it is no HIBC.

    A wrong check character is remarked and never refuses the scope: public examples carry some.
    """
    printed = text[:2] == "*+" and text.rstrip(" ")[-1:] == "*"
    body = text.rstrip(" ")[1:-1] if printed else text
    body = body[:-1] + " " if body[-1:] == "_" else body
    capital = _SMALL.sub(lambda m: m[0].upper(), body)
    if len(capital) < 4 or capital[0] != "+":
        return False
    expected = check_character(capital[:-1])
    good = expected == capital[-1]
    begins_dated = good and _JULIAN.match(capital, 1)
    if not (capital[1] == "$" or begins_dated or _BEGINS_PRIMARY.match(capital)):
        return False
    if capital != body:
        found.note("case_changed")
    found.check = "good" if good else "bad"
    if expected is not None and not good:
        found.say({"note": "check_digit_wrong", "expected": expected, "found": capital[-1]})
    if expected is None:
        found.note("character_not_allowed")
    _read_parts(capital[1:-1], found)
    return True


def _read_parts(data: str, found: Found) -> None:
    parts = data.split("/")
    if _PRIMARY.fullmatch(parts[0]):
        found.put("di", parts[0], "+")
        for part in parts[1:]:
            _read_data(part, found)
        return
    found.note("secondary_only")
    parts[-1] = parts[-1][:-1]  # the link character: a copy of the product code's check character
    for part in parts:
        _read_data(part, found)


def _read_data(part: str, found: Found) -> None:
    if part.startswith("$$+"):
        _read_dated("serial", "$$+", part[3:], found)
    elif part.startswith("$$"):
        _read_dated("lot", "$$", part[2:], found)
    elif part.startswith("$+"):
        _put_text("serial", "$+", part[2:], found)
    elif part.startswith("$"):
        _put_text("lot", "$", part[1:], found)
    elif part.startswith("14D"):
        found.put_date("expires", _long_date(part[3:]), "14D")
    elif part.startswith("16D"):
        found.put_date("made", _long_date(part[3:]), "16D")
    elif part.startswith("S"):
        _put_text("serial", "S", part[1:], found)
    elif _JULIAN.match(part):
        found.put_date("expires", _short_date("5", part[:5], found), "+")
        _put_text("lot", "+", part[5:], found)
    elif not _QUANTITY.fullmatch(part):
        found.note("unknown_ai", part[:3])


def _put_text(field: Field, ai: str, value: str, found: Found) -> None:
    if not value:
        found.note("too_short", ai)
        return
    if len(value) > _LONGEST:
        found.note("value_too_long", ai)
    found.put(field, value, ai)


def _read_dated(field: Field, ai: str, value: str, found: Found) -> None:
    """Read `[8QQ|9QQQQQ][date]rest`: how many are in the pack, expiry, then lot or serial."""
    rest = value
    counted = {"8": 3, "9": 6}.get(rest[:1], 0)
    if counted:
        if len(rest) < counted or not all_digits(rest[:counted]):
            found.note("not_digits", ai)
        rest = rest[counted:]
    digit = rest[:1]
    if digit in _DATE_LENGTHS:
        stop = 1 + _DATE_LENGTHS[digit]
        found.put_date("expires", _short_date(digit, rest[1:stop], found), ai)
        rest = rest[stop:]
    elif digit in ("0", "1"):
        found.put_date("expires", _short_date("0", rest[:4], found), ai)
        rest = rest[4:]
    elif digit == "7":
        rest = rest[1:]
    elif not counted:
        found.note("date_not_real", ai)
    if rest:
        _put_text(field, ai, rest, found)


def _short_date(digit: str, value: str, found: Found) -> str | None:
    """Expiry by its date digit: 0 MMYY, 2 MMDDYY, 3 YYMMDD, 4 YYMMDDHH, 5 YYJJJ, 6 YYJJJHH."""
    if len(value) != _DATE_LENGTHS.get(digit, 4) or not all_digits(value):
        return None
    two = [int(value[i : i + 2]) for i in range(0, len(value) - 1, 2)]
    if digit == "0":
        found.note("date_day_zero")
        return month_end(full_year(two[1], found.today_year), two[0])
    if digit == "2":
        return real_date(full_year(two[2], found.today_year), two[0], two[1])
    year = full_year(two[0], found.today_year)
    if digit in ("5", "6"):
        return _with_hour(_day_of_year(year, int(value[2:5])), value[5:])
    return _with_hour(real_date(year, two[1], two[2]), value[6:])


def _day_of_year(year: int, day: int) -> str | None:
    for month in range(1, 13):
        days = days_in(year, month)
        if day <= days:
            return real_date(year, month, day)
        day -= days
    return None


def _with_hour(date: str | None, hour: str) -> str | None:
    if date is None or not hour:
        return date
    return f"{date}T{hour}" if int(hour) <= 23 else None


def _long_date(value: str) -> str | None:
    if len(value) != 8 or not all_digits(value):
        return None
    return real_date(int(value[:4]), int(value[4:6]), int(value[6:]))
