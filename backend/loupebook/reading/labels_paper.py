"""Labels as a page for paper: a sheet of them to be cut, or one a page for a label printer. The PDF is made of it."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from math import ceil
from pathlib import Path
from typing import Literal

from loupebook.qr import matrix, modules
from loupebook.reading.labels import Labelled
from loupebook.reading.paper_parts import SHEETS, page_html
from loupebook.reading.say import Say

Form = Literal["qr", "matrix"]
Size = Literal["a4", "letter", "50x25", "57x32", "62x29", "100x50", "102x152"]
ROLLS: dict[str, tuple[float, float]] = {
    "50x25": (50, 25), "57x32": (57, 32), "62x29": (62, 29), "100x50": (100, 50), "102x152": (101.6, 152.4),
}  # fmt: skip
"""Width and height in mm of one label of a label printer; 4 by 6 inches is the last (common practice, no source)."""
CELL_MM = (62, 39)
ROWS = {"a4": 7, "letter": 6}
"""Three in a row, cut along dashed lines: 7 x 39 mm within 297 - 24, 6 x 39 within 279.4 - 24."""
COLUMNS = 3
MARGIN_MM = 2.0
QUIET = {"qr": 4, "matrix": 2}
"""Modules of white round a code: four of a QR code (ISO/IEC 18004), one of a Data Matrix (ISO/IEC 16022), here two."""
DOT_MM = 0.125
"""Eight dots a millimetre, the coarsest of label printers (203 dots an inch): a module is a whole number of them."""
LEAST_PT, MOST_PT = 7, 48
MM_A_POINT = 25.4 / 72
SMALL_PT = {False: (9, 9, 7), True: (14, 14, 10)}
"""What it is, the note and the house, by whether the label is tall: as labels.css has them, 1.15 high, 0.5 mm apart."""
STYLE = Path(__file__).with_name("labels.css").read_text("utf-8")


def labels_html(labels: Sequence[Labelled], say: Say, form: Form, size: Size, facility: str) -> tuple[str, str]:
    """The page and its style: `size` is a sheet to be cut or a label printer's own."""
    wide, high = ROLLS.get(size, CELL_MM)
    cells = [_label(each, say, form, (wide, high), facility) for each in labels]
    if size in SHEETS:
        page = f"size: {SHEETS[size]}; margin: 12mm;"
        each = COLUMNS * ROWS[size]
        parts = [f"<div class='cut'>{''.join(cells[at : at + each])}</div>" for at in range(0, len(cells), each)]
    else:
        page = f"size: {wide}mm {high}mm; margin: 0;"
        parts = cells
    # A page for paper takes no style in its tags: what changes from label to label are the names of classes.
    box = f".label {{ width: {wide}mm; height: {high}mm; padding: {MARGIN_MM}mm; }}"
    types = "".join(f".p{points} {{ font-size: {points}pt; }}" for points in range(LEAST_PT, MOST_PT + 1))
    style = f"@page {{ {page} }}{STYLE}{box}{types}"
    return page_html(say("labels.title"), style, parts, "sheet" if size in SHEETS else "roll"), style


def module_mm(count: int, room_mm: float) -> float:
    """The side of a module of a code `count` modules long, so that it fits and is a whole number of dots."""
    return max(1, int(room_mm / count / DOT_MM)) * DOT_MM


def _label(label: Labelled, say: Say, form: Form, side: tuple[float, float], facility: str) -> str:
    wide, high = side
    tall = high > wide
    room = wide - 2 * MARGIN_MM if tall else min(high, 0.5 * wide) - 2 * MARGIN_MM
    under = high - room if tall else high
    line = room if tall else wide - room - 3 * MARGIN_MM
    words = [
        f"<span>{escape(say(f'labels.is.{label.what}'))}</span>",
        f"<b class='p{_points(label, facility, line, under, tall)}'>{escape(label.name)}</b>",
        f"<span class='mono'>{escape(label.note)}</span>" if label.note else "",
        f"<span class='house'>{escape(facility)}</span>",
    ]
    kind = "label tall" if tall else "label"
    return f"<article class='{kind}'>{_code(label.text, form, room)}<p>{''.join(words)}</p></article>"


def _points(label: Labelled, facility: str, line_mm: float, high_mm: float, tall: bool) -> int:
    """Type of the name as large as lets its longest word stand in one line and all words fit their room.

    Each word may need a line of its own, and the house as many as its name is long. What is taken too large makes a
    second page of a label.
    """
    words = label.name.split() or [" "]
    kind, note, house = SMALL_PT[tall]
    small = [kind, *([note] if label.note else []), *[house] * ceil(_ems(facility) * house * MM_A_POINT / line_mm)]
    rest = sum(1.15 * points * MM_A_POINT + 0.5 for points in small)
    most = min(line_mm / max(map(_ems, words)), (high_mm - 2 * MARGIN_MM - rest) / len(words))
    return int(max(LEAST_PT, min(MOST_PT, most / MM_A_POINT)))


def _ems(text: str) -> float:
    """How wide a text is at most, in heights of its type: bold letters of the widest font that may stand in."""
    return sum(1.11 if sign in "mwMW@%" else 0.87 if sign.isupper() else 0.72 for sign in text)


def _code(text: str, form: Form, room_mm: float) -> str:
    rows = matrix(text) if form == "matrix" else modules(text, "Q")
    quiet = QUIET[form]
    wide, high = len(rows[0]) + 2 * quiet, len(rows) + 2 * quiet
    each = module_mm(max(wide, high), room_mm)
    dark = "".join(
        f"M{x + quiet} {y + quiet}h1v1h-1z" for y, row in enumerate(rows) for x, one in enumerate(row) if one == "1"
    )
    size = f"width='{wide * each:g}mm' height='{high * each:g}mm' viewBox='0 0 {wide} {high}'"
    named = f"role='img' aria-label='{escape(text, quote=True)}'"
    return f"<svg {size} shape-rendering='crispEdges' {named}><path d='{dark}'/></svg>"
