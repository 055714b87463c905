"""Holds the codes of a serial photo against the scope it was taken for. Pure.

The same judgement as `answerOfCodes` of `frontend/src/rules/serial.ts`: only a DI or serial number from a code
with a good check digit can contradict; everything else is a note (common practice, no source).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from loupebook.rules.codes_shape import Code

_ENDS: Final = "\t\n\x0b\x0c\r \xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a" \
    "\u2028\u2029\u202f\u205f\u3000\ufeff"  # fmt: skip
"""What JavaScript's `trim` takes off (ECMA-262, WhiteSpace and LineTerminator); Python's `strip` takes others too."""


@dataclass(frozen=True)
class OnRecord:
    """What a photo is held against. `di` is nothing where the scope carries no UDI."""

    serial: str
    di: str | None = None


@dataclass(frozen=True)
class Answer:
    """`no` and `yes` with the text of the code that says so; `unknown` where no code could."""

    agrees: Literal["yes", "no", "unknown"]
    code: str = ""


def on_record(key: str, serial: str | None = None, di: str | None = None) -> OnRecord:
    """What the record says of a scope; what it leaves out is read from the key (`udi:DI/SERIAL`, `mms:M|M|SERIAL`)."""
    form, _, rest = key.partition(":")
    if form == "udi":
        of_key_di, _, of_key_serial = rest.partition("/")
        return OnRecord(serial or of_key_serial, di or of_key_di or None)
    of_key = rest.rpartition("|")[2].replace("%7C", "|").replace("%25", "%")
    return OnRecord(serial or of_key, di or None)


def answer_of_codes(codes: Iterable[Code], record: OnRecord) -> Answer:
    """What the codes of a photo say. One that contradicts outweighs any that agrees."""
    answer = Answer("unknown")
    for code in codes:
        if code["check"] != "good":
            continue
        di, serial = code.get("di"), code.get("serial")
        other_di = di is not None and record.di is not None and di != record.di
        if other_di or (serial is not None and _plain(serial) != _plain(record.serial)):
            return Answer("no", code["text"])
        if serial is not None:
            answer = Answer("yes", code["text"])
    return answer


def _plain(text: str) -> str:
    return unicodedata.normalize("NFC", text).strip(_ENDS).upper()
