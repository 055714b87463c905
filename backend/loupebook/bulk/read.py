"""Any file as a table, by what its first bytes are, never by its name."""

from __future__ import annotations

from loupebook.bulk.csv_in import Known, read_csv
from loupebook.bulk.sheet import Sheet, not_a_table, refused
from loupebook.bulk.xlsx_in import read_xlsx

ZIP = b"PK\x03\x04"
COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""A compound file: a workbook from before 2007, or one locked with a password."""
NO_TABLES = (b"%PDF", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"\x1f\x8b", b"{\\rtf", b"<?xml", b"<!DOC", b"<html")


def read_sheet(data: bytes, known: Known) -> Sheet:
    """The table in a file. Trouble where there is none; no file makes it raise anything else."""
    if data.startswith(ZIP):
        return read_xlsx(data)
    if data.startswith(COMPOUND):
        raise refused(
            "old_or_locked", "This workbook is of an older form, or locked with a password.",
            "Save it as XLSX without a password, or as CSV, and choose that file.",
        )  # fmt: skip
    if data.lstrip()[:5].startswith(NO_TABLES):
        raise not_a_table()
    return read_csv(data, known)
