"""Which column of a file is which: by the names in its first row, however they are written. Pure."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loupebook.bulk.sheet import Line, Sheet, refused

SCOPES: Mapping[str, tuple[str, ...]] = {
    "tag": ("Facility tag", "tag", "our number", "our tag", "local id", "label"),
    "kind": ("Kind of scope", "kind", "scope kind", "scope type", "type", "kind of endoscope"),
    "maker": ("Maker", "manufacturer", "make"),
    "model": ("Model", "model name", "model number", "model no"),
    "serial": ("Serial number", "serial", "serial no", "serial nr", "sn", "s/n"),
    "udi": ("UDI or DI", "udi", "di", "udi di", "udi-di", "gtin", "barcode", "udi code", "device identifier"),
    "codes": ("Other codes", "codes", "code"),
    "tube_mm": ("Working length mm", "working length", "tube length mm", "tube length", "length mm"),
    "serial_where": ("Where the serial number is", "serial place", "place of the serial number"),
    "source": ("Sizes read from", "instructions", "ifu", "instructions for use", "title of the instructions"),
    "edition": ("Edition of the instructions", "edition", "revision", "ifu revision"),
    "dated": ("Date of the instructions", "date of instructions", "instructions dated", "ifu date"),
    "none_here": ("Has none of", "none", "without", "not present", "has none"),
    "flow_only": ("Channels by flow only", "flow only", "flow", "no borescope"),
    "neither": ("Channels not tried at all", "neither", "not tried", "no borescope no flow"),
}
"""The name in the template first, then what else is understood. Common practice, no source. What a channel's own
columns are called is made from the channels in force (`channel_columns`)."""

INNER, LENGTH = "inner:", "length:"
"""Before a channel's id: the column of its inner diameter, and that of its own length."""
ENDS: Mapping[str, tuple[str, ...]] = {
    INNER: (": inner diameter mm", " diameter mm", " id mm", " diameter", " width mm"),
    LENGTH: (": own length mm", " length mm", " length"),
}
"""What stands behind a channel's name, the template's first. Common practice, no source."""


def channel_columns(channels: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """Two columns a channel, the template's name first. `channels`: id -> the names it is known by, ours first."""
    made: dict[str, tuple[str, ...]] = {}
    for id, names in channels.items():
        called = [*(name[:1].upper() + name[1:] for name in names), id]
        for column, ends in ENDS.items():
            made[column + id] = tuple(name + end for end in ends for name in called)
    return made


PEOPLE: Mapping[str, tuple[str, ...]] = {
    "name": ("Name", "full name", "person", "staff name", "employee"),
    "roles": ("Does here", "roles", "role", "job", "function", "part"),
}
NO_PLACE = frozenset(("pin", "pins", "password", "passwort", "pincode", "passcode", "motdepasse"))
"""Columns no file of people may have: everybody sets their own PIN."""


def bare(text: str) -> str:
    """A name as it is compared: letters and digits alone, small, without accents."""
    flat = unicodedata.normalize("NFKD", text).casefold()
    return "".join(each for each in flat if each.isalnum())


@dataclass(frozen=True)
class Columns:
    """Where each of our columns stands in the file, the file's names of all, and the rows below them."""

    at: Mapping[str, int]
    named: Sequence[tuple[str, str | None]]
    """(name in the file, ours or nothing), in the file's order; columns without a name are left out."""
    lines: Sequence[Line]

    def text(self, line: Line, column: str) -> str:
        """The cell of one of our columns, '' where the file has no such column."""
        return line.text(self.at.get(column))

    def was_date(self, line: Line, column: str) -> bool:
        """Whether the spreadsheet had made a date of the cell."""
        return self.at.get(column) in line.dates


def understood(names: Mapping[str, tuple[str, ...]], text: str) -> str | None:
    """Which of our columns a name in a file means."""
    wanted = bare(text)
    for column, also in names.items():
        if wanted and any(bare(each) == wanted for each in (column, *also)):
            return column
    return None


def find_columns(sheet: Sheet, names: Mapping[str, tuple[str, ...]], needs: Sequence[Sequence[str]]) -> Columns:
    """The columns by the names in the first row. `needs`: of each of these, one column at least.

    Trouble `no_columns` where they are not there, `column_twice` where two mean the same.
    """
    head, *lines = sheet.lines
    at: dict[str, int] = {}
    named: list[tuple[str, str | None]] = []
    for place, text in enumerate(head.cells):
        column = understood(names, text)
        if column is not None and column in at:
            raise refused(
                "column_twice", f"Two columns are understood as “{names[column][0]}”.",
                "Leave one of them, or give the other another name, and choose the file again.",
            )  # fmt: skip
        if column is not None:
            at[column] = place
        if text:
            named.append((text, column))
    missing = [names[group[0]][0] for group in needs if not any(each in at for each in group)]
    if missing:
        raise refused(
            "no_columns", "The first row does not name the columns. Missing: " + ", ".join(missing) + ".",
            "Take the names of the columns from the template and choose the file again.",
        )  # fmt: skip
    return Columns(at, named, lines)
