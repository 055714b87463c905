"""Our own labels: `LB1:` and plain ASCII, so that every reader gives the same text.

`LB1:S:<scope tag or key>`, `LB1:T:<tool>`, `LB1:P:<badge>`, `LB1:C:<command>`, `LB1:L:<place, percent-encoded>`,
`LB1:R:<a word of a repair, its hash>`, `LB1:E:<server address>|<one-time code>` and
`LB1:O:<offer>|<chain>|<seq>|<ms>|<giver>|<to>|<basis>|<scope, percent-encoded>`: what a giver's screen shows of an
offer, so that who takes it knows it without a network (hashes, milliseconds since 1970; `to` a person or empty,
`basis` empty where nothing was known).
"""

import re
from typing import Final
from urllib.parse import quote, unquote_to_bytes

from loupebook.rules.codes_shape import COMMANDS, Code, Form, Found

PREFIX: Final = "LB1:"
LONGEST: Final = 300
LONGEST_OFFER: Final = 1200
_LABEL: Final = re.compile(r"LB1:([STPCERLO]):([\x20-\x7e]{1,1200})")
_OFFER: Final = re.compile(
    r"[0-9a-f]{64}\|[0-9a-f]{64}\|[0-9]{1,10}\|[0-9]{1,15}\|[a-z0-9_.-]{1,64}\|[a-z0-9_.-]{0,64}\|"
    r"(?:[0-9a-f]{64})?\|([^|]{1,900})"
)
_ESCAPES: Final = re.compile(r"(?:[^%]|%[0-9A-Fa-f]{2})*")


def encoded(text: str) -> str:
    """A text as a label may carry it: all but letters, digits and `_.-~` of ASCII percent-encoded (RFC 3986, UTF-8)."""
    return quote(text, safe=" /:")


def decoded(text: str) -> str | None:
    """What was encoded; None where it is not whole."""
    if _ESCAPES.fullmatch(text) is None:
        return None
    try:
        return unquote_to_bytes(text).decode("utf-8")
    except UnicodeDecodeError:
        return None


def read_own(text: str, code: Code, found: Found) -> Form | None:
    """Fill `code` from a label of ours and return its form; None where the text is not ours."""
    if not text.startswith(PREFIX):
        return None
    label = _LABEL.fullmatch(text)
    form = _fill(label[1], label[2], code) if label else None
    if form is None:
        found.note("own_not_known")
    return form or "plain"


def _fill(letter: str, value: str, code: Code) -> Form | None:
    if len(value) > (LONGEST_OFFER if letter == "O" else LONGEST):
        return None
    if letter == "C":
        if value not in COMMANDS:
            return None
        code["own"] = {"kind": "command", "value": value}
        return "command"
    if letter == "E":
        address, _, once = value.rpartition("|")
        if not address or not once:
            return None
        code["own"] = {"kind": "enrol", "value": address, "once": once}
        return "enrol"
    if letter == "P":
        code["own"] = {"kind": "person", "value": value}
        return "badge"
    if letter == "O":
        offer = _OFFER.fullmatch(value)
        if offer is None or decoded(offer[1]) is None:
            return None
        code["own"] = {"kind": "offer", "value": value}
        return "own"
    if letter == "L":
        place = decoded(value)
        if place is None:
            return None
        code["own"] = {"kind": "place", "value": place}
        return "own"
    if letter == "R":
        code["own"] = {"kind": "repair", "value": value}
        return "own"
    code["own"] = {"kind": "scope" if letter == "S" else "tool", "value": value}
    return "own"
