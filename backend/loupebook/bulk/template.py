"""The template to fill in, as CSV and as XLSX: names of columns, and cells that are text and never a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from loupebook.door.rights import ROLES

ROWS = 300
"""Rows of the XLSX that are prepared as text."""
MOST_LISTED = 255
"""Signs of a list to choose from in a cell; beyond them XLSX takes none (ECMA-376 part 1, 18.3.1.33; from memory)."""

NamedColumns = Mapping[str, Sequence[str]]
"""Our columns in order, each with the names it is understood by; the template writes the first."""


def template_csv(columns: NamedColumns) -> bytes:
    """One row, with the mark by which spreadsheets see UTF-8 (RFC 4180, CRLF)."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(also[0] for also in columns.values())
    return ("\ufeff" + out.getvalue()).encode()


def template_xlsx(what: str, columns: NamedColumns, kinds: Sequence[str], parts: Sequence[str]) -> bytes:
    """The same as a workbook: every cell prepared as text, so that no number is shortened, and what is asked for.

    `kinds` and `parts` are the names that are understood.
    """
    import xlsxwriter  # only here: a server that is never asked for a template does without it

    out = io.BytesIO()
    # A fixed moment: the same version gives the same bytes.
    book: Any = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False}
    )
    text, head = book.add_format({"num_format": "@"}), book.add_format({"bold": True, "num_format": "@", "bottom": 2})
    sheet = book.add_worksheet("Scopes" if what == "scopes" else "People")
    for at, (name, *_) in enumerate(columns.values()):
        sheet.set_column(at, at, max(16, len(name) + 3), text)
        sheet.write_string(0, at, name, head)
    sheet.freeze_panes(1, 0)
    about = book.add_worksheet("How to fill it in")
    about.set_column(0, 0, 100)
    listed = [*kinds, "", PARTS_HEAD, *parts] if what == "scopes" else list(ROLES)
    for at, line in enumerate([*HOW[what], *listed]):
        about.write_string(at, 0, line)
    if what == "scopes":
        first = len(HOW[what]) + 1
        of = f"='How to fill it in'!$A${first}:$A${first + len(kinds) - 1}"
        column = list(columns).index("kind")
        sheet.data_validation(1, column, ROWS, column, {"validate": "list", "source": of, "error_type": "information"})
    book.close()
    return out.getvalue()


PARTS_HEAD = "Parts and channels, as they are named here:"

HOW: Mapping[str, Sequence[str]] = {
    "scopes": (
        "One row a scope. Needed: the kind, and the serial number or a code that holds it.",
        "UDI or DI: the whole code as it is printed (GS1 or HIBC), or the DI alone beside the serial number.",
        "Without a DI: maker, model and serial number, as they stand on the scope.",
        "Every cell here is text. Keep it so: a spreadsheet shortens long numbers and makes dates of others.",
        "An empty cell leaves what is on record as it is. Other codes: one a line, or parted by semicolons.",
        "Sizes come from the scope's own instructions: name them in “Sizes read from”, else no size is taken.",
        "A channel's diameter in mm (or with Fr behind it); its own length, port to outlet, not the working length.",
        "Has none of, Channels by flow only, Channels not tried at all: names from the list below, semicolons between.",
        "Nothing is written before you have seen what becomes of each row. Kinds:",
    ),
    "people": (
        "One row a person: the name as it shall stand in the record, and what the person does here.",
        "No PIN belongs here: each person sets their own with a one-time code that you print afterwards.",
        "Does here is one or more of these, parted by commas:",
    ),
}
