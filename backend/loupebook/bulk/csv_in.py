"""CSV as spreadsheets and other programs write it: any usual encoding, separator and quoting (RFC 4180)."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable

from loupebook.bulk.sheet import Line, Sheet, bounded, cleaned, not_a_table

SEPARATORS = (";", ",", "\t", "|")
NAMES = {";": "semicolon", ",": "comma", "\t": "tab", "|": "bar"}
LOOK_AT = 64 * 1024
"""Signs of the beginning by which the separator is chosen."""

Known = Callable[[str], bool]
"""Whether a cell is the name of a column we read."""


def read_csv(data: bytes, known: Known) -> Sheet:
    """The rows of a CSV file. Trouble `not_a_table` and those of `bounded`. Never raises another."""
    text, encoding = _decoded(data)
    if "\x00" in text:
        raise not_a_table()
    text, told = _told_separator(text)
    separator = told or max(SEPARATORS, key=lambda each: _fits(text[:LOOK_AT], each, known))
    rows = _rows(text, separator)
    lines = [Line(n, tuple(cleaned(cell) for cell in row)) for n, row in enumerate(rows, 2 if told else 1)]
    return bounded(lines, "csv", {"encoding": encoding, "separator": NAMES[separator]})


def _decoded(data: bytes) -> tuple[str, str]:
    """The text and how it was written: a mark at the beginning decides, else UTF-16 by its pattern, UTF-8, Windows."""
    try:
        if data.startswith(codecs.BOM_UTF8):
            return data.decode("utf-8-sig"), "UTF-8"
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return data.decode("utf-16"), "UTF-16"
        if (without_mark := _utf16(data)) is not None:
            return data.decode(without_mark), "UTF-16"
    except UnicodeDecodeError as wrong:
        raise not_a_table() from wrong
    try:
        return data.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        try:
            return data.decode("cp1252"), "Windows-1252"
        except UnicodeDecodeError as wrong:
            raise not_a_table() from wrong


def _utf16(data: bytes) -> str | None:
    """UTF-16 without its mark: every second byte of the beginning is zero, as in any text of Latin letters."""
    head = data[:256]
    if len(head) < 4 or len(data) % 2:
        return None
    even, odd = head[0::2], head[1::2]
    if odd.count(0) > 0.8 * len(odd) and not even.count(0):
        return "utf-16-le"
    if even.count(0) > 0.8 * len(even) and not odd.count(0):
        return "utf-16-be"
    return None


def _told_separator(text: str) -> tuple[str, str | None]:
    """The text after a first line `sep=;`, which some spreadsheets write and read, and what it said."""
    first, _, rest = text.partition("\n")
    said = first.rstrip("\r")
    if len(said) == 5 and said[:4].lower() == "sep=" and said[4] in SEPARATORS:
        return rest, said[4]
    return text, None


def _fits(beginning: str, separator: str, known: Known) -> tuple[int, int]:
    """How many names of columns a separator finds in the first row that holds anything, then how many cells."""
    for row in _rows(beginning, separator):
        if any(cell.strip() for cell in row):
            return sum(known(cleaned(cell)) for cell in row), len(row)
    return 0, 0


def _rows(text: str, separator: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as wrong:  # a cell beyond the reader's own limit of 131,072 signs: a quote left open
        raise not_a_table() from wrong
