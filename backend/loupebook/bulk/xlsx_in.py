"""XLSX (ECMA-376, Office Open XML) by the standard library alone: no more is unpacked than a table needs.

Nothing in it is run, followed or fetched. Every part is counted while it is unpacked, so that what an archive says
of its own sizes does not matter; a document type in any part ends the reading, so that no entity is ever expanded.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
import zlib
from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from xml.parsers import expat

from loupebook.bulk.sheet import (
    MOST_COLUMNS,
    MOST_ROWS,
    Line,
    Sheet,
    bounded,
    cleaned,
    not_a_table,
    refused,
    too_many_columns,
)
from loupebook.door.trouble import Trouble

MOST_PARTS = 1000
MOST_UNPACKED = 32 * 1024 * 1024
"""Bytes of all parts that are read, unpacked."""
CHUNK = 64 * 1024
DIGITS_KEPT = 15
"""Significant digits a spreadsheet keeps of a number (IEEE 754 double; Excel's own limit, from memory)."""

_CELL = re.compile(r"([A-Z]{1,3})(\d{1,7})")
_DATE_SIGNS = re.compile(r"[dmyhs]", re.IGNORECASE)
_NOT_FORMAT = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')
_BUILT_IN_DATES = frozenset((*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)))
"""Numbers of built-in date and time formats (ECMA-376 part 1, 18.8.30; the East Asian ones from memory)."""

Start = Callable[[str, Mapping[str, str]], None]
End = Callable[[str], None]
Text = Callable[[str], None]


def read_xlsx(data: bytes) -> Sheet:
    """The first sheet that can be seen, as text. Trouble where it is no such workbook; never raises another."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _Workbook(archive).read()
    except Trouble:
        raise
    except (
        zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, expat.ExpatError, NotImplementedError, EOFError,
        LookupError, ValueError, OSError, RuntimeError, RecursionError, MemoryError, OverflowError, InvalidOperation,
    ) as wrong:  # fmt: skip
        raise not_a_table() from wrong


def has_macros() -> Trouble:
    return refused(
        "has_macros", "This workbook carries a program of its own. Nothing of it was run.",
        "Save it as an ordinary workbook (.xlsx) and choose that file.",
    )  # fmt: skip


def too_large_inside() -> Trouble:
    return refused(
        "too_large_inside", "Unpacked, this workbook is far larger than a table of scopes or people.",
        "Copy the rows into the template and choose that file.",
    )  # fmt: skip


class _Workbook:
    """One archive that is being read; `left` is how many bytes may still be unpacked."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self._left = MOST_UNPACKED
        entries = archive.infolist()
        if len(entries) > MOST_PARTS:
            raise too_large_inside()
        self._names = {entry.filename for entry in entries}
        if any(name.lower().endswith((".bin", ".vbs", ".js")) and "vba" in name.lower() for name in self._names):
            raise has_macros()
        if any(entry.flag_bits & 1 for entry in entries):
            raise refused("locked", "This workbook is locked.", "Save it without a password and choose that file.")

    def read(self) -> Sheet:
        sheets = self._sheets()
        if not sheets:
            raise not_a_table()
        strings, dates = self._strings(), self._date_styles()
        name, path = sheets[0]
        lines = _SheetReader(strings, dates).read(lambda start, end, text: self._parse(path, start, end, text))
        about = {"sheet": name} | ({"others": ", ".join(each for each, _ in sheets[1:])} if len(sheets) > 1 else {})
        return bounded(lines, "xlsx", about)

    # ---------------------------------------------------------------- parts

    def _parse(self, path: str, start: Start, end: End, text: Text) -> None:
        """Reads one part, counted while it is unpacked."""
        parser = expat.ParserCreate(namespace_separator="|")
        parser.buffer_text = True

        def no_document_type(*_: object) -> None:
            raise not_a_table()

        parser.StartDoctypeDeclHandler = no_document_type
        parser.EntityDeclHandler = no_document_type
        parser.StartElementHandler = lambda name, given: start(_local(name), {_local(k): v for k, v in given.items()})
        parser.EndElementHandler = lambda name: end(_local(name))
        parser.CharacterDataHandler = text
        with self._archive.open(path) as part:
            while chunk := part.read(CHUNK):
                self._left -= len(chunk)
                if self._left < 0:
                    raise too_large_inside()
                parser.Parse(chunk, False)
            parser.Parse(b"", True)

    def _attributes(self, path: str, wanted: str) -> list[Mapping[str, str]]:
        """The attributes of every element of a name in a part."""
        found: list[Mapping[str, str]] = []

        def start(name: str, given: Mapping[str, str]) -> None:
            if name == wanted:
                found.append(given)

        self._parse(path, start, lambda _: None, lambda _: None)
        return found

    def _sheets(self) -> list[tuple[str, str]]:
        """(name, part) of every sheet that can be seen."""
        relations = {
            each["Id"]: posixpath.normpath(posixpath.join("/xl", each["Target"])).lstrip("/")
            for each in self._attributes("xl/_rels/workbook.xml.rels", "Relationship")
            if each.get("TargetMode") != "External" and each.get("Type", "").endswith("/worksheet")
        }
        found = [
            (each.get("name", ""), relations.get(each.get("id", ""), ""))
            for each in self._attributes("xl/workbook.xml", "sheet")
            if each.get("state", "visible") == "visible"
        ]
        return [(name, path) for name, path in found if path in self._names]

    def _strings(self) -> list[str]:
        """The texts that cells name by number; readings beside East Asian text are left out."""
        path = "xl/sharedStrings.xml"
        if path not in self._names:
            return []
        found: list[str] = []
        taking, phonetic = False, 0

        def start(name: str, _: Mapping[str, str]) -> None:
            nonlocal taking, phonetic
            if name == "si":
                found.append("")
            elif name == "rPh":
                phonetic += 1
            taking = name == "t" and not phonetic

        def end(name: str) -> None:
            nonlocal taking, phonetic
            taking = False
            phonetic -= name == "rPh"

        def text(words: str) -> None:
            if taking and found:
                found[-1] += words

        self._parse(path, start, end, text)
        return found

    def _date_styles(self) -> frozenset[int]:
        """Which cell styles show a number as a date or a time."""
        path = "xl/styles.xml"
        if path not in self._names:
            return frozenset()
        formats: dict[str, str] = {}
        styles: list[str] = []
        inside = False

        def start(name: str, given: Mapping[str, str]) -> None:
            nonlocal inside
            if name == "numFmt":
                formats[given.get("numFmtId", "")] = given.get("formatCode", "")
            elif name == "cellXfs":
                inside = True
            elif name == "xf" and inside:
                styles.append(given.get("numFmtId", "0"))

        def end(name: str) -> None:
            nonlocal inside
            if name == "cellXfs":
                inside = False

        self._parse(path, start, end, lambda _: None)
        return frozenset(at for at, each in enumerate(styles) if _is_date(each, formats))


def _is_date(number: str, formats: Mapping[str, str]) -> bool:
    if number in formats:
        return _DATE_SIGNS.search(_NOT_FORMAT.sub("", formats[number])) is not None
    return number.isdecimal() and int(number) in _BUILT_IN_DATES


class _SheetReader:
    """The rows of one sheet, cell by cell."""

    def __init__(self, strings: list[str], dates: frozenset[int]) -> None:
        self._strings = strings
        self._date_styles = dates
        self._lines: list[Line] = []
        self._n = 0
        self._cells: dict[int, str] = {}
        self._dates: set[int] = set()
        self._at = -1
        self._type = "n"
        self._style = 0
        self._value = ""
        self._taking = False
        self._phonetic = False

    def read(self, parse: Callable[[Start, End, Text], None]) -> list[Line]:
        parse(self._start, self._end, self._text)
        return self._lines

    def _start(self, name: str, given: Mapping[str, str]) -> None:
        if name == "row":
            said = given.get("r", "")
            self._n = int(said) if said.isdecimal() else self._n + 1
            self._cells, self._dates, self._at = {}, set(), -1
        elif name == "c":
            place = _CELL.fullmatch(given.get("r", ""))
            self._at = _column(place[1]) if place else self._at + 1
            self._type = given.get("t", "n")
            style = given.get("s", "0")
            self._style = int(style) if style.isdecimal() else 0
            self._value = ""
        elif name == "rPh":
            self._phonetic = True
        self._taking = name == "v" or (name == "t" and self._type == "inlineStr" and not self._phonetic)

    def _text(self, words: str) -> None:
        if self._taking:
            self._value += words

    def _end(self, name: str) -> None:
        self._taking = False
        if name == "rPh":
            self._phonetic = False
        elif name == "c":
            text = self._read_value()
            if text and self._at >= MOST_COLUMNS:
                raise too_many_columns(self._n)
            if text:
                self._cells[self._at] = text
                if self._type == "n" and self._style in self._date_styles:
                    self._dates.add(self._at)
        elif name == "row" and self._cells:
            width = max(self._cells) + 1
            cells = tuple(self._cells.get(at, "") for at in range(width))
            self._lines.append(Line(self._n, cells, frozenset(self._dates)))
            if len(self._lines) > MOST_ROWS + 1:
                raise refused(
                    "too_many_rows", f"There are more than {MOST_ROWS} rows; that many are taken at once.",
                    "Part it into several files.",
                )  # fmt: skip

    def _read_value(self) -> str:
        if self._type == "s" and self._value:
            if not self._value.isdecimal():
                raise not_a_table()
            return cleaned(self._strings[int(self._value)])
        if self._type == "n":
            return number_text(self._value)
        return cleaned(self._value)


def number_text(value: str) -> str:
    """A number of a cell as a person typed it: whole numbers in digits, all others as they stand.

    A whole number beyond 15 digits is given as a spreadsheet shows it, with an E: its last digits are lost.
    """
    text = value.strip()
    if not text:
        return ""
    number = Decimal(text)
    if not number.is_finite() or number != number.to_integral_value():
        return text
    if number.adjusted() >= DIGITS_KEPT:
        return f"{number:.5E}"
    return str(int(number))


def _column(letters: str) -> int:
    at = 0
    for letter in letters:
        at = at * 26 + ord(letter) - 64
    return at - 1


def _local(name: str) -> str:
    """An element's or attribute's name without its namespace."""
    return name.rsplit("|", 1)[-1]
