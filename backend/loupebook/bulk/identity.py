"""Which scope a row names: by its UDI or DI and serial number, else by maker, model and serial number. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from loupebook.bulk.fates import Refused, Remark
from loupebook.rules.codes import key_of, mms_key, read_code
from loupebook.rules.codes_shape import Code, Note

GTIN = re.compile(r"\d{8}|\d{12}|\d{13}|\d{14}", re.ASCII)
"""Lengths of a GTIN; the DI of a GS1 UDI is one of 14 digits (GS1 General Specifications)."""
LONGEST_CODE = 2000


@dataclass(frozen=True)
class Identity:
    """A scope's key, what it is made of, the code as it was given, and what a person should know of the reading."""

    key: str
    serial: str
    di: str | None
    codes: tuple[str, ...]
    notes: tuple[Remark, ...]


def identity_of(said: Mapping[str, str], today_year: int) -> Identity:
    """From the columns udi, serial, maker, model. Raises Refused."""
    if not said["udi"]:
        return _without_di(said)
    bare = said["udi"].replace(" ", "")
    if GTIN.fullmatch(bare):
        return _of_di(bare, said["serial"])
    return _of_code(said["udi"], said["serial"], today_year)


def check_digit(digits: str) -> str:
    """The digit that belongs after these: weights 3 and 1 from the right (GS1 General Specifications 7.9)."""
    total = sum(int(digit) * (3 if at % 2 == 0 else 1) for at, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def _without_di(said: Mapping[str, str]) -> Identity:
    missing = [column for column in ("maker", "model", "serial") if not said[column]]
    if missing == ["serial"]:
        raise Refused("serial_missing")
    if missing:
        raise Refused("not_enough", missing=missing)
    key = mms_key(said["maker"], said["model"], said["serial"])
    if key is None:
        raise Refused("text_too_long", column="serial")
    return Identity(key, said["serial"], None, (), ())


def _of_di(digits: str, serial: str) -> Identity:
    expected = check_digit(digits[:-1])
    if digits[-1] != expected:
        raise Refused("bad_check_digit", found=digits[-1], expected=expected)
    if not serial:
        raise Refused("serial_missing")
    di = digits.rjust(14, "0")
    key = f"udi:{di}/{serial}"
    if len(key) > 300:
        raise Refused("text_too_long", column="serial")
    return Identity(key, serial, di, (), (Remark("di_padded"),) if len(digits) < 14 else ())


def _of_code(text: str, serial: str, today_year: int) -> Identity:
    code = read_code(text, None, today_year=today_year)
    if code["form"] == "iccbba":
        raise Refused("tissue_code")
    if code["form"] not in ("gs1", "gs1_human", "gs1_link", "hibc"):
        raise Refused("code_not_read", found=text[:60])
    if code["form"] != "hibc" and code["check"] == "bad":
        wrong = _note(code, "check_digit_wrong")
        raise Refused("bad_check_digit", found=wrong.get("found", ""), expected=wrong.get("expected", ""))
    if (doubtful := _note(code, "separator_may_be_missing")) and not serial:
        readings = [f"{each['lot']} · {each['serial']}" for each in doubtful.get("readings", [])]
        raise Refused("separator_missing", readings=readings)
    di = code.get("di")
    if di is None:
        raise Refused("code_without_scope", found=text[:60])
    in_code = code.get("serial") if not doubtful else None
    if in_code and serial and in_code != serial:
        raise Refused("serial_differs", found=in_code, expected=serial)
    whole = in_code or serial
    if not whole:
        raise Refused("serial_missing")
    key = key_of({**code, "serial": whole}, confirmed=True)
    if key is None or len(text) > LONGEST_CODE:
        raise Refused("text_too_long", column="udi")
    return Identity(key, whole, di, (text,) if in_code else (), tuple(_remarks(code)))


def _remarks(code: Code) -> list[Remark]:
    """A HIBC with a wrong check character is said and taken: public examples carry some, and the scope decides."""
    hibc = code["form"] == "hibc"
    found = [Remark("hibc_read" if hibc else "gs1_read")]
    if hibc and code["check"] == "bad":
        wrong = _note(code, "check_digit_wrong")
        found.append(Remark("check_character_wrong", found=wrong.get("found", ""), expected=wrong.get("expected", "")))
    return found


def _note(code: Code, wanted: str) -> Note:
    """The note of a code by its name; an empty one where there is none."""
    empty: Note = {}  # type: ignore[typeddict-item]
    return next((note for note in code["notes"] if note["note"] == wanted), empty)
