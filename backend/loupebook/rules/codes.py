"""Reads any code a scanner, a camera or a person gives: one text in, what it says out.

Pure, linear in the length of the text, and never raises. The TypeScript twin is
`frontend/src/rules/codes.ts`; both follow `shared/vectors/codes.json`.
"""

import re
from typing import Final

from loupebook.rules.codes_gs1 import (
    AI_DIGITS,
    GS,
    read_elements,
    read_human,
    read_link,
    starts_like_elements,
    starts_like_human,
    take,
)
from loupebook.rules.codes_hibc import read_hibc
from loupebook.rules.codes_keys import compare_serials, key_of, mms_key
from loupebook.rules.codes_own import read_own
from loupebook.rules.codes_shape import COMMANDS, Code, Form, Found, Issuer

__all__ = ["COMMANDS", "Code", "compare_serials", "key_of", "mms_key", "read_code"]

LONGEST: Final = 4096
"""Characters that are read; the longest code of the symbologies we take holds 4,296 (QR, from memory)
and no identifier comes near."""

GS1_SYMBOLS: Final = ("]d2", "]C1", "]Q3", "]e0")
"""Data Matrix, Code 128, QR and DataBar whose first sign says "GS1" (ISO/IEC 15424)."""

_BEYOND: Final = re.compile("[\ud800-\udfff\U00010000-\U0010ffff]")
_SYMBOLOGY: Final = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_WRITTEN_GS: Final = re.compile(
    r"<GS>|\{GS\}|<FNC1>|\{FNC1\}|\\u001[dD]|\\x1[dD]|\^\]|\u241d", re.IGNORECASE | re.ASCII
)
_ICCBBA: Final = re.compile(r"=[/,<>%(){};]|=[A-Z0-9][0-9]{12}|&,1")
_ENDS: Final = " \t\r\n"
_ENDS_BUT_BLANK: Final = "\t\r\n"
_ISSUERS: Final[dict[Form, Issuer]] = {
    "gs1": "GS1",
    "gs1_human": "GS1",
    "gs1_link": "GS1",
    "hibc": "HIBCC",
    "iccbba": "ICCBBA",
}


def read_code(text: str, symbology: str | None = None, *, today_year: int) -> Code:
    """What `text` says. Never raises.

    `symbology` is the AIM identifier (`]d2`) when a decoder gave the bytes, None when a keyboard
    reader or a person typed them, or by a decoder that does not say (""). `today_year` places
    two-digit years.
    """
    found = Found(today_year)
    kept = text[:LONGEST]
    if len(text) > LONGEST:
        found.note("text_cut")
    flat = _BEYOND.sub("\ufffd", kept).lstrip(_ENDS).rstrip(_ENDS_BUT_BLANK)
    sign = symbology or None
    if _SYMBOLOGY.match(flat):
        sign = sign or flat[:3]
        flat = flat[3:]
        found.note("symbology_stripped")
    code: Code = {"form": "plain", "check": "none", "notes": found.notes, "text": kept}
    code["form"] = read_own(flat.rstrip(_ENDS), code, found) or _read_body(flat, sign, bool(symbology), found)
    if sign is not None:
        code["symbology"] = sign
    return _finish(code, found)


def _read_body(text: str, sign: str | None, exact: bool, found: Found) -> Form:
    if sign not in GS1_SYMBOLS and read_hibc(text, found):
        return "hibc"
    text = text.rstrip(_ENDS)
    if sign not in GS1_SYMBOLS and _ICCBBA.match(text):
        found.note("iccbba_not_supported")
        return "iccbba"
    if read_link(text, found):
        return "gs1_link"
    if starts_like_human(text):
        if sign is not None:
            found.note("human_form_in_code")
        read_human(text, found)
        return "gs1_human"
    return _read_elements_or_plain(text, sign, exact, found)


def _read_elements_or_plain(text: str, sign: str | None, exact: bool, found: Found) -> Form:
    clear = _WRITTEN_GS.sub(GS, text)
    separated = GS in clear and (clear[0] == GS or clear[:2] in AI_DIGITS)
    if sign in GS1_SYMBOLS or separated or starts_like_elements(clear):
        if clear != text:
            found.note("gs_replaced")
        read_elements(clear, found, exact)
        return "gs1"
    if sign == "]E0" and re.fullmatch(r"[0-9]{13}", text):
        take("01", "0" + text, found)
        return "gs1"
    return "plain"


def _finish(code: Code, found: Found) -> Code:
    """Join what was gathered; a DI without a serial is remarked last."""
    if "di" in found.fields and "serial" not in found.fields:
        found.note("no_serial")
    for field, value in found.fields.items():
        code[field] = value
    if code["form"] in _ISSUERS:
        code["issuer"] = _ISSUERS[code["form"]]
    code["check"] = found.check
    return code
