"""A washer's log in a file: when which scope was in which machine, row by row. Pure.

Only the columns named here are read: whatever else a file carries, names of patients too, is dropped with the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Literal
from zoneinfo import ZoneInfo

from loupebook.bulk.columns import SCOPES, Columns, find_columns, understood
from loupebook.bulk.csv_in import read_csv
from loupebook.bulk.fates import Refused
from loupebook.bulk.identity import identity_of
from loupebook.bulk.read import COMPOUND, NO_TABLES, ZIP
from loupebook.bulk.scopes import OnRecord
from loupebook.bulk.sheet import Line, Sheet, not_a_table, refused
from loupebook.scopes.tables.known import ScopeKnown

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "at": ("Date and time", "date time", "datetime", "timestamp", "started at", "start", "cycle start"),
    "date": ("Date", "day", "cycle date", "start date"),
    "time": ("Time", "time of day", "start time", "cycle time"),
    "scope": ("Scope", "endoscope", "instrument", "device", "item", "scope id", "endoscope id"),
    "tag": SCOPES["tag"],
    "serial": (*SCOPES["serial"], "scope serial", "scope serial number", "endoscope serial number"),
    "udi": SCOPES["udi"],
    "machine": ("Machine", "washer", "reprocessor", "aer", "machine id", "machine no", "machine number", "washer id"),
    "cycle": ("Cycle number", "cycle", "cycle no", "cycle id", "run", "batch", "load", "load number"),
    "result": ("Result", "outcome", "status", "cycle result", "passed"),
}
"""The name we print first, then what else is understood. Common practice, no source; of no maker's file."""
NEEDS = (("at", "date", "time"), ("scope", "tag", "serial", "udi"))

Order = Literal["day_first", "month_first"]
Why = Literal[
    "time_missing", "time_not_read", "scope_missing", "scope_unknown", "scope_twice", "scope_differs", "code_not_read",
]  # fmt: skip
"""Why a row cannot be placed.

time_missing: no date, or no time of day · time_not_read: `found` is no moment · scope_unknown: no scope on record has
this tag, serial number or code · scope_twice: several have · scope_differs: its cells name two · code_not_read: the
code's check digit is wrong, or it names no scope.
"""

_ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?=\D|$)")
_SHORT = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})(?=\D|$)")
_CLOCK = re.compile(
    r"[T\s,]*(\d{1,2})[:.](\d{2})(?:[:.](\d{2})(?:[.,]\d{1,9})?)?\s*([AaPp]\.?[Mm]\.?)?\s*(Z|[+-]\d{2}:?\d{2})?"
)
MOST_TEXT = 120


@dataclass(frozen=True)
class LogRow:
    """One row: its number in the file, when (ms UTC) and which scope by its key, or why not; machine, cycle, result
    as the file writes them."""

    row: int
    at_ms: int | None
    scope: str | None
    machine: str
    cycle: str
    result: str
    why: Why | None = None
    found: str = ""


@dataclass(frozen=True)
class LogFile:
    """A file once read: its sheet and columns, and how its dates may be read."""

    sheet: Sheet
    columns: Columns
    orders: tuple[Order, ...]
    """The orders of day and month in which every date is one. Both: nothing in the file tells which, and it matters.
    None named: every date is written with the year first, or reads alike both ways."""


def known_column(name: str) -> bool:
    return understood(COLUMNS, name) is not None


def read_log(data: bytes) -> LogFile:
    """The rows of a CSV file and its columns. Trouble where it is none, or `dates_mixed`; never raises another."""
    if data.startswith((ZIP, COMPOUND)):
        raise refused("not_csv", "This is a workbook, not a CSV file.", "Save the log as CSV and choose that file.")
    if data.lstrip()[:5].startswith(NO_TABLES):
        raise not_a_table()
    sheet = read_csv(data, known_column)
    columns = find_columns(sheet, COLUMNS, NEEDS)
    return LogFile(sheet, columns, _orders(columns))


def _orders(columns: Columns) -> tuple[Order, ...]:
    """Both where no row tells which number is the day and some row would be another day."""
    day_first = month_first = 0
    open_rows = 0
    for line in columns.lines:
        found = _SHORT.match(_moment_text(columns, line))
        if found is None:
            continue
        one, two = int(found[1]), int(found[3])
        if one > 12 >= two:
            day_first = day_first or line.n
        elif two > 12 >= one:
            month_first = month_first or line.n
        elif one != two:
            open_rows += 1
    if day_first and month_first:
        raise refused(
            "dates_mixed", f"Row {day_first} has the day first, row {month_first} the month.",
            "Write all dates of the file in one way, best as 2026-03-02, and choose it again.",
        )  # fmt: skip
    if day_first:
        return ("day_first",)
    if month_first:
        return ("month_first",)
    return ("day_first", "month_first") if open_rows else ()


def _moment_text(columns: Columns, line: Line) -> str:
    """Date and time of a row: one cell, or those of two columns."""
    whole = columns.text(line, "at")
    return whole or " ".join(filter(None, (columns.text(line, "date"), columns.text(line, "time"))))


def moment_ms(text: str, order: Order, zone: ZoneInfo) -> int | None:
    """A moment in ms UTC since 1970, or None where the text is none. Without an offset it is the facility's clock; of
    the hour that a changed clock has twice, the first. A fraction of a second is dropped."""
    said = _day(text, order)
    if said is None:
        return None
    day, rest = said
    clock = _CLOCK.fullmatch(rest)
    if clock is None:
        return None
    hour, half = int(clock[1]), (clock[4] or "").replace(".", "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        at = datetime.combine(day, time(hour, int(clock[2]), int(clock[3] or 0)))
        return round(at.replace(tzinfo=_offset(clock[5], zone)).timestamp() * 1000)
    except (ValueError, OverflowError):
        return None


def _day(text: str, order: Order) -> tuple[date, str] | None:
    if (iso := _ISO.match(text)) is not None:
        year, month, day, rest = int(iso[1]), int(iso[3]), int(iso[4]), text[iso.end() :]
    elif (short := _SHORT.match(text)) is not None:
        one, two = int(short[1]), int(short[3])
        month, day = (two, one) if order == "day_first" else (one, two)
        year, rest = int(short[4]), text[short.end() :]
    else:
        return None
    try:
        return date(year, month, day), rest
    except ValueError:
        return None


def _offset(said: str | None, zone: ZoneInfo) -> timezone | ZoneInfo:
    if said is None:
        return zone
    if said == "Z":
        return UTC
    sign = -1 if said[0] == "-" else 1
    return timezone(sign * timedelta(hours=int(said[1:3]), minutes=int(said[-2:])))


# ---------------------------------------------------------------- which scope a row names


@dataclass(frozen=True)
class Named:
    """What the rows of a file name: keys out of codes, and small letters of serial numbers and tags."""

    keys: frozenset[str]
    serials: frozenset[str]
    tags: frozenset[str]


def named_in(file: LogFile, today_year: int) -> Named:
    """All that must be asked of the record to place the rows."""
    keys: set[str] = set()
    serials: set[str] = set()
    tags: set[str] = set()
    for line in file.columns.lines:
        said = _said(file.columns, line)
        keys |= {key for column in ("udi", "scope") if (key := _key(said[column], said["serial"], today_year))}
        serials |= {said[column].lower() for column in ("serial", "scope") if said[column]}
        tags |= {said[column].lower() for column in ("tag", "scope") if said[column]}
    return Named(frozenset(keys), frozenset(serials), frozenset(tags))


def rows_of(file: LogFile, order: Order, zone: ZoneInfo, record: OnRecord, today_year: int) -> list[LogRow]:
    """Every row of the file as far as it can be placed, in the file's order."""
    return [_row(file.columns, line, order, zone, record, today_year) for line in file.columns.lines]


def _row(columns: Columns, line: Line, order: Order, zone: ZoneInfo, record: OnRecord, today_year: int) -> LogRow:
    text = _moment_text(columns, line)
    at_ms = moment_ms(text, order, zone)
    machine, cycle, result = (columns.text(line, name)[:MOST_TEXT] for name in ("machine", "cycle", "result"))
    scope, why, found = _scope(_said(columns, line), record, today_year)
    if at_ms is None:
        day = _day(text, order)
        missing = not text or (day is not None and not day[1].strip())
        why, found = ("time_missing" if missing else "time_not_read"), text[:MOST_TEXT]
    return LogRow(line.n, at_ms, scope if at_ms is not None else None, machine, cycle, result, why, found)


def _said(columns: Columns, line: Line) -> dict[str, str]:
    return {name: " ".join(columns.text(line, name).split()) for name in ("scope", "tag", "serial", "udi")}


def _key(text: str, serial: str, today_year: int) -> str | None:
    """The key a code names; nothing where the text is no code, or one that does not hold."""
    if not text:
        return None
    try:
        return identity_of({"udi": text, "serial": serial, "maker": "", "model": ""}, today_year).key
    except Refused:
        return None


def _scope(said: Mapping[str, str], record: OnRecord, today_year: int) -> tuple[str | None, Why | None, str]:
    """The one scope on record that all cells of a row which name any agree on."""
    if not any(said.values()):
        return None, "scope_missing", ""
    words = next(said[name] for name in ("tag", "serial", "scope", "udi") if said[name])[:MOST_TEXT]
    meant = [
        {key} if (key := _key(said["udi"], said["serial"], today_year)) in record.known else set(),
        _keys(record.by_tag, said["tag"]),
        _keys(record.by_serial, said["serial"]),
        _keys(record.by_tag, said["scope"]) or _keys(record.by_serial, said["scope"])
        or ({other} if (other := _key(said["scope"], said["serial"], today_year)) in record.known else set()),
    ]  # fmt: skip
    some = [keys for keys in meant if keys]
    if not some:
        only_code = said["udi"] and not key and not (said["tag"] or said["serial"] or said["scope"])
        return None, "code_not_read" if only_code else "scope_unknown", words
    agreed = {each for each in set.intersection(*some) if each is not None}
    if len(agreed) == 1:
        return agreed.pop(), None, ""
    return None, "scope_twice" if agreed else "scope_differs", words


def _keys(by: Mapping[str, Sequence[ScopeKnown]], text: str) -> set[str | None]:
    return {scope.key for scope in by.get(text.lower(), ())} if text else set()
