"""A table as it was read: rows of text, numbered as a spreadsheet numbers them, and what is refused as no table."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field

from loupebook.door.trouble import NOTHING_CHANGED, Trouble

MOST_BYTES = 4 * 1024 * 1024
"""Of the file as it is sent. 2,000 scopes as CSV are some 200 kB."""
MOST_ROWS = 2000
MOST_COLUMNS = 60
LONGEST_CELL = 2000

GUARDED = re.compile(r"^'(?=[=+\-@\t\r\uff1d\uff0b\uff0d\uff20])")
"""The apostrophe that spreadsheets put before what could be a formula. Source of the list: the OWASP page on CSV
injection, as quoted in advisories (from memory)."""


@dataclass(frozen=True)
class Line:
    """One row: its number in a spreadsheet, its cells as text, and which of them were a date there."""

    n: int
    cells: tuple[str, ...]
    dates: frozenset[int] = frozenset()

    def text(self, at: int | None) -> str:
        """The cell in a column, '' where the row ends before it or there is no such column."""
        return self.cells[at] if at is not None and at < len(self.cells) else ""


@dataclass(frozen=True)
class Sheet:
    """All rows that hold anything, in order, and how the file was understood."""

    lines: Sequence[Line]
    form: str
    """csv or xlsx."""
    about: dict[str, str] = field(default_factory=dict)
    """csv: encoding, separator. xlsx: sheet, and others where there are more."""


def cleaned(text: str) -> str:
    """A cell without what spreadsheets and web pages leave around it, in the form the record keeps text in (NFC)."""
    return unicodedata.normalize("NFC", GUARDED.sub("", text.replace("\xa0", " ").strip()).strip())


def refused(code: str, so: str, next_step: str) -> Trouble:
    """A file that is not taken at all."""
    return Trouble(422, code, so, NOTHING_CHANGED, next_step)


def not_a_table() -> Trouble:
    return refused(
        "not_a_table", "This file cannot be read as a table.",
        "Save it as CSV or as XLSX from the spreadsheet and choose that file.",
    )  # fmt: skip


def too_many_columns(row: int) -> Trouble:
    return refused(
        "too_many_columns", f"Row {row} has more than {MOST_COLUMNS} columns.",
        "Leave the columns of the template and choose the file again.",
    )  # fmt: skip


def bounded(lines: list[Line], form: str, about: dict[str, str]) -> Sheet:
    """The sheet of the rows that hold anything. Trouble where there are none, or more than is taken at once."""
    kept = [line for line in lines if any(line.cells)]
    if not kept:
        raise refused("no_rows", "There is nothing in this file.", "Fill in the template and choose that file.")
    if len(kept) > MOST_ROWS + 1:
        raise refused(
            "too_many_rows", f"There are {len(kept)} rows; {MOST_ROWS} are taken at once.",
            "Part it into several files.",
        )  # fmt: skip
    for line in kept:
        if len(line.cells) > MOST_COLUMNS and any(line.cells[MOST_COLUMNS:]):
            raise too_many_columns(line.n)
        if any(len(cell) > LONGEST_CELL for cell in line.cells):
            raise refused(
                "cell_too_long", f"A cell of row {line.n} is longer than {LONGEST_CELL} signs.",
                "Look whether a quote was left open there, and choose the file again.",
            )  # fmt: skip
    return Sheet(kept, form, about)
