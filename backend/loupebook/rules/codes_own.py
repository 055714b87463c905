"""Our own labels: `LB1:` and plain ASCII, so that every reader gives the same text.

`LB1:S:<scope tag or key>`, `LB1:T:<tool>`, `LB1:P:<badge>`, `LB1:C:<command>`,
`LB1:R:<a word of a repair, its hash>` and `LB1:E:<server address>|<one-time code>`.
"""

import re
from typing import Final

from loupebook.rules.codes_shape import COMMANDS, Code, Form, Found

PREFIX: Final = "LB1:"
_LABEL: Final = re.compile(r"LB1:([STPCER]):([\x20-\x7e]{1,300})")


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
    if letter == "R":
        code["own"] = {"kind": "repair", "value": value}
        return "own"
    code["own"] = {"kind": "scope" if letter == "S" else "tool", "value": value}
    return "own"
