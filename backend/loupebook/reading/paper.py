"""The packet and the label as HTML: the page that a browser prints, and what the PDF is made of. One template for both.

Nothing is fetched: the style stands in the page, photos are named by `/photos/...`, codes are drawn as modules.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from loupebook.reading.packet import Packet
from loupebook.reading.paper_parts import (
    SHEETS,
    Sheet,
    code_html,
    figure_html,
    page_html,
    photos_html,
    rows_html,
)
from loupebook.reading.say import Say
from loupebook.repairs.tables.repairs import Said
from loupebook.rules.repair import ALL, ASKS, INSIDE, OPENS
from loupebook.rules.units import pressure_text

Label = Literal["a6", "100x62"]
LABELS: dict[str, str] = {"a6": "105mm 148mm", "100x62": "100mm 62mm"}
"""ISO 216 A6; a label printer's 62 mm roll cut at 100 mm (common practice)."""

ORANGE = "#ff6a13"
"""Orange-red, with black on it: 29 CFR 1910.1030(g)(1)(i)(C) asks for fluorescent orange or orange-red, or
predominantly so, with lettering and symbols in a contrasting color."""
SYMBOL = Path(__file__).resolve().parents[3] / "shared" / "labels" / "biohazard.json"

STYLE = Path(__file__).with_name("paper.css").read_text("utf-8").replace("LABEL", ORANGE)


def packet_html(packet: Packet, say: Say, sheet: Sheet, address: str = "") -> tuple[str, str]:
    """The page of a packet, and its style. `address` stands before the names of photos."""
    style = f"@page {{ size: {SHEETS[sheet]}; margin: 12mm; }}{STYLE}"
    number = packet.repair.openers[0]
    title = say("paper.title", scope=_name(packet, say))
    parts = [
        "<header><div>",
        f"<h1>{escape(title)}</h1>",
        f"<p>{escape(packet.facility)} · {escape(_day(packet, packet.now_ms))}</p>",
        f'<p class="small mono">R-{number[:8]}</p>',
        f"</div>{code_html(f'LB1:R:{number}', say('paper.code'))}</header>",
        f'<p class="first">{escape(_complete(packet, say))}</p>',
        *_identity(packet, say, address),
        *_wrong(packet, say),
        *_seen(packet, say, address),
        *_done(packet, say),
        *_box(packet, say, address),
        f'<p class="small">{escape(say("caution.instructions"))} {escape(say("caution.nothing_found"))}</p>',
    ]
    return page_html(title, style, parts, ""), style


def label_html(packet: Packet, say: Say, size: Label) -> tuple[str, str]:
    """The label alone, in the size of its printer, and its style."""
    style = f"@page {{ size: {LABELS[size]}; margin: 3mm; }}{STYLE}"
    title = say("repair.label")
    return page_html(title, style, [_label(packet, say)], "sheet a6" if size == "a6" else "sheet"), style


def contaminated_said(packet: Packet, say: Say) -> str:
    """Which parts stay contaminated, by name."""
    ids = packet.repair.contaminated
    if not ids:
        return say("repair.contaminated.none")
    special = {ALL: "repair.contaminated.all", INSIDE: "repair.contaminated.inside"}
    return ", ".join(say(special.get(each, f"part.{each}")) for each in ids)


def _name(packet: Packet, say: Say) -> str:
    scope = packet.scope
    return say("scope.named", kind=say(f"kind.{scope.scope_kind}"), name=scope.tag or scope.serial or scope.key)


def _complete(packet: Packet, say: Say) -> str:
    missing = packet.repair.missing
    if not missing:
        return say("repairs.whole")
    return say("repairs.lacks", items=", ".join(say(f"repair.item.{item}").lower() for item in missing))


def _identity(packet: Packet, say: Say, address: str) -> list[str]:
    scope = packet.scope
    rows = [
        (say("paper.serial"), scope.serial), (say("paper.model"), " ".join(filter(None, (scope.maker, scope.model)))),
        (say("paper.tag"), scope.tag), (say("paper.di"), scope.di),
    ]  # fmt: skip
    photos = [figure_html(shown, say("paper.serial"), packet, say, address) for shown in packet.serial_photos]
    return [f"<section><h2>{escape(say('paper.scope'))}</h2>{rows_html(rows)}{photos_html(photos)}</section>"]


def _wrong(packet: Packet, say: Say) -> list[str]:
    items = []
    for word in packet.said:
        words = str(word.event.said.get("words") or word.event.said.get("reason") or "").strip()
        if word.event.what not in ASKS | OPENS:
            continue
        phone = word.event.said.get("phone") or {}
        lead = _who(packet, str(phone.get("who", "")))
        time = _moment(packet, word.event.at_ms)
        who = say(f"repair.said.{word.event.what}", person=_who(packet, word.event.person), lead=lead, time=time)
        items.append(f"<li>{escape(who)}{': “' + escape(words) + '”' if words else ''}</li>")
    return [f"<section><h2>{escape(say('paper.wrong'))}</h2><ul>{''.join(items)}</ul></section>"]


def _seen(packet: Packet, say: Say, address: str) -> list[str]:
    parts = [f"<h2>{escape(say('paper.seen'))}</h2>"]
    for found in packet.findings:
        place = "" if found.place_mm is None else f" · {found.place_mm / 10:g} cm"
        grade = say(f"grade.{found.grade}").lower()
        words = say("decide.finding", part=say(f"part.{found.part}"), what=say(f"seen.{found.finding}"), grade=grade)
        note = "" if not found.note else f" “{found.note}”"
        rest = escape(f"{place}{note} · {_who(packet, found.person)}")
        photos = [figure_html(shown, words, packet, say, address) for shown in found.photos]
        parts.append(f"<section><p><b>{escape(words)}</b>{rest}</p>{photos_html(photos)}</section>")
    for test in packet.tests:
        measured = [
            pressure_text(test.pressure_pa, test.unit) if test.pressure_pa is not None else "",
            f"{test.held_s} s" if test.held_s is not None else "",
        ]
        result = ", ".join([say(f"paper.test.{test.result}"), *filter(None, measured)])
        rest = escape(f"{result} · {_who(packet, test.person)}")
        parts.append(f"<p><b>{escape(say(f'paper.test.{test.what}'))}:</b> {rest}</p>")
    if not packet.findings and not packet.tests:
        parts.append(f"<p>{escape(say('paper.nothing_seen'))}</p>")
    return parts


def _done(packet: Packet, say: Say) -> list[str]:
    parts = [f"<section><h2>{escape(say('paper.done'))}</h2>"]
    for word in _newest(packet, packet.repair.statements):
        said = word.event.said
        for step in said.get("done", ()):
            how = str(step.get("how") or "")
            parts.append(
                f"<p><b>{escape(say('repair.step.' + step['what']))}</b>{': ' + escape(how) if how else ''}</p>"
            )
        for step in said.get("not_done", ()):
            words = say(
                "paper.could_not",
                step=say("repair.step." + step["what"]).lower(),
                reason=say("reason." + step["reason"]),
            )
            parts.append(f"<p>{escape(words)}</p>")
        by = say(
            "paper.done_by",
            person=_who(packet, str(said.get("processed_by", ""))),
            writer=_who(packet, word.event.person),
            time=_at(packet, str(said.get("processed_at", ""))),
        )
        parts.append(f"<p>{escape(by)}</p>")
    if not packet.repair.statements:
        parts.append(f"<p><b>{escape(say('repair.lacks.decontaminated'))}</b></p>")
    parts.append(_label(packet, say) + "</section>")
    return parts


FIELDS = ("contact", "return_address", "order", "warranty")


def _box(packet: Packet, say: Say, address: str) -> list[str]:
    parts = [f"<section><h2>{escape(say('paper.case'))}</h2>"]
    for word in _newest(packet, packet.repair.packings):
        said = word.event.said
        inside = ", ".join(
            say("repair.contents.one", what=each["what"], count=each["count"]) for each in said.get("accessories", ())
        )
        rows = [
            (say("repair.contents"), inside or say("repair.contents.none")),
            *((say(f"repair.field.{name}"), said.get(name)) for name in FIELDS),
            (say("repair.last_used"), said.get("last_used") or say("paper.not_known")),
            (say("repair.expected_back"), said.get("expected_back")),
            (say("paper.packed_by"), _who(packet, word.event.person)),
        ]
        parts.append(rows_html(rows))
    if not packet.repair.packings:
        parts.append(f"<p><b>{escape(say('repair.lacks.contents'))}</b></p>")
    photos = [figure_html(shown, say("repair.case_photo"), packet, say, address) for shown in packet.case_photos]
    parts.append(f"{photos_html(photos)}</section>")
    return parts


def _label(packet: Packet, say: Say) -> str:
    symbol = json.loads(SYMBOL.read_text("utf-8"))
    done = ", ".join(
        dict.fromkeys(
            say("repair.step." + step["what"]).lower()
            for word in _newest(packet, packet.repair.statements)
            for step in word.event.said.get("done", ())
        )
    )
    lines = [
        f"<b class='word'>{escape(say('repair.label_word')).upper()}</b>",
        f"<p><b>{escape(say('repair.contaminated'))}</b> {escape(contaminated_said(packet, say))}</p>",
        f"<p>{escape(say('repair.label_done', done=done) if done else say('repair.label_done_none'))}</p>",
        f"<p>{escape(_name(packet, say))} · SN <span class='mono'>{escape(packet.scope.serial or '')}</span></p>",
        f"<p class='small'>{escape(packet.facility)} · {escape(say('repair.label_source'))}</p>",
    ]
    box = symbol["box"]
    named = escape(say("repair.label_word"))
    drawn = f"<svg viewBox='0 0 {box} {box}' role='img' aria-label='{named}'><path d='{symbol['d']}'/></svg>"
    return f"<div class='label'>{drawn}<div>{''.join(lines)}</div></div>"


def _newest(packet: Packet, entries: Sequence[str]) -> list[Said]:
    return [word for word in packet.said if word.event.entry in entries]


def _who(packet: Packet, person: str) -> str:
    return packet.names.get(person, person)


def _local(packet: Packet, ms: int) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC).astimezone(ZoneInfo(packet.zone))


def _day(packet: Packet, ms: int) -> str:
    return f"{_local(packet, ms):%Y-%m-%d}"


def _moment(packet: Packet, ms: int) -> str:
    return f"{_local(packet, ms):%Y-%m-%d %H:%M}"


def _at(packet: Packet, moment: str) -> str:
    from loupebook.scopes.tables.values import ms_of

    return _moment(packet, ms_of(moment)) if moment else ""
