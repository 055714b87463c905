"""What was found as a table: one row an inspection, as the desk lists them."""

from __future__ import annotations

from typing import Any

from loupebook.reading.find_looks import Wanted
from loupebook.reading.say import Say
from loupebook.reading.sheet import SheetFinding
from loupebook.reading.sheet_paper import file_stem, finding_said, goes_words
from loupebook.reading.table_out import Cell, Column, Table

Row = dict[str, Any]
MOST_ROWS = 2_000
"""More than a lead reads; where there are others, the table says so."""
NAME = file_stem("inspections", "found")
ASKED = {"words": "desk.find_scope"} | {
    name: f"find.{name}" for name in ("person", "finding", "point", "place", "since", "until")
}
"""What was asked, as the desk's fields call it."""


def found_table(told: Row, asked: Wanted, say: Say, zone: str, made: str) -> Table:
    """The rows of `find_looks`, newest first; `asked` names what was looked for, `made` when."""
    names = {person["id"]: person["name"] for person in told["people"]}
    columns = [
        Column("begun", say("sheet.head.begun"), "moment"),
        *(Column(name, say(f"sheet.column.{name}")) for name in ("scope", "serial", "kind", "point")),
        Column("shift", say("sheet.title")),
        Column("by", say("sheet.head.by")),
        Column("state", say("sheet.column.state")),
        Column("findings", say("sheet.head.findings")),
        Column("first", say("sheet.head.first")),
        Column("goes", say("sheet.head.goes")),
        Column("inspection", say("sheet.column.inspection")),
    ]
    rows: list[list[Cell]] = [
        [
            each["at_ms"], each["scope"]["tag"] or "", each["scope"]["serial"] or each["scope"]["key"],
            say(f"kind.{each['scope']['kind']}") if each["scope"]["kind"] else "",
            say(f"point.{each['point']}"), each["shift"], names.get(each["person"], each["person"]), each["state"],
            "; ".join(_said(row, say) for row in each["findings"]),
            say(f"first.{each['first']}") if each["first"] else "",
            goes_words(each["state"], each["goes"], each["point"], say),
            each["root"],
        ]
        for each in told["looks"]
    ]  # fmt: skip
    about = {
        **{say(words): getattr(asked, name) for name, words in ASKED.items() if getattr(asked, name)},
        say("sheet.column.rows"): say("find.rows_more", count=len(rows))
        if told["next"] is not None
        else str(len(rows)),
        say("sheet.column.made"): made,
    }
    return Table(NAME, columns, rows, about, zone)


def _said(row: Row, say: Say) -> str:
    return finding_said(SheetFinding(row["part"], row["finding"], row["grade"], None, False, ()), say)
