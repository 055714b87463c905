"""Where scopes stand in their cycle, as all chains say by now: the desk's list, and what a look before use had."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, text

from loupebook.inspections.rules import OpenPoint
from loupebook.inspections.tables.cycle import cycle_events, event_shown
from loupebook.inspections.tables.stands import End, Inspection
from loupebook.log.asking import ask_values
from loupebook.reading.port import Sources
from loupebook.reading.shown import scope_shown
from loupebook.repairs.tables.repairs import ever_said, told_of
from loupebook.rules.cycle import Event, Stand, minutes_of, span_facts, stand_of
from loupebook.rules.policy import FIRSTS, suggest
from loupebook.rules.repair import stops_use
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

SAME_CYCLE_MS = 12 * 3600 * 1000
"""A step older than this says nothing of where the scope is now, unless it is past a limit. Common practice."""

RESTING = ("none", "hung", "before_use", "acceptance")
"""Where a scope waits for nothing."""

KNOWN = text("SELECT scope FROM scope_touched ORDER BY changed DESC LIMIT 2000")
"""Scopes that anything was ever said of; a facility has some hundreds at most."""

Row = dict[str, object]


def waiting(connection: Connection, sources: Sources) -> list[Row]:
    """Scopes that wait for their next step, or are past a limit of the policy in force; the longest first."""
    now_ms = sources.now_ms()
    events = cycle_events(connection, ask_values(connection, KNOWN))
    stands = {scope: stand_of(each, now_ms) for scope, each in events.items() if each}
    known = scopes_known(connection, list(stands))
    policy = sources.policy(connection)
    rows = []
    for scope, stand in sorted(stands.items(), key=lambda each: each[1].since_ms):
        over = past_limits(policy, stand, known[scope].scope_kind or "", now_ms)
        fresh = now_ms - stand.since_ms < SAME_CYCLE_MS and stand.phase not in RESTING
        if over or (fresh and not _with_lead(stand)):
            rows.append(_row(known[scope], stand, over))
    return rows


def _with_lead(stand: Stand) -> bool:
    return stand.last is not None and stand.last.goes in ("hold", "repair") and stand.last.first == "nothing"


def _row(scope: ScopeKnown, stand: Stand, over: list[Row]) -> Row:
    last = stand.last
    return {
        "scope": scope_shown(scope),
        "phase": stand.phase,
        "since_ms": stand.since_ms,
        "place": last.place if last else "",
        "first": last.first if last else None,
        "over": over,
    }


def past_limits(policy: Mapping[str, Any] | None, stand: Stand, scope_kind: str, now_ms: int) -> list[Row]:
    """The rows of a policy that speak of the times that run: span, whole minutes, since when, what they ask for."""
    if policy is None:
        return []
    spans = stand.spans
    rows = {row["id"]: row for row in policy["rows"]}
    return [
        {
            "row": spoken.row,
            "span": spans[spoken.fact].span,
            "minutes": minutes_of(spans[spoken.fact], now_ms),
            "from_ms": spans[spoken.fact].from_ms,
            "first": rows[spoken.row].get("first"),
            "source": rows[spoken.row]["source"],
        }
        for spoken in suggest(policy, span_facts(stand, scope_kind, now_ms)).rows
        if spans[spoken.fact].to_ms is None
    ]


def before_use(connection: Connection, sources: Sources, one: Inspection) -> tuple[Row | None, list[OpenPoint]]:
    """The processing that a look before use leaned on, as known now, and what a lead must look at.

    Nothing here puts an entry aside: a step that arrives late may undo what was right when it was decided.
    """
    head = one.parts[0]
    ends = [end for end in one.endings if end.ended == "concluded"]
    if head.point != "before_use" or not ends:
        return None, []
    last = max(ends, key=lambda end: end.when_ms)
    events = cycle_events(connection, [head.scope], one.root, last.when_ms)[head.scope]
    stand = stand_of(events, last.when_ms)
    shown = _shown(stand.disinfected)
    points = [
        *_undone(one, ends, stand.disinfected),
        *_stopped(connection, one, last),
        *_past(one, last, past_limits(sources.pin(head.policy), stand, head.scope_kind, last.when_ms)),
    ]
    return shown, points


def _shown(event: Event | None) -> Row | None:
    return dict(event_shown(event)) if event is not None else None


def _undone(one: Inspection, ends: list[End], disinfected: Event | None) -> list[OpenPoint]:
    """A decision named a processing that does not hold by what is known now."""
    named = {end.disinfection for end in ends if end.disinfection and end.goes == "on"}
    now = disinfected.entry if disinfected is not None else None
    return [OpenPoint("disinfection_undone", one.root, {"entry": each}) for each in sorted(named) if each != now]


def _stopped(connection: Connection, one: Inspection, end: End) -> list[OpenPoint]:
    """Let go while a repair stood or a loan was not in service, by all that is known now of that moment."""
    if end.goes != "on" or not ever_said(connection, one.parts[0].scope):
        return []
    told = told_of(connection, [one.parts[0].scope], end.when_ms)[one.parts[0].scope]
    why = stops_use(told.repair, told.loaner)
    return [] if why is None else [OpenPoint("use_stopped", one.root, {"entry": end.entry, "why": why})]


def _past(one: Inspection, end: End, over: list[Row]) -> list[OpenPoint]:
    """A limit was past when the scope was let go, and the person was not told so: a step came to be known later."""
    asked = max(FIRSTS.index(each) for each in FIRSTS if each in (end.first, end.suggested_first))
    late = [row for row in over if any(each == row["first"] for each in FIRSTS[asked + 1 :])]
    if not late or end.goes != "on":
        return []
    return [OpenPoint("past_limit", one.root, {"entry": end.entry, "rows": late})]
