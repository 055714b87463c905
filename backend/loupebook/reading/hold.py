"""One hold: why the scope waits, what was decided so far, and what nobody may decide otherwise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, text

from loupebook.inspections.rules import Pin, Rounds, Standing, fixed_rows, recleans_days, standing_of
from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.newer import answered
from loupebook.inspections.tables.stands import STANDS, Held, Inspection, inspections
from loupebook.log.asking import ask, ask_by_name, ask_one, ask_value
from loupebook.reading.port import Sources
from loupebook.reading.shown import Names, hold_shown, names_of, person_shown, scope_shown
from loupebook.reading.today import sent_back_before
from loupebook.rules.duties import SOURCE, duties_of
from loupebook.scopes.tables.asked import (
    Answer,
    Asked,
    Said,
    answers_of,
    asked_of,
    confirmed_of,
    said_of,
    unanswered,
    unconfirmed,
)
from loupebook.scopes.tables.known import scopes_known

HOLD = text(
    "SELECT d.version, a.entry, d.scope, d.begun, d.cause, d.goes, d.reason, d.tag_on, d.note, d.decided, d.standing, "
    "a.person, a.chain, a.how, a.proved, a.ticket, a.at, a.when_ms FROM holds d JOIN acts a ON a.version = d.version "
    f"WHERE d.version = :hold AND {STANDS}"
)
ROOT = text("SELECT root FROM inspection_parts WHERE begun = :begun LIMIT 1")
DECISIONS = text(
    "SELECT d.goes, d.first, d.reason, d.over, a.person, a.at FROM hold_decisions d "
    "JOIN acts a ON a.version = d.version WHERE d.hold = :hold ORDER BY d.seq"
)
AUTHOR = text("SELECT person FROM acts WHERE entry = :entry AND withdrawn_by IS NULL ORDER BY seq LIMIT 1")
SEEN = text(
    "SELECT f.part, f.finding, f.grade, f.begun, a.person FROM acts a JOIN findings f ON f.version = a.version "
    "WHERE (a.version = :entry OR (a.entry = :entry AND a.entry <> a.version)) AND a.replaced_by IS NULL "
    "AND a.withdrawn_by IS NULL LIMIT 1"
)
SEEN_IN = text(
    "SELECT DISTINCT p.sha256, p.when_ms FROM photos_of p JOIN acts a ON a.version = p.version WHERE p.begun = :begun "
    "AND (a.entry = :entry OR p.of_finding = :entry OR p.part = :part) AND a.withdrawn_by IS NULL "
    f"AND NOT {hidden_now('p.sha256')} ORDER BY p.when_ms"
)


@dataclass(frozen=True)
class FindingSeen:
    """A finding as it stands: who said what of which part, and the look's photos of it that are not hidden."""

    person: str
    part: str
    finding: str
    grade: str
    photos: Sequence[str]


def author_of(connection: Connection, entry: str) -> str | None:
    """Who wrote an entry that stands."""
    found = ask_value(connection, AUTHOR, {"entry": entry})
    return None if found is None else str(found)


def finding_seen(connection: Connection, entry: str) -> FindingSeen | None:
    """The finding that an entry recorded; nothing where it stands no more."""
    row = connection.execute(SEEN, {"entry": entry}).mappings().first()
    if row is None:
        return None
    given = {"entry": entry, "begun": row["begun"], "part": row["part"]}
    photos = [sha256 for sha256, _ in ask(connection, SEEN_IN, given)]
    return FindingSeen(row["person"], row["part"], row["finding"], row["grade"], photos)


def hold_of(connection: Connection, hold: str) -> Held | None:
    """The hold, where it stands in the record; a decision does not end that."""
    row = ask_one(connection, HOLD, {"hold": hold})
    return None if row is None else Held(*row)


def inspection_of(connection: Connection, hold: Held) -> Inspection | None:
    """The whole inspection a hold hangs on; none where a person placed it outside of one."""
    root = ask_value(connection, ROOT, {"begun": hold.begun}) if hold.begun else None
    found = inspections(connection, [root]) if root else []
    return found[0] if found else None


def fixed_of(connection: Connection, pin: Pin, one: Inspection, standing: Standing | None = None) -> list[str]:
    """The rows that keep its scope from going on, whoever decides, until a newer look or test."""
    head = one.parts[0]
    standing = standing or standing_of(one, pin, sent_back_before(connection, pin, one))
    return fixed_rows(
        standing,
        pin(head.policy),
        lambda fact: answered(connection, head.scope, one.root, head.when_ms, fact),
    )


def duties_shown(when_ms: int, zone: str) -> dict[str, str]:
    """The dates that would run from the day of the hold, if anybody became aware of harm on it, and their source."""
    day = datetime.fromtimestamp(when_ms / 1000, UTC).astimezone(ZoneInfo(zone)).date()
    dates = duties_of(day)
    return {
        "aware": dates.aware.isoformat(),
        "report_by": dates.report_by.isoformat(),
        "keep_until": dates.keep_until.isoformat(),
        "source": SOURCE,
    }


def word_shown(said: Said, names: Names) -> dict[str, object]:
    """A word about a hold: what it is, what it says, who wrote it down, when, where."""
    body = {name: value for name, value in said.said.items() if name not in ("hold", "over")}
    by = {"entry": said.entry, "what": said.what, "person": said.person, "at": said.at, "over": said.over}
    return by | {"station": names.station(said.chain), "said": body}


def work_shown(asked: Asked, answers: Sequence[Answer], first: FindingSeen | None) -> dict[str, object]:
    """What was asked of whom and what came of it. Of a second opinion what was said first, once there is a second."""
    shown = {
        "entry": asked.entry, "what": asked.what, "of": asked.of, "to": asked.to, "parts": asked.parts,
        "reason": asked.reason, "open": asked.open, "drawn": asked.drawn is not None,
        "person": asked.person, "at": asked.at,
    }  # fmt: skip
    told = [
        {"entry": each.entry, "did": each.did, "finding": each.finding, "grade": each.grade, "words": each.words,
         "person": each.person, "at": each.at, "counts": bool(each.counts)}
        for each in answers
    ]  # fmt: skip
    said_first = {"finding": first.finding, "grade": first.grade, "person": first.person} if first else None
    return shown | {"answers": told, "first": said_first}


def _spoke(standing: Standing, policy: Mapping[str, Any] | None) -> list[dict[str, object]]:
    """The rows of the policy that spoke, each with its source and whom it wants told."""
    rows = {row["id"]: row for row in (policy or {}).get("rows", ())}
    spoken = dict.fromkeys(each.row for each in standing.suggested.rows) if standing.suggested else {}
    names = ("first", "goes", "override", "words", "source")
    return [
        {"row": row, "tell": rows[row].get("tell", [])} | {name: rows[row].get(name) for name in names}
        for row in spoken
        if row in rows
    ]


@dataclass(frozen=True)
class WholeHold:
    """A hold with all that was said of it: what its page and its summary are made of."""

    held: Held
    one: Inspection | None
    standing: Standing | None
    fixed: Sequence[str]
    spoke: Sequence[dict[str, object]]
    """Rows of the policy that its inspection pins."""
    sent_back: Rounds
    """How often it was sent back to cleaning, and to drying, before this inspection."""
    days: int | None
    """Over how many days the policy it pins counts cleanings."""
    decisions: Sequence[Mapping[str, Any]]
    said: Sequence[Said]
    by_phone: Sequence[Said]
    """Not confirmed yet."""
    waits: Sequence[Said]
    """Brought before somebody, and nothing came back."""


def whole_hold(connection: Connection, sources: Sources, hold: str) -> WholeHold | None:
    """All of one hold; nothing where there is none."""
    held = hold_of(connection, hold)
    if held is None:
        return None
    one = inspection_of(connection, held)
    sent_back = sent_back_before(connection, sources.pin, one) if one else Rounds()
    standing = standing_of(one, sources.pin, sent_back) if one else None
    said = said_of(connection, [hold])[hold]
    return WholeHold(
        held,
        one,
        standing,
        fixed_of(connection, sources.pin, one, standing) if one else [],
        _spoke(standing, sources.pin(one.parts[0].policy)) if one and standing else [],
        sent_back,
        recleans_days(sources.pin(one.parts[0].policy)) if one else None,
        ask_by_name(connection, DECISIONS, {"hold": hold}),
        said,
        unconfirmed(said, confirmed_of(connection, [hold])[hold]),
        unanswered(said),
    )


def hold_page(connection: Connection, sources: Sources, hold: str) -> dict[str, object] | None:
    """The whole answer of `GET /lead/holds/{hold}`; nothing where there is none."""
    whole = whole_hold(connection, sources, hold)
    if whole is None:
        return None
    held, one = whole.held, whole.one
    of = [hold, *([one.root, *(row.entry for row in one.findings)] if one else [])]
    works = asked_of(connection, of)
    answers = answers_of(connection, [each.entry for each in works])
    firsts = {each.of: finding_seen(connection, each.of) for each in works if each.what == "second_opinion"}
    policy = sources.policy(connection) or {}
    names = names_of(connection, sources, sources.stations(connection))
    return {
        "position": sources.position(connection),
        "hold": hold_shown(held, names),
        "scope": scope_shown(scopes_known(connection, [held.scope])[held.scope]) if held.scope else None,
        "root": one.root if one else None,
        "point": one.parts[0].point if one else None,
        "fixed": whole.fixed,
        "spoke": whole.spoke,
        "sent_back": asdict(whole.sent_back) | {"days": whole.days},
        "decisions": [{name: value for name, value in row.items() if name != "over"} for row in whole.decisions],
        "said": [word_shown(each, names) for each in whole.said],
        "by_phone": [each.entry for each in whole.by_phone],
        "waits": [each.entry for each in whole.waits],
        "asked": [work_shown(each, answers[each.entry], None if each.open else firsts.get(each.of)) for each in works],
        "authors": sorted({row.person for row in one.findings}) if one else [],
        "second_opinion": bool(policy.get("second_opinion", {}).get("on")),
        "duties": duties_shown(held.when_ms, sources.facility().zone),
        "people": [person_shown(person) for person in sources.people(connection)],
    }
