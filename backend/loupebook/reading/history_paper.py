"""One scope's whole life for paper, and as a table: the same rows as the desk's line of time, oldest first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

from loupebook.reading.paper_parts import SHEETS, Sheet, page_html, rows_html
from loupebook.reading.say import Say
from loupebook.reading.sheet_paper import STYLE, file_stem, opening, page_foot, six
from loupebook.reading.table_out import Cell, Column, Table
from loupebook.rules.units import pressure_text

Row = dict[str, Any]


def history_html(told: Row, say: Say, size: Sheet, zone: str, now_ms: int) -> tuple[str, str]:
    """The page, and its style."""
    style = f"{page_foot(SHEETS[size], say)}{STYLE}"
    title = say("history.paper", scope=scope_said(told["scope"], say))
    names = names_in(told)
    rows = "".join(
        f"<tr><td>{at(row['at_ms'], zone)}</td><td><b>{escape(what_said(row, say))}</b></td>"
        f"<td>{escape(said(row, names, say))}</td><td>{escape(names.get(row['person'], row['person']))}</td></tr>"
        for row in reversed(told["rows"])
    )
    head = "".join(f"<th>{escape(say(f'history.head.{name}'))}</th>" for name in ("at", "what", "said", "by"))
    parts = [
        f"<header><h1>{escape(title)}</h1><p>{escape(told['facility'])} · "
        f"{escape(say('sheet.printed', time=at(now_ms, zone)))}</p></header>",
        rows_html(identity(told["scope"], say)),
        *_last(told["last"], names, say, zone),
        f"<h2>{escape(say('history.life', count=len(told['rows'])))}</h2>",
        f"<p>{escape(say('history.pdf_newest', count=len(told['rows'])))}</p>" if told["more"] else "",
        f"<table class='life'><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>",
        f"<p class='small'>{escape(say('caution.instructions'))}</p>",
    ]
    return page_html(title, style, parts, "history"), style


def identity(scope: Row, say: Say) -> list[tuple[str, object]]:
    model = " ".join(filter(None, (scope["maker"], scope["model"])))
    return [
        (say("paper.serial"), scope["serial"]), (say("paper.model"), model), (say("paper.tag"), scope["tag"]),
        (say("paper.di"), scope["di"]),
    ]  # fmt: skip


def scope_said(scope: Row, say: Say) -> str:
    name = scope["tag"] or scope["serial"] or scope["key"]
    return say("scope.named", kind=say(f"kind.{scope['kind']}"), name=name) if scope["kind"] else str(name)


def names_in(told: Row) -> Mapping[str, str]:
    return {person["id"]: person["name"] for person in told["people"]} | {"server": "server"}


def at(ms: int, zone: str) -> str:
    return f"{datetime.fromtimestamp(ms / 1000, UTC).astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"


def what_said(row: Row, say: Say) -> str:
    """What kind of thing it is."""
    if row["what"] == "look":
        return say(f"point.{row['point']}")
    if row["what"] == "step":
        return opening(say(f"step.did.{row['step']}"))
    if row["what"] == "record":
        return say(f"history.record.{row['said']}")
    return say(f"history.what.{row['what']}")


def said(row: Row, names: Mapping[str, str], say: Say) -> str:
    """What it says, in one line."""
    if row["what"] == "look":
        return _look_said(row, say)
    if row["what"] == "step":
        return " · ".join(filter(None, (row["place"], row["machine"], row["cycle"])))
    if row["what"] == "hold":
        decided = [
            say("history.decided", goes=_goes(each["goes"], "", say).lower(), reason=each["reason"],
                person=names.get(each["person"], each["person"]))
            for each in row["decided"]
        ]  # fmt: skip
        reason = say(f"reason.{row['reason']}") if row["reason"] else say(f"history.cause.{row['cause']}")
        words = [word_said(each["what"], each["said"], each["person"], names, say) for each in row["said"]]
        return ". ".join(filter(None, (opening(reason), row["note"], *words, *decided)))
    if row["what"] == "asked":
        return _asked_said(row, names, say)
    if row["what"] == "repair":
        counted = [each for each in row["differs"] if each["what"] == "accessories"]
        gone = [say("loan.differs.accessories", of=e["of"], left=e["left"], came=e["came"]) for e in counted]
        return " · ".join(filter(None, (say(f"history.repair.{row['said']}"), row["words"], *gone)))
    if row["what"] == "custody":
        holder = row["holder"] or {"kind": "house", "name": ""}
        name = say("custody.house") if holder["kind"] == "house" else names.get(holder["name"], holder["name"])
        return say(f"where.tip.{row['said']}", person=names.get(row["person"], row["person"]), holder=name)
    return ""


def _asked_said(row: Row, names: Mapping[str, str], say: Say) -> str:
    to = names.get(row["to"], row["to"]) if row["to"] else say("asked.anybody")
    answers = [
        say(f"asked.did.{each['did']}", person=names.get(each["person"], each["person"]), words=each["words"] or "")
        for each in row["answers"]
    ]
    return ". ".join([say(f"asked.said.{row['asked']}", to=to, reason=row["reason"]), *answers])


def word_said(what: str, said: Mapping[str, Any], person: str, names: Mapping[str, str], say: Say) -> str:
    """A word about a hold beside its decisions, in one sentence."""
    by = names.get(person, person)
    if what == "phoned":
        who = names.get(str(said["phone"]["who"]), str(said["phone"]["who"]))
        goes = say(f"goes.{said['goes']}").lower()
        return say("hold.said.phoned", lead=who, person=by, goes=goes, words=said["words"])
    if what == "escalated":
        return say("hold.said.escalated", person=by, offices=offices(said["to"], say).lower(), words=said["words"])
    return say("hold.said.advised", person=by, by=said["by"], words=said["words"])


def offices(to: Sequence[str], say: Say) -> str:
    """ "Infection prevention, risk management"."""
    return opening(", ".join(say(f"tell.{each}") for each in to))


def _look_said(row: Row, say: Say) -> str:
    if row["state"] != "concluded":
        end = say("desk.abandoned" if row["state"] == "abandoned" else "desk.begun")
    else:
        end = say("decide.do_first", first=say(f"first.{row['first']}"), goes=_goes(row["goes"], row["point"], say))
    found = "; ".join(
        say("decide.finding", part=say(f"part.{each['part']}"), what=say(f"seen.{each['finding']}").lower(),
            grade=say(f"grade.{each['grade']}").lower()) + f", {say('since.' + each['since']).lower()}"
        for each in row["findings"]
    )  # fmt: skip
    failed = [say(f"paper.test.{what}") + ": " + say("sheet.failed_test") for what in row["failed"]]
    return ". ".join(filter(None, (end, opening(found) or say("sheet.no_finding_long"), *failed)))


def _goes(goes: str, point: str, say: Say) -> str:
    if goes != "on":
        return say(f"goes.{goes}")
    return say(f"goes.on.{'before_use_unrecorded' if point == 'before_use' else point}") if point else say("goes.on")


def _last(last: Row, names: Mapping[str, str], say: Say, zone: str) -> list[str]:
    """The one answer an auditor asks for first: last look, tests, who, with what, what was not seen."""
    return [
        f"<section><h2>{escape(say('history.last'))}</h2>",
        rows_html(last_rows(last, names, say, zone)),
        "</section>",
    ]


def last_rows(last: Row, names: Mapping[str, str], say: Say, zone: str) -> list[tuple[str, object]]:
    look = last["look"]
    rows: list[tuple[str, object]] = []
    if look is None:
        rows.append((say("history.last_look"), say("history.never_looked")))
    else:
        who = ", ".join(names.get(each, each) for each in look["people"])
        rows.append(
            (say("history.last_look"),
             " · ".join((at(look["at_ms"], zone), say(f"point.{look['point']}"), who, _look_said(look, say)))),
        )  # fmt: skip
        rows.append((say("history.with"), ", ".join(look["tools"]) or say("history.no_tool")))
        rows.append((say("sheet.marks").rstrip(":"), six(look["counts"])))
        unseen = ", ".join(
            f"{say('part.' + each['part'])} ({say('mark.said.' + each['mark'])}"
            + "".join(f", {say('reason.' + reason)}" for reason in each["reasons"]) + ")"
            for each in look["unseen"]
        )  # fmt: skip
        rows.append((say("history.unseen", count=len(look["unseen"])), unseen or say("sheet.all_seen")))
    readings = last["readings"]
    if "leak_test" not in readings:
        rows.append((say("paper.test.leak_test"), say("history.never_tested")))
    rows += [(reading_named(what, say), reading_said(row, names, say, zone)) for what, row in readings.items()]
    if not any(row["value_thousandths"] is not None for row in readings.values()):
        rows.append((say("history.cleaning_test"), say("history.never_tested")))
    return rows


def reading_named(what: str, say: Say) -> str:
    if what in ("leak_test", "leakage_current"):
        return say(f"paper.test.{what}")
    return say(f"measured.{what}")


def reading_said(row: Row, names: Mapping[str, str], say: Say, zone: str) -> str:
    """When, what it showed with its numbers, with which meter and lot, who."""
    value, limit = row["value_thousandths"], row["limit_thousandths"]
    measured = [
        pressure_text(row["pressure_pa"], row["unit"]) if row["pressure_pa"] is not None else "",
        f"{row['held_s']} s" if row["held_s"] is not None else "",
        f"{value / 1000:g} {row['unit'] or ''}".strip() if value is not None else "",
        say("history.limit", value=f"{limit / 1000:g}") if limit is not None else "",
    ]
    result = "" if row["result"] == "value" else say(f"paper.test.{row['result']}")
    rest = (row["meter"], row["lot"], names.get(row["person"], row["person"]))
    return " · ".join(filter(None, (at(row["at_ms"], zone), result, *measured, *rest)))


def history_table(told: Row, say: Say, zone: str, now_ms: int) -> Table:
    """One row a thing that happened, oldest first, with the entry that says so."""
    names = names_in(told)
    columns = [
        Column("at", say("history.head.at"), "moment"),
        *(Column(name, say(f"history.head.{name}")) for name in ("what", "said", "by", "station", "entry")),
    ]
    rows: list[list[Cell]] = [
        [row["at_ms"], what_said(row, say), said(row, names, say), names.get(row["person"], row["person"]),
         row.get("station"), row["entry"]]
        for row in reversed(told["rows"])
    ]  # fmt: skip
    about = {
        say("sheet.head.scope"): scope_said(told["scope"], say),
        say("paper.serial"): str(told["scope"]["serial"] or ""),
        say("sheet.column.rows"): str(len(rows)),
        say("sheet.column.made"): f"{at(now_ms, zone)} {zone}",
    }
    return Table(history_name(told["scope"]), columns, rows, about, zone)


def history_name(scope: Row) -> str:
    return file_stem("scope", str(scope["tag"] or scope["serial"] or scope["key"]))
