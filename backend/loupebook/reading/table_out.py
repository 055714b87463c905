"""Rows that leave as files: CSV for spreadsheets and for machines, a workbook, and what the columns mean.

CSV is RFC 4180. For spreadsheets a cell that could be a formula gets an apostrophe and the file the mark of UTF-8;
that alters codes and negative numbers, so machines get every cell as it is, with the columns described beside it
(W3C, Metadata Vocabulary for Tabular Data).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

Cell = str | int | None
"""A moment is ms UTC since 1970 in a column of that sort."""
Form = Literal["spreadsheet", "machine"]
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the beginning of a formula. Source: the OWASP page on CSV injection, as quoted in
advisories (from memory)."""


@dataclass(frozen=True)
class Column:
    """A column: its name for machines, its title for people, and whether it holds text, numbers or moments."""

    name: str
    title: str
    sort: Literal["text", "number", "moment"] = "text"


@dataclass(frozen=True)
class Table:
    """Rows under their columns. `about` says of the whole what it is, in the order given."""

    name: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Cell]]
    about: Mapping[str, str]
    zone: str


def guarded(text: str) -> str:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(FORMULA) else text


def as_csv(table: Table, form: Form) -> bytes:
    """CRLF, quotes doubled, moments in UTC by ISO 8601. Spreadsheets get titles and guarded cells, machines names."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    sheet = form == "spreadsheet"
    writer.writerow(column.title if sheet else column.name for column in table.columns)
    for row in table.rows:
        cells = (_text(cell, column) for cell, column in zip(row, table.columns, strict=True))
        writer.writerow(guarded(cell) if sheet else cell for cell in cells)
    return (("\ufeff" if sheet else "") + out.getvalue()).encode()


def _text(cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    return _moment(cell) if column.sort == "moment" and isinstance(cell, int) else str(cell)


def _moment(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


_DATATYPES = {"text": "string", "number": "integer", "moment": "dateTime"}


def as_metadata(table: Table) -> bytes:
    """What the columns of the CSV for machines are, as CSVW says it."""
    columns = [
        {"name": column.name, "titles": column.name, "dc:description": column.title,
         "datatype": _DATATYPES[column.sort], "null": ""}
        for column in table.columns
    ]  # fmt: skip
    told = {
        "@context": "http://www.w3.org/ns/csvw",
        "url": f"{table.name}.csv",
        "dc:title": table.name,
        "dialect": {"encoding": "utf-8", "lineTerminators": ["\r\n"], "header": True},
        "tableSchema": {"columns": columns},
    }
    return json.dumps(told, ensure_ascii=False, indent=2).encode()


def as_xlsx(table: Table) -> bytes:
    """A workbook: text stays text, moments are dates in the facility's time, the first row stays; `About` says what."""
    import xlsxwriter  # only here: a server that is never asked for a workbook does without it

    out = io.BytesIO()
    off = {"in_memory": True, "strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False}
    book: Any = xlsxwriter.Workbook(out, off)
    text, head = book.add_format({"num_format": "@"}), book.add_format({"bold": True, "num_format": "@", "bottom": 2})
    date = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    sheet = book.add_worksheet("Rows")
    for at, column in enumerate(table.columns):
        sheet.set_column(at, at, max(12, min(40, len(column.title) + 3)))
        sheet.write_string(0, at, column.title, head)
    zone = ZoneInfo(table.zone)
    for line, row in enumerate(table.rows, start=1):
        for at, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
            if cell is None:
                continue
            if column.sort == "moment" and isinstance(cell, int):
                local = datetime.fromtimestamp(cell / 1000, UTC).astimezone(zone).replace(tzinfo=None)
                sheet.write_datetime(line, at, local, date)
            elif isinstance(cell, int):
                sheet.write_number(line, at, cell)
            else:
                sheet.write_string(line, at, cell, text)
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(1, len(table.rows)), len(table.columns) - 1)
    about = book.add_worksheet("About")
    about.set_column(0, 1, 40)
    for line, (name, value) in enumerate(table.about.items()):
        about.write_string(line, 0, name, head)
        about.write_string(line, 1, value, text)
    book.close()
    return out.getvalue()
