"""The sheet of a shift as HTML, and its lines as a table: one ink, shapes and words, every row whole on a page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from zoneinfo import ZoneInfo

from msgspec import UNSET, UnsetType

from loupebook.reading.paper_parts import (
    SHEETS,
    Sheet,
    code_html,
    figure_html,
    page_html,
    photos_html,
)
from loupebook.reading.say import Say
from loupebook.reading.sheet import MARKS, SheetFinding, SheetLine, ShiftSheet
from loupebook.reading.table_out import Cell, Column, Table
from loupebook.record.kinds import ScopesLogged, ShiftException
from loupebook.scopes.tables.known import ScopeKnown

STYLE = Path(__file__).with_name("sheet.css").read_text("utf-8")
SHAPES = {
    "not_looked": "<circle cx='12' cy='12' r='8.6' fill='none' stroke='#000' stroke-width='2.4' "
    "stroke-dasharray='3.4 2'/>",
    "nothing_found": "<circle cx='12' cy='12' r='9.8'/>",
    "finding": "<path d='M12 .8 23.2 12 12 23.2 .8 12Z'/><path d='M12 6.4v7' stroke='#fff' stroke-width='2.8'/>"
    "<circle cx='12' cy='16.8' r='1.7' fill='#fff'/>",
    "out_of_use": "<path d='M12 .6 23.4 12 12 23.4 .6 12Z' fill='none' stroke='#000' stroke-width='1.8'/>"
    "<path d='M12 4.6 19.4 12 12 19.4 4.6 12Z'/>",
    "could_not_look": "<path d='M1 12h6.5M16.5 12H23M7.5 3.5v17M16.5 3.5v17' stroke='#000' stroke-width='3.2'/>",
    "not_due": "<path d='M6.2 6.2h11.6v11.6H6.2Z' fill='none' stroke='#000' stroke-width='2.6'/>",
    "none_here": "<path d='M3 8.6h18v6.8H3Z'/>",
}
"""The marks' shapes as the screens draw them, in one ink."""


def sheet_html(sheet: ShiftSheet, say: Say, size: Sheet, *, photos: bool, address: str = "") -> tuple[str, str]:
    """The page, and its style. `photos`: those of findings go along. `address` stands before the names of photos."""
    style = f"{page_foot(SHEETS[size], say)}{STYLE}"
    title = say("sheet.title")
    parts = [
        f"<header><h1>{escape(title)}</h1><p>{escape(_when(sheet, say))}</p></header>",
        f'<p class="first">{escape(completeness(sheet, say))}</p>',
        _totals(sheet, say),
        _legend(say),
        _lines(sheet, say),
        *_not_seen(sheet, say),
        _came(sheet, say),
        _left(sheet, say),
        *(_pictures(sheet, say, address) if photos else ()),
        _proof(sheet, say),
    ]
    return page_html(title, style, parts, "shift"), style


def page_foot(size: str, say: Say) -> str:
    """The page's rule: its size, the caution that stands on every sheet, and which sheet of how many."""
    foot = say("caution.nothing_found").replace('"', "'").replace("\\", "")
    return (
        f"@page {{ size: {size}; margin: 12mm 12mm 15mm; "
        f'@bottom-left {{ content: "{foot}"; font: 8pt "DejaVu Sans", sans-serif; width: 80%; }} '
        '@bottom-right { content: counter(page) " / " counter(pages); font: 8pt "DejaVu Sans", sans-serif; } }'
    )


def completeness(sheet: ShiftSheet, say: Say) -> str:
    """One line: that the record is complete, or what it lacks."""
    lacks = [*(_sort(each, say) for each in sheet.open)]
    if sheet.late:
        lacks.append(say("sheet.late", count=sheet.late))
    if sheet.closing is None:
        return " ".join([say("sheet.not_closed"), say("sheet.lacks", what="; ".join(lacks)) if lacks else ""]).strip()
    return say("sheet.lacks", what="; ".join(lacks)) if lacks else say("shift.record_complete")


def scope_short(scope: ScopeKnown) -> str:
    return scope.tag or scope.serial or scope.key


def finding_said(found: SheetFinding, say: Say) -> str:
    """ "Lens: film, minor, 62 cm"."""
    words = say(
        "decide.finding",
        part=opening(say(f"part.{found.part}")),
        what=say(f"seen.{found.finding}").lower(),
        grade=say(f"grade.{found.grade}").lower(),
    )
    return words if found.place_mm is None else f"{words}, {found.place_mm / 10:g} cm"


def opening(words: str) -> str:
    """Words as a sentence begins."""
    return words[:1].upper() + words[1:]


def first_said(line: SheetLine, say: Say) -> str:
    return say(f"first.{line.first}") if line.first else ""


def goes_said(line: SheetLine, say: Say) -> str:
    """Where it goes, worded by the point; what is not concluded says that."""
    return goes_words(line.state, line.goes, line.point, say)


def goes_words(state: str, goes: str | None, point: str, say: Say) -> str:
    """As `goes_said`, of an inspection that stands on no sheet."""
    if state != "concluded" or goes is None:
        return say("desk.abandoned" if state == "abandoned" else "desk.begun")
    worded = "before_use_unrecorded" if point == "before_use" else point
    return say(f"goes.on.{worded}") if goes == "on" else say(f"goes.{goes}")


def _local(sheet: ShiftSheet, ms: int) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC).astimezone(ZoneInfo(sheet.zone))


def _when(sheet: ShiftSheet, say: Say) -> str:
    name = " · ".join(sheet.shift.rsplit("/", 2)) if sheet.shift.count("/") >= 2 else sheet.shift
    hours = say("desk.from_to", **{"from": f"{_local(sheet, sheet.begins_ms):%H:%M}"},
                to=f"{_local(sheet, sheet.ends_ms):%H:%M}")  # fmt: skip
    return f"{sheet.facility} · {name} · {hours}"


def _shape(mark: str) -> str:
    return f"<svg class='m' viewBox='0 0 24 24' aria-hidden='true'>{SHAPES[mark]}</svg>"


TOTALS = (
    "inspections", "scopes", "nothing_found", "with_finding", "out_of_use", "not_concluded", "abandoned",
    "first_nothing", "first_dry", "first_clean", "first_whole", "goes_on", "goes_hold", "goes_repair",
    "findings", "photos", "photos_waiting", "holds", "aside",
)  # fmt: skip


def _totals(sheet: ShiftSheet, say: Say) -> str:
    """What was signed; beside it what the record says now, where that differs."""
    cells = []
    for name in TOTALS:
        signed, now = getattr(sheet.signed, name), getattr(sheet.now, name)
        differs = name not in ("holds", "aside") and signed != now
        value = f"{signed} <span class='now'>{escape(say('sheet.now', count=now))}</span>" if differs else str(signed)
        cells.append(f"<div data-total='{name}'><dt>{escape(total_said(name, say))}</dt><dd>{value}</dd></div>")
    return f"<dl class='totals'>{''.join(cells)}</dl>"


def total_said(name: str, say: Say) -> str:
    """What a total counts."""
    if name.startswith("first_"):
        return f"{say('sheet.head.first')}: {say(name.replace('_', '.')).lower()}"
    return say(f"sheet.total.{name}")


def _legend(say: Say) -> str:
    each = " ".join(f"<span>{_shape(mark)} {escape(say(f'mark.said.{mark}'))}</span>" for mark in MARKS)
    out = f"<span>{_shape('out_of_use')} {escape(say('mark.said.out_of_use'))}</span>"
    return f"<p class='legend'><b>{escape(say('sheet.marks'))}</b> {each} {out}</p>"


def six(counts: Mapping[str, int]) -> str:
    """The six marks as numbers, in their order."""
    return "·".join(str(counts.get(mark, 0)) for mark in MARKS)


HEADS = ("begun", "scope", "point", "by", "counts", "findings", "photos", "first", "goes")


def _lines(sheet: ShiftSheet, say: Say) -> str:
    if not sheet.lines:
        return f"<p>{escape(say('desk.no_inspections'))}</p>"
    head = "".join(f"<th>{escape(say(f'sheet.head.{name}'))}</th>" for name in HEADS)
    rows = "".join(_row(sheet, line, say) for line in sheet.lines)
    return f"<table class='lines'><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _row(sheet: ShiftSheet, line: SheetLine, say: Say) -> str:
    found = "".join(
        f"<div>{_shape('out_of_use' if each.out_of_use else 'finding')} {escape(finding_said(each, say))}</div>"
        for each in line.findings
    )
    if not found:
        found = escape(say("mark.out_of_use" if line.out_of_use else "sheet.no_finding"))
    cells = (
        f"{_local(sheet, line.begun_ms):%H:%M}",
        f"<b>{escape(scope_short(line.scope))}</b><div class='mono'>{escape(line.scope.serial or '')}</div>",
        escape(say(f"point.{line.point}")),
        escape(", ".join(sheet.names.get(each, each) for each in line.people)),
        f"<span class='six'>{six(line.counts)}</span>",
        found,
        str(line.photos) + (f" ({escape(say('sheet.waiting', count=line.waiting))})" if line.waiting else ""),
        escape(first_said(line, say)),
        escape(goes_said(line, say)),
    )
    return f"<tr data-root='{line.root}'>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>"


def _not_seen(sheet: ShiftSheet, say: Say) -> list[str]:
    """By name: what was not looked at or could not be, why, and what was not due or is not there."""
    rows = []
    for line in sheet.lines:
        said = unseen_said(line, say)
        if said:
            named = f"{scope_short(line.scope)}, {_local(sheet, line.begun_ms):%H:%M}"
            rows.append(f"<li><b>{escape(named)}</b>: {escape(' '.join(said))}</li>")
    if not rows:
        return [f"<section><h2>{escape(say('sheet.not_seen'))}</h2><p>{escape(say('sheet.all_seen'))}</p></section>"]
    return [f"<h2>{escape(say('sheet.not_seen'))}</h2><ul class='unseen'>{''.join(rows)}</ul>"]


def unseen_said(line: SheetLine, say: Say) -> list[str]:
    """A sentence for each mark that is no look: the parts by name, with their reasons."""
    said = []
    for mark, words in (("could_not_look", "decide.could_not"), ("not_looked", "sheet.not_looked")):
        parts = [
            f"{say(f'part.{part}')} ({', '.join(say(f'reason.{each}') for each in reasons)})".replace(" ()", "")
            for part, of, reasons in line.unseen
            if of == mark
        ]  # fmt: skip
        if parts:
            said.append(say(words, parts=", ".join(parts)))
    for some, words in ((line.not_due, "decide.not_due"), (line.none_here, "decide.none_here")):
        if some:
            said.append(say(words, parts=", ".join(say(f"part.{part}") for part in some)))
    return said


def _came(sheet: ShiftSheet, say: Say) -> str:
    came = sheet.came
    rows = [
        (say("shift.came_counted" if came.how == "counted" else "shift.came"), came.count),
        (say("shift.looked"), came.looked),
    ]
    body = "".join(f"<tr><th>{escape(name)}</th><td>{value}</td></tr>" for name, value in rows)
    named = ", ".join(scope_short(sheet.scopes[key]) for key in came.not_looked)
    lacks = f"<p>{escape(say('shift.not_looked', scopes=named))}</p>" if named else ""
    logs = "".join(f"<p>{escape(line)}</p>" for line in _logged(sheet, say))
    return f"<section><h2>{escape(say('sheet.came'))}</h2><table class='two'>{body}</table>{lacks}{logs}</section>"


def _logged(sheet: ShiftSheet, say: Say) -> list[str]:
    """What logs of washers said, and the scopes they and the looks differ by."""
    logged = sheet.came.logged
    if isinstance(logged, UnsetType):
        return []
    named = {
        "shift.log_not_looked": (logged.not_looked_count, logged.not_looked),
        "shift.log_not_logged": (logged.not_logged_count, logged.not_logged),
    }
    told = [
        say(key, count=count, scopes=", ".join(scope_short(sheet.scopes[scope]) for scope in scopes))
        for key, (count, scopes) in named.items()
        if count
    ]
    rows, lost = sum(each.in_hours for each in logged.files), sum(each.not_placed for each in logged.files)
    head = say("shift.log_closed", count=logged.count, rows=rows, lost=lost, files=_files(logged))
    return [head, *(told or [say("shift.log_same")])]


def _files(logged: ScopesLogged) -> str:
    return ", ".join(each.file[:16] for each in logged.files)


def _sort(each: ShiftException, say: Say) -> str:
    return say(f"shift.sort.{each.sort}", count=each.count)


def _left(sheet: ShiftSheet, say: Say) -> str:
    rows = "".join(
        f"<tr><th>{escape(_sort(each, say) + _which(sheet, each))}</th>"
        f"<td>{escape(_answer(sheet, each, say))}</td></tr>"
        for each in sheet.open
    )
    body = f"<table class='two'>{rows}</table>" if rows else f"<p>{escape(say('sheet.none_left'))}</p>"
    return f"<section><h2>{escape(say('sheet.left'))}</h2>{body}</section>"


def _which(sheet: ShiftSheet, each: ShiftException) -> str:
    """The names of what it is, where it has one that people know."""
    of_root = {line.root: line.scope for line in sheet.lines}
    named = [
        sheet.stations.get(of) if each.sort == "station" else scope_short(scope) if scope else None
        for of in each.of
        for scope in (of_root.get(of) or sheet.scopes.get(of),)
    ]
    known = [name for name in named if name]
    return f" ({', '.join(known)})" if known else ""


def _answer(sheet: ShiftSheet, each: ShiftException, say: Say) -> str:
    reason = "" if each.reason is UNSET else str(each.reason)
    if each.answer == "without":
        said = say("shift.closed_without", reason=reason)
    elif sheet.closing is None and each.answer == "unanswered":
        return say("sheet.no_answer")
    else:
        owner = say("shift.next_lead") if each.owner is UNSET else sheet.names.get(str(each.owner), str(each.owner))
        said = say("shift.carried_to", who=owner) + (f": {reason}" if reason else "")
    by = "" if each.by is UNSET else sheet.names.get(str(each.by), str(each.by))
    return f"{said} · {by}" if by else said


def _pictures(sheet: ShiftSheet, say: Say, address: str) -> list[str]:
    figures = [
        figure_html(shown, f"{scope_short(line.scope)} · {finding_said(found, say)}", sheet, say, address)
        for line in sheet.lines
        for found in line.findings
        for shown in found.photos
    ]
    return [f"<h2>{escape(say('sheet.pictures'))}</h2>", photos_html(figures)] if figures else []


def _proof(sheet: ShiftSheet, say: Say) -> str:
    closing = sheet.closing
    printed = say("sheet.printed", time=f"{_local(sheet, sheet.now_ms):%Y-%m-%d %H:%M}")
    cautions = " ".join(say(each) for each in ("caution.instructions", "caution.not_diagnosis"))
    if closing is None:
        return f"<section class='proof'><p>{escape(' '.join([say('sheet.no_proof'), printed, cautions]))}</p></section>"
    at = datetime.fromisoformat(closing.at).astimezone(ZoneInfo(sheet.zone))
    who = sheet.names.get(closing.person, closing.person)
    heads = " · ".join(
        f"{sheet.chains.get(head.chain, say('desk.server'))} {head.seq} {head.hash[:16]}" for head in closing.body.heads
    )
    note = closing.body.note if isinstance(closing.body.note, str) else ""
    lines = [
        f"<p><b>{escape(say('shift.closed_by', name=who, time=f'{at:%Y-%m-%d %H:%M}'))}</b> "
        f"{escape(say(f'shift.meaning.{closing.body.meaning}'))}</p>",
        *([f"<p>“{escape(note)}”</p>"] if note else []),
        *(f"<p>{escape(_noted(sheet, each.person, each.at, each.entries, say))}</p>" for each in sheet.noted),
        f"<p class='mono digest'>{escape(say('sheet.digest'))} {closing.version}</p>",
        f"<p class='mono'>{escape(heads)}</p>",
        f"<p class='small'>{escape(printed)} {escape(cautions)}</p>",
        f"<p class='ink'>{escape(say('sheet.ink'))}</p>",
    ]
    code = code_html(proof_code(closing.version), say("sheet.code"))
    return f"<section class='proof'>{code}<div>{''.join(lines)}</div></section>"


def proof_code(closing: str) -> str:
    """What the code on the sheet says: that a closing has this hash. Held against the log or an export by anybody."""
    return f"shift.closed {closing}"


def _noted(sheet: ShiftSheet, person: str, at: str, count: int, say: Say) -> str:
    local = datetime.fromisoformat(at).astimezone(ZoneInfo(sheet.zone))
    return say("shift.noted", count=count, name=sheet.names.get(person, person), time=f"{local:%Y-%m-%d %H:%M}")


# ---------------------------------------------------------------- the same lines as a table


def sheet_table(sheet: ShiftSheet, say: Say) -> Table:
    """One row an inspection, as the page has them; hidden photos are counted, never named."""
    texts = ("scope", "serial", "kind", "point", "people", "state")
    columns = [
        Column("begun", say("sheet.head.begun"), "moment"),
        *(Column(name, say(f"sheet.column.{name}")) for name in texts),
        *(Column(mark, say(f"mark.{mark}"), "number") for mark in MARKS),
        Column("findings", say("sheet.head.findings")),
        Column("not_seen", say("sheet.not_seen")),
        Column("photos", say("sheet.head.photos"), "number"),
        Column("photos_waiting", say("sheet.total.photos_waiting"), "number"),
        Column("first", say("sheet.head.first")),
        Column("goes", say("sheet.head.goes")),
        Column("inspection", say("sheet.column.inspection")),
    ]
    rows: list[list[Cell]] = [
        [
            line.begun_ms, scope_short(line.scope), line.scope.serial or line.scope.key,
            say(f"kind.{line.scope.scope_kind}") if line.scope.scope_kind else "", say(f"point.{line.point}"),
            ", ".join(sheet.names.get(each, each) for each in line.people), line.state,
            *(line.counts.get(mark, 0) for mark in MARKS),
            "; ".join(finding_said(each, say) for each in line.findings), " ".join(unseen_said(line, say)),
            line.photos, line.waiting, first_said(line, say), goes_said(line, say), line.root,
        ]
        for line in sheet.lines
    ]  # fmt: skip
    about = {
        say("sheet.title"): _when(sheet, say),
        say("sheet.column.record"): completeness(sheet, say),
        say("sheet.digest"): sheet.closing.version if sheet.closing else say("sheet.no_proof"),
        say("sheet.column.rows"): str(len(rows)),
        say("sheet.column.made"): f"{_local(sheet, sheet.now_ms):%Y-%m-%d %H:%M} {sheet.zone}",
    }
    return Table(file_name(sheet.shift), columns, rows, about, sheet.zone)


def file_name(shift: str) -> str:
    """A shift's name as a file's."""
    return file_stem("shift", shift)


def file_stem(sort: str, name: str) -> str:
    """A name as a file's: letters and digits of ASCII, and dashes."""
    kept = "".join(each if each.isascii() and each.isalnum() else "-" for each in name).lower()
    return "-".join([sort, *filter(None, kept.split("-"))])[:80]
