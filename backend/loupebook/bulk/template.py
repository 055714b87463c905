"""The template to fill in, as CSV and as XLSX: names of columns, and cells that are text and never a formula."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

from loupebook.bulk.columns import PEOPLE, SCOPES
from loupebook.door.rights import ROLES

ROWS = 300
"""Rows of the XLSX that are prepared as text."""
MOST_LISTED = 255
"""Signs of a list to choose from in a cell; beyond them XLSX takes none (ECMA-376 part 1, 18.3.1.33; from memory)."""

OF: Mapping[str, Mapping[str, tuple[str, ...]]] = {"scopes": SCOPES, "people": PEOPLE}


def heads(what: str) -> list[str]:
    """The names of the columns, in order."""
    return [also[0] for also in OF[what].values()]


def template_csv(what: str) -> bytes:
    """One row, with the mark by which spreadsheets see UTF-8 (RFC 4180, CRLF)."""
    return ("\ufeff" + ",".join(heads(what)) + "\r\n").encode()


def template_xlsx(what: str, kinds: Sequence[str]) -> bytes:
    """The same as a workbook: every cell prepared as text, so that no number is shortened, and what is asked for."""
    import xlsxwriter  # only here: a server that is never asked for a template does without it

    out = io.BytesIO()
    # A fixed moment: the same version gives the same bytes.
    book: Any = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False}
    )
    text, head = book.add_format({"num_format": "@"}), book.add_format({"bold": True, "num_format": "@", "bottom": 2})
    sheet = book.add_worksheet("Scopes" if what == "scopes" else "People")
    for at, name in enumerate(heads(what)):
        sheet.set_column(at, at, max(16, len(name) + 3), text)
        sheet.write_string(0, at, name, head)
    sheet.freeze_panes(1, 0)
    about = book.add_worksheet("How to fill it in")
    about.set_column(0, 0, 100)
    for at, line in enumerate([*HOW[what], *(kinds if what == "scopes" else ROLES)]):
        about.write_string(at, 0, line)
    if what == "scopes":
        first = len(HOW[what]) + 1
        of = f"='How to fill it in'!$A${first}:$A${first + len(kinds) - 1}"
        column = list(SCOPES).index("kind")
        sheet.data_validation(1, column, ROWS, column, {"validate": "list", "source": of, "error_type": "information"})
    book.close()
    return out.getvalue()


HOW: Mapping[str, Sequence[str]] = {
    "scopes": (
        "One row a scope. Needed: the kind, and the serial number or a code that holds it.",
        "UDI or DI: the whole code as it is printed (GS1 or HIBC), or the DI alone beside the serial number.",
        "Without a DI: maker, model and serial number, as they stand on the scope.",
        "Every cell here is text. Keep it so: a spreadsheet shortens long numbers and makes dates of others.",
        "An empty cell leaves what is on record as it is. Other codes: one a line, or parted by semicolons.",
        "Nothing is written before you have seen what becomes of each row. Kinds:",
    ),
    "people": (
        "One row a person: the name as it shall stand in the record, and what the person does here.",
        "No PIN belongs here: each person sets their own with a one-time code that you print afterwards.",
        "Does here is one or more of these, parted by commas:",
    ),
}
