"""Repairs that stand: what asks for a lead's word first, then what is opened, each with all that was said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from sqlalchemy import Connection, text

from loupebook.log.asking import ask_values
from loupebook.reading.board import HELD
from loupebook.reading.custody import holder_shown, outside, sort_of
from loupebook.reading.loans import for_shown, instead_shown, loaner_row, ties_of
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.repairs.tables import custody_events
from loupebook.repairs.tables.repairs import Said, in_hand, told_of
from loupebook.rules.custody import Custody, custody_of
from loupebook.rules.policy import suggest
from loupebook.rules.repair import Repair, differs, out_fact
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

Row = dict[str, object]
NOT_OF_A_REPAIR = ("test_held", "loaner_in", "loaner_noted", "loaner_out")
LEFT = text("SELECT DISTINCT scope FROM repair_words WHERE what = 'shipped' AND scope <> ''")
SPOKEN = text("SELECT DISTINCT scope FROM repair_words WHERE scope <> ''")


def repairs(connection: Connection, sources: Sources) -> Row:
    """Every repair that stands: those a lead must say something of first, of each sort the longest there first.

    `instead`: what stands in for it. `loaners`: the scopes that are here on loan, the one that came first before the
    others; `for` is the scope it stands in for. `handed`: who outside took it since its repair stands.
    """
    keys = [str(key) for key in ask_values(connection, SPOKEN)]
    told = told_of(connection, keys)
    wanted = [key for key in keys if told[key].repair or told[key].loaner]
    ties = ties_of(told)
    known = scopes_known(connection, list(dict.fromkeys([*wanted, *(tie.scope for tie in ties.values())])))
    custody = custody_events(connection, wanted)
    held = {str(key) for key in ask_values(connection, HELD)}
    policy, now_ms = sources.policy(connection), sources.now_ms()
    stands = [(key, repair) for key in wanted if (repair := told[key].repair)]
    since = {key: repair.since_ms for key, repair in stands}
    handed = outside(connection, sources, {key: custody[key] for key in since}, since)
    lent = [(key, loaner) for key in wanted if (loaner := told[key].loaner)]
    return {
        "rows": [
            repair_row(known[key], repair, told[key].words, custody_of(custody[key]))
            | {"over": over_of(policy, repair, told[key].words, known[key].scope_kind or "", now_ms)}
            | {"instead": instead_shown(key, ties, known, told), "handed": handed[key], "held": key in held}
            for key, repair in sorted(stands, key=lambda each: (_turn(each[1]), each[1].since_ms, each[0]))
        ],
        "loaners": [
            loaner_row(known[key], loaner, told[key].words, for_shown(ties.get(key), known, told))
            for key, loaner in sorted(lent, key=lambda each: (each[1].since_ms, each[0]))
        ],
        "people": [person_shown(person) for person in sources.people(connection)],
    }


def overdue(connection: Connection, sources: Sources) -> list[Row]:
    """What is out for repair past the day it was expected, or past the facility's limit; the longest out first."""
    keys = [str(key) for key in ask_values(connection, LEFT)]
    told = told_of(connection, keys)
    out = {key: each for key, each in told.items() if each.repair is not None and each.repair.stage == "out"}
    known, policy, now_ms = scopes_known(connection, list(out)), sources.policy(connection), sources.now_ms()
    today = datetime.fromtimestamp(now_ms / 1000, ZoneInfo(sources.facility().zone)).date().isoformat()
    rows: list[tuple[int, Row]] = []
    for key, each in out.items():
        assert each.repair is not None
        left = min(word.event.at_ms for word in each.words if word.event.entry in each.repair.shipments)
        late = late_of(each.repair, each.words, today)
        if not late and over_of(policy, each.repair, each.words, known[key].scope_kind or "", now_ms):
            late = "limit"
        if late:
            rows.append((left, {"scope": scope_shown(known[key]), "since_ms": left, "late": late}))
    return [row for _, row in sorted(rows, key=lambda each: each[0])]


def late_of(repair: Repair, words: Sequence[Said], today: str) -> str:
    """day: past the newest day that was said for its return. Days are YYYY-MM-DD of the facility."""
    said = sorted(
        (word for word in in_hand(words) if word.event.what == "noted" or word.event.entry in repair.shipments),
        key=lambda word: (word.event.at_ms, word.event.entry),
    )
    days = [str(word.event.said["expected_back"]) for word in said if word.event.said.get("expected_back")]
    return "day" if days and days[-1] < today else ""


def repair_row(scope: ScopeKnown, repair: Repair, words: Sequence[Said], custody: Custody) -> Row:
    """One repair with its words in order, who has the scope now, and what came back otherwise than it left."""
    shown: Mapping[str, object] = msgspec.to_builtins(repair)
    ordered = sorted(in_hand(words), key=lambda word: (word.event.at_ms, word.event.entry))
    return {
        "scope": scope_shown(scope),
        **shown,
        "words": [
            {**msgspec.to_builtins(word.event), "inspections": list(word.inspections), "case": list(word.photos)}
            for word in ordered
            if word.event.what not in NOT_OF_A_REPAIR
        ],
        "differs": differs_of(ordered),
        "is": sort_of(custody),
        "holder": holder_shown(custody.holder),
    }


def differs_of(words: Sequence[Said]) -> list[dict[str, object]]:
    """What came back otherwise than it left, by the newest return and the packings of the trip it ends."""
    returned = [word.event for word in words if word.event.what == "returned" and not word.event.undone]
    if not returned:
        return []
    last = returned[-1]
    packed = [word.event.said for word in words if word.event.what == "packed" and word.event.entry in last.over]
    return differs(packed[-1] if packed else {}, last.said)


def over_of(
    policy: Mapping[str, Any] | None, repair: Repair, words: Sequence[Said], scope_kind: str, now_ms: int
) -> list[Row]:
    """The rows of the policy that speak of how long it is out by now: row, whole minutes, since when, source."""
    left = [word.event.at_ms for word in words if word.event.entry in repair.shipments]
    if policy is None or not left:
        return []
    fact = out_fact(min(left), scope_kind, now_ms)
    rows = {row["id"]: row for row in policy["rows"]}
    return [
        {"row": spoken.row, "minutes": fact.get("minutes"), "from_ms": min(left), "source": rows[spoken.row]["source"]}
        for spoken in suggest(policy, [fact]).rows
    ]


def _turn(repair: Repair) -> int:
    return 0 if repair.state == "asked" or repair.undecided else 1 if repair.unconfirmed else 2
