"""A washer's log as files write it: columns by their titles, times as a wall clock writes them, scopes by any name.

Moments are held against `datetime` and the facility's zone. Dates that may be read two ways are asked about, never
guessed: ISO 8601-1:2019 has the year first for that reason. Names of columns and values are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from loupebook.bulk.machine_log import LogRow, moment_ms, named_in, read_log, rows_of
from loupebook.bulk.scopes import OnRecord
from loupebook.door.trouble import Trouble
from loupebook.reading.shift import MOST_LOGGED, Against
from loupebook.record.kinds import LogRead
from loupebook.record.lines import LONGEST_LINE
from loupebook.scopes.tables.known import ScopeKnown
from story import C14

pytestmark = pytest.mark.shift

ZONE = ZoneInfo("America/New_York")
C11 = "udi:51022222233336/2741911"
TWIN = "mms:alder|a180|2741911"


def known(key: str, serial: str, tag: str | None) -> ScopeKnown:
    return ScopeKnown(key=key, on_record="described", serial=serial, tag=tag)


ONE, TWO, ALIKE = known(C14, "2741906", "C-14"), known(C11, "2741911", "C-11"), known(TWIN, "2741911", "A-9")
RECORD = OnRecord(
    {C14: ONE, C11: TWO, TWIN: ALIKE},
    {"2741906": [ONE], "2741911": [TWO, ALIKE]},
    {"c-14": [ONE], "c-11": [TWO], "a-9": [ALIKE]},
)


def rows(text: str | bytes, record: OnRecord = RECORD) -> list[LogRow]:
    file = read_log(text.encode() if isinstance(text, str) else text)
    assert named_in(file, 2026).tags is not None
    return rows_of(file, next(iter(file.orders), "day_first"), ZONE, record, 2026)


def utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0, second: int = 0) -> int:
    return round(datetime(year, month, day, hour, minute, second, tzinfo=UTC).timestamp() * 1000)


HEAD = "Date and time{0}Scope{0}Machine{0}Cycle number{0}Result\r\n"
ROW = "2026-03-02 07:12{0}C-14{0}W-2{0}3107{0}passed\r\n"


@pytest.mark.parametrize("separator", [";", ",", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_any_usual_separator_and_encoding_says_the_same(separator: str, encoding: str) -> None:
    """RFC 4180, and what spreadsheets write beside it; the machine's name carries an accent."""
    text = (HEAD + ROW.replace("W-2", "Spüler 2")).format(separator).encode(encoding)
    assert rows(text) == [LogRow(2, utc(2026, 3, 2, 12, 12), C14, "Spüler 2", "3107", "passed")]


@pytest.mark.parametrize(("text", "moment"), [
    ("2026-03-02 07:12", utc(2026, 3, 2, 12, 12)), ("2026-03-02T07:12:30", utc(2026, 3, 2, 12, 12, 30)),
    ("2026-03-02T12:12:30.250Z", utc(2026, 3, 2, 12, 12, 30)), ("2026-03-02T07:12-05:00", utc(2026, 3, 2, 12, 12)),
    ("2026/3/2 7:12 PM", utc(2026, 3, 3, 0, 12)), ("02.03.2026 07:12", utc(2026, 3, 2, 12, 12)),
    ("02/03/2026, 12:05 am", utc(2026, 3, 2, 5, 5)), ("2026-07-02 07:12", utc(2026, 7, 2, 11, 12)),
    ("2026-11-01 01:30", utc(2026, 11, 1, 5, 30)),
    *((text, None) for text in ("", "soon", "2026-02-30 07:12", "2026-03-02", "2026-03-02 25:12", "2026-03-02 13:05 pm",
                               "02/03/26 07:12", "2026-03-02 07:12 once", "1/2/3", "9999-12-31 23:59-24:00")),
])  # fmt: skip
def test_a_moment_is_the_facility_s_clock_or_has_its_own_offset(text: str, moment: int | None) -> None:
    """Held against `datetime`; the hour that a changed clock has twice is the first (1 November 2026, New York)."""
    assert moment_ms(text, "day_first", ZONE) == moment


def test_day_and_month_are_told_by_the_file_or_asked_about_and_never_mixed() -> None:
    def orders(*days: str) -> Sequence[str]:
        return read_log(("Date;Time;Scope\n" + "".join(f"{day};07:12;C-14\n" for day in days)).encode()).orders

    assert orders("2026-03-02", "03/03/2026") == ()
    assert orders("02/03/2026", "13/03/2026") == ("day_first",)
    assert orders("02/03/2026", "03/13/2026") == ("month_first",)
    assert orders("02.03.2026") == ("day_first", "month_first")
    with pytest.raises(Trouble) as mixed:
        orders("13/03/2026", "03/14/2026")
    assert mixed.value.code == "dates_mixed" and "Row 2 has the day first, row 3 the month" in mixed.value.so
    assert moment_ms("02/03/2026 07:12", "month_first", ZONE) == utc(2026, 2, 3, 12, 12)


def test_a_row_is_placed_by_what_its_cells_agree_on_and_named_where_they_do_not() -> None:
    """DI and serial number are those of FDA's public sample of a GS1 UDI; (01) and (21) are GS1's identifiers."""
    text = "Started at,Tag,Serial,UDI\n" + "".join(f"2026-03-02 07:12,{row}\n" for row in (
        "C-14,,", ",2741906,", ",,(01)51022222233336(21)2741906", "c-14,2741906,", "C-11,2741911,",
        ",2741911,", "C-14,2741911,", "C-77,,", ",,", ",,(01)51022222233337(21)2741906",
    ))  # fmt: skip
    found = [(row.scope, row.why, row.found) for row in rows(text)]
    assert found[:5] == [(C14, None, "")] * 4 + [(C11, None, "")]
    assert found[5:] == [
        (None, "scope_twice", "2741911"), (None, "scope_differs", "C-14"), (None, "scope_unknown", "C-77"),
        (None, "scope_missing", ""), (None, "code_not_read", "(01)51022222233337(21)2741906"),
    ]  # fmt: skip


def test_a_row_without_a_moment_is_named_with_its_number() -> None:
    text = "Date,Time,Scope\n2026-03-02,,C-14\n,07:12,C-14\n2026-03-02,late,C-14\n"
    assert [(row.row, row.why, row.scope) for row in rows(text)] == [
        (2, "time_missing", None), (3, "time_not_read", None), (4, "time_not_read", None),
    ]  # fmt: skip


def test_columns_of_patients_are_never_read() -> None:
    text = "Patient name;Date and time;Scope;Patient number;Result\nDOE-77;2026-03-02 07:12;C-14;99-1;passed\n"
    file = read_log(text.encode())
    assert [name for name, column in file.columns.named if column is None] == ["Patient name", "Patient number"]
    assert "DOE-77" not in repr(rows(text)) and "99-1" not in repr(rows(text))
    assert "doe-77" not in repr(named_in(file, 2026))


@pytest.mark.parametrize(("data", "code"), [
    (b"", "no_rows"), (b"Patient,Result\nA,B\n", "no_columns"), (b"Scope,Result\nC-14,ok\n", "no_columns"),
    (b"Time,Start time,Scope\n1,2,3\n", "column_twice"), (b"PK\x03\x04", "not_csv"), (b"%PDF-1.7", "not_a_table"),
    (b"\x00\x01\x02\x03", "not_a_table"),
])  # fmt: skip
def test_what_is_no_log_is_refused_in_three_parts(data: bytes, code: str) -> None:
    with pytest.raises(Trouble) as refused:
        read_log(data)
    assert refused.value.code == code and refused.value.so and refused.value.safe and refused.value.next


def test_a_closing_with_any_number_of_scopes_fits_its_line() -> None:
    keys = [f"mms:{'m' * 100}|{'x' * 100}|{number:090}" for number in range(400)]
    held = Against([LogRead("0" * 64, 400, 400, 0)], keys).held(frozenset([*keys[200:], "udi:1/2"]))
    assert (held.count, held.not_looked_count, held.not_logged_count) == (400, 200, 1)
    assert held.not_logged == ["udi:1/2"] and 0 < len(held.scopes) < 60
    assert MOST_LOGGED * 4 <= LONGEST_LINE
