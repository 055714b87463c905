"""Files as they come: encodings, separators, workbooks, and what is sent to do harm. No file is ever a fault.

Workbooks are made by openpyxl; archives that lie are made by hand.
"""

from __future__ import annotations

import io
import zipfile
from datetime import date
from typing import Any, cast

import openpyxl
import pytest
import xlsxwriter
from backend.test_bulk import DI, HEAD, csv_of, row, xlsx_of
from hypothesis import example, given, settings
from hypothesis import strategies as st
from loupebook.bulk.columns import understood
from loupebook.bulk.fates import Plan
from loupebook.bulk.people import plan_people
from loupebook.bulk.read import read_sheet
from loupebook.bulk.scopes import OnRecord, Words, plan_scopes, read_rows, scope_columns
from loupebook.bulk.sheet import MOST_ROWS, Sheet
from loupebook.bulk.sizes import Anatomy
from loupebook.bulk.xlsx_in import number_text
from loupebook.door.trouble import Trouble
from loupebook.record.kinds import ScopeDescribed

pytestmark = pytest.mark.breadth

WORDS = Words({"colonoscope": ("Colonoscope",), "gastroscope": ("Gastroscope",)}, {})
ANATOMY = Anatomy(
    {"colonoscope": frozenset(("lens", "jet_outlet", "ch_instrument", "ch_jet")), "gastroscope": frozenset(("lens",))},
    {"lens": ("lens",), "ch_instrument": ("instrument channel",), "jet_outlet": ("water-jet outlet",)},
    ("ch_instrument", "ch_jet"),
)


def known(name: str) -> bool:
    return understood(scope_columns(ANATOMY), name) is not None


def read(data: bytes) -> Sheet:
    return read_sheet(data, known)


def planned(data: bytes) -> Plan:
    _, rows = read_rows(read(data), WORDS, ANATOMY, 2026)
    return plan_scopes(rows, OnRecord())


def described(plan: Plan) -> list[ScopeDescribed]:
    """What the plan would write of scopes."""
    bodies = [write.body for write in plan.writes]
    assert all(isinstance(body, ScopeDescribed) for body in bodies)
    return cast(list[ScopeDescribed], bodies)


def refusal(data: bytes) -> str:
    with pytest.raises(Trouble) as refused:
        planned(data)
    assert all((refused.value.so, refused.value.safe, refused.value.next))
    return refused.value.code


ROWS = [HEAD, row("Ä-1", serial="1001", maker="Åkerö & Søn"), row("B-2", "gastroscope", "1002")]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    ("encoding", "told"),
    [
        ("utf-8", "UTF-8"), ("utf-8-sig", "UTF-8"), ("utf-16", "UTF-16"), ("utf-16-le", "UTF-16"),
        ("utf-16-be", "UTF-16"), ("cp1252", "Windows-1252"),
    ],
)  # fmt: skip
def test_every_usual_way_of_writing_a_csv_is_read(separator: str, encoding: str, told: str) -> None:
    data = csv_of(ROWS, separator, encoding)
    assert read(data).about["encoding"] == told
    plan = planned(data)
    assert [fate.name for fate in plan.fates] == ["Ä-1", "B-2"]
    assert [body.maker for body in described(plan)] == ["Åkerö & Søn", "Alder"]


def test_a_quoted_cell_keeps_its_separators_quotes_and_line_ends() -> None:
    """RFC 4180, 2.6 and 2.7; rows are numbered as a spreadsheet numbers them."""
    codes = 'one, "two"\nthree;four'
    data = csv_of([[*HEAD, "Other codes"], [*row("A-1", serial="1"), codes], [*row("A-2", serial="2"), ""]], ";")
    plan = planned(data)
    assert described(plan)[0].codes == ['one, "two"', "three", "four"]
    assert [fate.row for fate in plan.fates] == [2, 3]


def test_a_first_line_that_names_the_separator_is_followed() -> None:
    data = b"sep=;\r\n" + csv_of(ROWS, ";")
    assert [fate.row for fate in planned(data).fates] == [3, 4]


def test_a_decimal_comma_does_not_make_the_comma_a_separator() -> None:
    head = ["Kind of scope", "Serial number", "UDI or DI", "Working length mm"]
    data = csv_of([head, ["colonoscope", "1", DI, "1,68 m"], ["colonoscope", "2", DI, "1,03 m"]], ";")
    assert [body.tube_mm for body in described(planned(data))] == [1680, 1030]


def test_column_names_are_understood_however_they_are_written() -> None:
    head = ["KIND", "S/N", "udi-di", " facility-TAG ", "Manufacturer", "Model No", "Ward", ""]
    cells = ["colonoscope", "1", DI, "C-1", "Alder", "CX", "3 B", "x"]
    columns, rows = read_rows(read(csv_of([head, cells])), WORDS, ANATOMY, 2026)
    assert columns.named[-1] == ("Ward", None)
    assert rows[0].identity is not None and rows[0].said["maker"] == "Alder"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "no_rows"), (b"\r\n\r\n  \r\n", "no_rows"), (b"\xef\xbb\xbf", "no_rows"),
        (b"%PDF-1.7\n1 0 obj", "not_a_table"), (b"\x89PNG\r\n\x1a\n\x00\x00", "not_a_table"),
        (b"<html><body><table><tr><td>Kind</td></tr></table>", "not_a_table"),
        (bytes(range(256)) * 4, "not_a_table"), (b"a\x00b,c", "not_a_table"),
        (b"\xff\xfe\x00", "not_a_table"), (b"Kind\x81,Serial", "not_a_table"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old_or_locked"),
        (b"PK\x03\x04 but no archive", "not_a_table"),
        (b"one,two\r\n1,2\r\n", "no_columns"), (b"Kind,Type,Serial\r\n", "column_twice"),
        (b'Kind,Serial\r\ncolonoscope,"never closed\r\n' + b"x" * 5000, "cell_too_long"),
        (b'Kind,Serial\r\ncolonoscope,"never closed\r\n' + b"x" * 200_000, "not_a_table"),
        (b"Kind,Serial" + b"," * 80 + b"x\r\n", "too_many_columns"),
        (b"Kind,Serial\r\n" + b"colonoscope,1\r\n" * (MOST_ROWS + 1), "too_many_rows"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_refused_in_words(data: bytes, code: str) -> None:
    assert refusal(data) == code


# ---------------------------------------------------------------- workbooks


def test_a_workbook_of_numbers_is_read_as_it_was_typed() -> None:
    """Serial numbers and the DI as numbers: exact up to the 15 digits a spreadsheet keeps."""
    cells: list[list[object]] = [list(HEAD), ["C-1", "colonoscope", "Alder", 180, 2741906, int(DI), 1680.0]]
    (fate,) = planned(xlsx_of(cells)).fates
    assert (fate.fate, fate.key) == ("new", f"udi:{DI}/2741906")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("2741906", "2741906"), ("1680.0", "1680"), ("5.1022222233336E13", "51022222233336"), ("0.1", "0.1"),
        ("-4", "-4"), ("123456789012345", "123456789012345"), ("1.23456789012346E+15", "1.23457E+15"), ("", ""),
        ("1E+999999999", "1.00000E+999999999"), ("NaN", "NaN"),
    ],
)  # fmt: skip
def test_a_number_is_written_in_digits_until_its_digits_are_lost(value: str, text: str) -> None:
    assert number_text(value) == text


def test_what_a_spreadsheet_changed_is_named() -> None:
    cells: list[list[object]] = [
        list(HEAD), ["C-1", "colonoscope", "Alder", "CX", 5102222223333612, "", ""],
        [date(2026, 3, 1), "colonoscope", "Alder", "CX", "1", DI, ""], ["C-3", "colonoscope", "A", "CX", 45000, DI],
    ]  # fmt: skip
    plan = planned(xlsx_of(cells, E4='"SN "yyyy'))
    reasons = [fate.reason and (fate.reason.code, fate.reason.column) for fate in plan.fates]
    assert reasons == [("became_number", "serial"), ("became_date", "tag"), ("became_date", "serial")]


def test_texts_that_cells_name_by_number_are_read_whole_and_without_their_readings() -> None:
    """XlsxWriter keeps texts in a part of their own; text in several fonts is one text, its pronunciation is not."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet, bold = book.add_worksheet(), book.add_format({"bold": True})
    for n, line in enumerate(ROWS):
        for at, cell in enumerate(line):
            sheet.write_string(n, at, cell)
    sheet.write_rich_string(2, 0, "B", bold, "-2", "x")
    book.close()
    assert [fate.name for fate in planned(out.getvalue()).fates] == ["Ä-1", "B-2x"]
    path = "xl/sharedStrings.xml"
    texts = zipfile.ZipFile(io.BytesIO(out.getvalue())).read(path)
    reading = "<t>Ä-1</t><rPh sb='0' eb='1'><t>ae one</t></rPh>".encode()
    changed = texts.replace("<t>Ä-1</t>".encode(), reading)
    assert changed != texts
    assert [fate.name for fate in planned(repacked(out.getvalue(), {path: changed})).fates] == ["Ä-1", "B-2x"]
    assert refusal(repacked(out.getvalue(), {path: b"<sst><si><t>one</t></si></sst>"})) == "not_a_table"


def test_the_first_sheet_that_can_be_seen_is_read_and_the_others_are_named() -> None:
    book = openpyxl.Workbook()
    hidden = book.active
    assert hidden is not None
    hidden.title = "old"
    hidden.sheet_state = "hidden"
    for name in ("Scopes", "Notes"):
        sheet = book.create_sheet(name)
        for line in ROWS:
            sheet.append(line)
    out = io.BytesIO()
    book.save(out)
    sheet_read = read(out.getvalue())
    assert sheet_read.about == {"sheet": "Scopes", "others": "Notes"}
    assert [line.n for line in sheet_read.lines] == [1, 2, 3]


def test_a_formula_is_read_by_its_value_and_text_that_looks_like_one_stays_text() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(HEAD)
    sheet.append(row("<b>=1+1</b>", serial="<img src=x onerror=alert(1)>"))
    sheet.append(row("C-2", serial='=CMD|"/c calc"!A1'))
    out = io.BytesIO()
    book.save(out)
    first, second = planned(out.getvalue()).fates
    assert first.serial == "<img src=x onerror=alert(1)>"
    assert second.fate == "refused", "openpyxl writes no value for a formula; an empty cell has no serial number"


def repacked(data: bytes, change: dict[str, bytes], **more: bytes) -> bytes:
    """The archive with parts in another's place or beside them."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change.get(name, old.read(name)))
        for name, part in more.items():
            new.writestr(name.replace("__", "/"), part)
    return out.getvalue()


PLAIN = xlsx_of([list(HEAD), list(row("C-1", serial="1"))])
SHEET = "xl/worksheets/sheet1.xml"
RELATIONS = "xl/_rels/workbook.xml.rels"


def test_a_bomb_is_not_unpacked() -> None:
    """100 MB of one row's blanks in some 100 kB; what is unpacked is counted, not what the archive says."""
    bomb = b"<worksheet><sheetData>" + b" " * 100_000_000 + b"</sheetData></worksheet>"
    data = repacked(PLAIN, {SHEET: bomb})
    assert len(data) < 300_000
    assert refusal(data) == "too_large_inside"


def test_an_archive_of_very_many_parts_is_not_opened() -> None:
    assert refusal(repacked(PLAIN, {}, **{f"x{n}": b"" for n in range(1100)})) == "too_large_inside"


@pytest.mark.parametrize(
    "kind", ['<!ENTITY a "x">', '<!ENTITY a SYSTEM "file:///etc/passwd">', '<!ENTITY % a SYSTEM "http://127.0.0.1/x">']
)
def test_a_document_type_ends_the_reading(kind: str) -> None:
    """Entities that grow, that read a file, that ask another machine: none is ever looked at."""
    part = f"<?xml version='1.0'?><!DOCTYPE w [{kind}]><worksheet><sheetData/></worksheet>".encode()
    assert refusal(repacked(PLAIN, {SHEET: part})) == "not_a_table"


def test_a_workbook_with_macros_is_refused() -> None:
    assert refusal(repacked(PLAIN, {}, **{"xl__vbaProject.bin": b"\x00"})) == "has_macros"


@pytest.mark.parametrize(
    ("part", "content"),
    [
        (SHEET, b"<worksheet><sheetData><row r='1'><c r='A1' t='s'><v>999999</v></c></row></sheetData></worksheet>"),
        (SHEET, b"<worksheet><sheetData><row r='1'><c r='A1' t='s'><v>-7x</v></c></row></sheetData></worksheet>"),
        (SHEET, b"<worksheet><sheetData><row r='1'><c r='A1'><v>1x</v></c></row></sheetData></worksheet>"),
        (SHEET, b"<worksheet><sheetData><row>"),
        (SHEET, b"\x00\x01\x02"),
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/workbook.xml", b"<workbook><sheets><sheet name='a'/></sheets></workbook>"),
        (RELATIONS, b"<R><Relationship Id='rId1' Type='x/worksheet' Target='../../../etc/passwd'/></R>"),
        (RELATIONS, b"<R><Relationship Id='rId1' Type='x/worksheet'/></R>"),
    ],
)  # fmt: skip
def test_a_broken_workbook_is_no_fault(part: str, content: bytes) -> None:
    assert refusal(repacked(PLAIN, {part: content})) in ("not_a_table", "no_rows", "no_columns")


def test_a_cell_far_out_costs_nothing() -> None:
    cell = b"<row r='1048576'><c r='XFD1048576' t='str'><v>x</v></c></row>"
    sheet = b"<worksheet><sheetData>" + cell + b"</sheetData></worksheet>"
    assert refusal(repacked(PLAIN, {SHEET: sheet})) == "too_many_columns"


def test_a_locked_archive_is_said_to_be_locked() -> None:
    raw = bytearray(PLAIN)
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 8] |= 1
    assert refusal(bytes(raw)) == "locked"


def test_no_more_rows_are_read_than_are_taken() -> None:
    many: list[list[object]] = [list(HEAD), *([list(row("C", serial=str(n))) for n in range(MOST_ROWS + 1)])]
    assert refusal(xlsx_of(many)) == "too_many_rows"


# ---------------------------------------------------------------- any file

CELL = st.one_of(
    st.text(max_size=30),
    st.sampled_from([DI, "51022222233337", "5.1E+13", "colonoscope", f"(01){DI}(21)1", "+A99912345/$$5", "=1+1"]),
)


def adds_up(data: bytes) -> None:
    """Each row of the file has one fate, and only rows that are taken are written; or the file is refused in words."""
    for plan_of in (planned, lambda given: plan_people(read(given), {})[1]):
        try:
            plan = plan_of(data)
        except Trouble as refused:
            assert refused.status == 422
            continue
        rows = [line.n for line in read(data).lines[1:]]
        assert [fate.row for fate in plan.fates] == rows
        assert sum(plan.counts().values()) == len(rows)
        assert len(plan.writes) == sum(fate.fate in ("new", "known", "changes") for fate in plan.fates)
        assert len({write.about for write in plan.writes}) == len(plan.writes)
        assert len(plan.id) == 64


@given(st.binary(max_size=2000))
@example(PLAIN[:400])
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_a_table_or_refused(data: bytes) -> None:
    adds_up(data)


@given(
    st.lists(st.lists(CELL, max_size=9), max_size=8),
    st.sampled_from([";", ",", "\t"]),
    st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]),
)
@settings(max_examples=200, deadline=None)
def test_any_cells_under_our_columns_get_a_fate(cells: list[list[str]], separator: str, encoding: str) -> None:
    adds_up(csv_of([HEAD, *cells], separator, encoding))
    adds_up(csv_of([["Name", "Role"], *cells], separator, encoding))


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_any_damage_to_a_workbook_is_a_table_or_refused(chance: Any) -> None:
    raw = bytearray(PLAIN)
    for _ in range(chance.draw(st.integers(1, 6))):
        raw[chance.draw(st.integers(4, len(raw) - 1))] = chance.draw(st.integers(0, 255))
    adds_up(bytes(raw[: chance.draw(st.integers(10, len(raw)))]))


@given(st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_any_sheet_part_is_a_table_or_refused(inside: str) -> None:
    part = f"<worksheet><sheetData><row r='1'>{inside}</row></sheetData></worksheet>".encode("utf-8", "replace")
    adds_up(repacked(PLAIN, {SHEET: part}))
