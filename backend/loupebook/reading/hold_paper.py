"""A hold on one sheet, for those who must hear of it: made of the record alone, without a word that names a patient."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from sqlalchemy import Connection

from loupebook.reading.history import EVER, history
from loupebook.reading.history_paper import (
    at,
    identity,
    last_rows,
    names_in,
    offices,
    scope_said,
    what_said,
    word_said,
)
from loupebook.reading.history_paper import said as row_said
from loupebook.reading.hold import WholeHold, duties_shown, whole_hold
from loupebook.reading.paper_parts import SHEETS, Sheet, figure_html, page_html, photos_html, rows_html
from loupebook.reading.port import Sources
from loupebook.reading.say import Say
from loupebook.reading.sheet import SheetLine, line_of
from loupebook.reading.sheet_paper import STYLE, file_stem, finding_said, opening, page_foot
from loupebook.reading.shift import outcome_of
from loupebook.scopes.tables.known import scopes_known
from loupebook.scopes.tables.values import ms_of

BEFORE = 6
"""How many of the last things that happened to the scope stand on the sheet: it is one page."""
PHOTOS = 3
"""And how many photos of what was found; all of them are in the record."""


@dataclass(frozen=True)
class Summary:
    """All that the sheet says."""

    whole: WholeHold
    line: SheetLine | None
    told: Mapping[str, Any] | None
    """The scope's newest life; nothing where it is not on record."""
    names: Mapping[str, str]
    facility: str
    zone: str
    now_ms: int


def summary_of(connection: Connection, sources: Sources, hold: str) -> Summary | None:
    """The summary of a hold; nothing where there is none."""
    whole = whole_hold(connection, sources, hold)
    if whole is None:
        return None
    key, one = whole.held.scope, whole.one
    line = None
    if one is not None:
        here = sources.photos_here(connection, sorted({photo.sha256 for photo in one.photos}))
        line = line_of(outcome_of(one, sources, here), scopes_known(connection, [one.parts[0].scope]), here)
    told = history(connection, sources, key, EVER, BEFORE, False) if key else None
    facility = sources.facility()
    names = {person.id: person.name for person in sources.people(connection)}
    return Summary(whole, line, told, names, facility.name, facility.zone, sources.now_ms())


def summary_html(summary: Summary, say: Say, size: Sheet, address: str = "") -> tuple[str, str]:
    """The page, and its style."""
    style = f"{page_foot(SHEETS[size], say)}{STYLE}"
    whole, told, zone = summary.whole, summary.told, summary.zone
    scope = scope_said(told["scope"], say) if told else say("hold.paper_scope")
    title = say("hold.paper", scope=scope)
    printed = say("sheet.printed", time=at(summary.now_ms, zone))
    parts = [
        f"<header><h1>{escape(title)}</h1><p>{escape(summary.facility)} · {escape(printed)}</p></header>",
        f'<p class="first">{escape(_why(summary, say))}</p>',
        *_asked(summary, say),
        rows_html(identity(told["scope"], say)) if told else "",
        *_found(summary, say, address),
        *_rows(whole, say),
        *_last(summary, say),
        *_said(summary, say),
        *_before(summary, say),
        *_end(summary, say),
    ]
    return page_html(title, style, parts, "hold"), style


def summary_name(summary: Summary) -> str:
    scope = summary.told["scope"] if summary.told else {}
    return file_stem("hold", str(scope.get("tag") or scope.get("serial") or summary.whole.held.version[:8]))


def _name(summary: Summary, person: str) -> str:
    return summary.names.get(person, person)


def _when(summary: Summary, moment: str) -> str:
    return at(ms_of(moment), summary.zone)


def _why(summary: Summary, say: Say) -> str:
    held = summary.whole.held
    reason = say(f"reason.{held.reason}") if held.reason else say(f"desk.hold.{held.cause}")
    tag = "" if held.tag_on is None else say("desk.tag_on" if held.tag_on else "desk.tag_off")
    who = say("hold.paper_by", name=_name(summary, held.person), time=_when(summary, held.at))
    state = say("hold.paper_stands" if held.standing else "hold.paper_lifted")
    return " · ".join(filter(None, (state, opening(reason), held.note or "", tag, who)))


def _asked(summary: Summary, say: Say) -> list[str]:
    """What is asked of whom: the first thing they read."""
    rows = [
        f"<p><b>{escape(offices(each.said['to'], say))}:</b> “{escape(str(each.said['words']))}” "
        f"({escape(_name(summary, each.person))}, {escape(_when(summary, each.at))})</p>"
        for each in summary.whole.waits
    ]
    return [f"<h2>{escape(say('hold.paper_asked'))}</h2>", *rows] if rows else []


def _found(summary: Summary, say: Say, address: str) -> list[str]:
    line, head = summary.line, f"<h2>{escape(say('sheet.head.findings'))}</h2>"
    if line is None:
        return [head, f"<p>{escape(say('hold.paper_no_look'))}</p>"]
    out = f" · {escape(say('mark.out_of_use'))}"
    found = "".join(
        f"<li><b>{escape(finding_said(each, say))}</b>{out if each.out_of_use else ''}"
        f" · {escape(say('hold.paper_photos', count=len(each.photos)))}</li>"
        for each in line.findings
    )
    figures = [
        figure_html(shown, finding_said(each, say), summary, say, address)
        for each in line.findings
        for shown in each.photos
    ]
    unseen = " ".join(_unseen(line, say)) or say("sheet.all_seen")
    return [
        head,
        f"<ul>{found}</ul>" if found else f"<p>{escape(opening(say('sheet.no_finding_long')))}</p>",
        photos_html(figures[:PHOTOS]),
        f"<p><b>{escape(say('sheet.not_seen'))}:</b> {escape(unseen)}</p>",
    ]


def _unseen(line: SheetLine, say: Say) -> list[str]:
    """The parts that nobody saw, by name, those of one reason together."""
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for part, mark, reasons in line.unseen:
        groups.setdefault((mark, reasons), []).append(say(f"part.{part}"))
    said = []
    for (mark, reasons), parts in groups.items():
        why = ", ".join(say(f"reason.{each}") for each in reasons)
        words = say("decide.could_not" if mark == "could_not_look" else "sheet.not_looked", parts=", ".join(parts))
        said.append(f"{words} ({why})" if why else words)
    for some, key in ((line.not_due, "decide.not_due"), (line.none_here, "decide.none_here")):
        if some:
            said.append(say(key, parts=", ".join(say(f"part.{part}") for part in some)))
    return said


def _rows(whole: WholeHold, say: Say) -> list[str]:
    """What the facility's policy says of it, with its sources, and what nobody may decide otherwise."""
    fixed = f" · {escape(say('hold.paper_fixed'))}"
    rows = "".join(
        f"<tr><th>{escape(opening(str(each['words'] or say('policy.' + str(each['row'])))))}</th>"
        f"<td>{escape(str(each['source']))}{fixed if each['row'] in whole.fixed else ''}</td></tr>"
        for each in whole.spoke
        if each["goes"] in ("hold", "repair") or each["tell"]
    )
    rounds = whole.sent_back
    counts = (("hold.cleanings", rounds.cleanings), ("hold.dryings", rounds.dryings))
    again = [say(key, count=count) for key, count in counts if count]
    if rounds.cleanings_days:
        again.append(say("hold.cleanings_days", count=rounds.cleanings_days, days=whole.days))
    head = f"<h2>{escape(say('hold.paper_policy'))}</h2>"
    said = f"<p>{escape(' '.join(again))}</p>" if again else ""
    return [head, f"<table class='two'>{rows}</table>" if rows else "", said] if rows or again else []


def _last(summary: Summary, say: Say) -> list[str]:
    """The scope's last look and tests; of this hold's own look what stands above is not said again."""
    told = summary.told
    if told is None:
        return []
    last = told["last"]
    own = _is_own(summary, last["look"]["entry"]) if last["look"] else False
    named = {say("history.last_look"), say("history.unseen", count=len(last["look"]["unseen"]))} if own else set()
    rows = last_rows(last, names_in(dict(told)), say, summary.zone)
    return [
        f"<h2>{escape(say('history.last'))}</h2>",
        rows_html([row for row in rows if row[0] not in named]),
    ]


def _is_own(summary: Summary, entry: str) -> bool:
    """Whether this is the hold itself or the look it hangs on: that stands above already."""
    one = summary.whole.one
    return entry == summary.whole.held.version or (one is not None and entry == one.root)


def _said(summary: Summary, say: Say) -> list[str]:
    """What was decided and said of it so far."""
    decided = [
        (ms_of(row["at"]), say("history.decided", goes=say(f"goes.{row['goes']}").lower(), reason=row["reason"],
                               person=_name(summary, row["person"])))
        for row in summary.whole.decisions
    ]  # fmt: skip
    words = [
        (ms_of(each.at), word_said(each.what, each.said, each.person, summary.names, say))
        for each in summary.whole.said
    ]
    rows = "".join(
        f"<li>{escape(at(when, summary.zone))} · {escape(words)}</li>" for when, words in sorted([*decided, *words])
    )
    return [f"<h2>{escape(say('hold.paper_said'))}</h2>", f"<ul>{rows}</ul>"] if rows else []


def _before(summary: Summary, say: Say) -> list[str]:
    told, zone = summary.told, summary.zone
    before = [row for row in told["rows"] if not _is_own(summary, row["entry"])] if told else []
    if told is None or not before:
        return []
    names = names_in(dict(told))
    rows = "".join(
        f"<tr><td>{at(row['at_ms'], zone)}</td><td><b>{escape(what_said(row, say))}</b></td>"
        f"<td>{escape(row_said(row, names, say))}</td><td>{escape(names.get(row['person'], row['person']))}</td></tr>"
        for row in before
    )
    head = f"<h2>{escape(say('hold.paper_before', count=len(before)))}</h2>"
    return [head, f"<table class='life'><tbody>{rows}</tbody></table>"]


def _end(summary: Summary, say: Say) -> list[str]:
    duties = duties_shown(summary.whole.held.when_ms, summary.zone)
    dates = say("duties.text", aware=duties["aware"], report=duties["report_by"], keep=duties["keep_until"],
                source=duties["source"])  # fmt: skip
    cautions = " ".join(say(each) for each in ("caution.instructions", "caution.not_diagnosis", "caution.no_patient"))
    return [
        f"<p class='small'><b>{escape(say('duties.lead'))}.</b> {escape(dates)}</p>",
        f"<p class='small'>{escape(cautions)}</p>",
        f"<p class='mono'>{escape(say('hold.paper_entry'))} {summary.whole.held.version}</p>",
    ]
