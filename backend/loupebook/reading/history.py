"""One scope's whole life on one line of time, and the one answer an auditor asks for first. Nothing here judges.

Each source is read newest first from its own index, and no further than the page needs; what a lead must find in ten
years (turning points) can be asked for alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, bindparam, text

from loupebook.inspections.rules import FAILED, TESTS
from loupebook.inspections.tables.hidden import hidden_now
from loupebook.inspections.tables.laid import laid_over, shown_over
from loupebook.inspections.tables.stands import STANDS, Inspection, inspections
from loupebook.log.asking import ask, ask_by_name, ask_one, ask_values
from loupebook.reading.custody import handed, holder_shown, scope_row
from loupebook.reading.loans import gone_otherwise
from loupebook.reading.page import left_of
from loupebook.reading.port import Sources
from loupebook.reading.shift import Outcome, outcome_of
from loupebook.reading.shown import Names, by_shown, names_of, person_shown, row_shown, scope_shown
from loupebook.repairs.tables import custody_events
from loupebook.repairs.tables.repairs import repair_words
from loupebook.rules.custody import custody_of
from loupebook.scopes.tables.asked import answers_of, asked_about, said_of
from loupebook.scopes.tables.known import described, scopes_known
from loupebook.scopes.tables.values import ms_of

Row = dict[str, Any]
MOST = 100
EVER = 2**62

_ROOTS = (
    "SELECT d.root, d.when_ms FROM inspection_parts d JOIN acts a ON a.version = d.version "
    f"WHERE d.scope = :scope AND d.root = d.begun AND d.practice = 0 AND d.when_ms < :before AND {STANDS} {{turning}}"
    "ORDER BY d.when_ms DESC, d.begun LIMIT :most"
)
LOOKS = text(_ROOTS.format(turning=""))
TURNING = text(
    _ROOTS.format(
        turning="AND (d.point = 'acceptance' OR EXISTS (SELECT 1 FROM endings e JOIN acts b ON b.version = e.version "
        "WHERE e.begun = d.begun AND e.goes IN ('hold', 'repair') AND b.replaced_by IS NULL "
        "AND b.withdrawn_by IS NULL)) "
    )
)
"""Accepted, put on hold, sent to repair: all looks of the scope are visited, and nothing else of them is read."""
STEPS = text(
    "SELECT a.entry, d.step, d.when_ms, d.place, d.machine, d.cycle, a.person, a.chain FROM scope_steps d "
    f"JOIN acts a ON a.version = d.version WHERE d.scope = :scope AND d.when_ms < :before AND {STANDS} "
    "ORDER BY d.when_ms DESC, d.version LIMIT :most"
)
_HOLD = (
    "SELECT d.version, d.begun, d.cause, d.goes, d.reason, d.note, d.tag_on, d.standing, a.person, a.chain, a.when_ms"
)
HOLDS = text(
    f"{_HOLD} FROM holds d JOIN acts a ON a.version = d.version WHERE d.scope = :scope AND d.begun = '' AND {STANDS}"
)
HOLDS_IN = text(
    f"{_HOLD} FROM holds d JOIN acts a ON a.version = d.version WHERE d.begun IN :begun AND {STANDS}"
).bindparams(bindparam("begun", expanding=True))
DECIDED = text(
    "SELECT d.hold, d.goes, d.first, d.reason, a.person, a.when_ms FROM hold_decisions d "
    "JOIN acts a ON a.version = d.version WHERE d.hold IN :holds ORDER BY d.seq"
).bindparams(bindparam("holds", expanding=True))
RECORDS = text(
    "SELECT a.version, d.source, a.person, a.chain, a.when_ms FROM scope_records d "
    f"JOIN acts a ON a.version = d.version WHERE d.scope = :scope AND {STANDS}"
)


def history(connection: Connection, sources: Sources, key: str, before: int, most: int, turning: bool) -> Row | None:
    """The whole answer of `GET /lead/history`: a page of `most` things before a moment (ms UTC), newest first."""
    scope = scopes_known(connection, [key])[key]
    if scope.on_record == "unknown":
        return None
    stations = sources.stations(connection)
    names = names_of(connection, sources, stations)
    asked = {"scope": key, "before": before, "most": most + 1}
    looks = ask(connection, TURNING if turning else LOOKS, asked)
    outcomes = _outcomes(connection, sources, [str(root) for root, _ in looks])
    custody = custody_events(connection, [key])[key]
    photos = {} if turning else handed(connection, sources, [each.entry for each in custody if each.what == "accepted"])
    steps = [] if turning else ask_by_name(connection, STEPS, asked)
    rows = [
        *(_look(each, names) for each in outcomes),
        *(_step(row, names) for row in steps),
        *_holds(connection, key, [part.begun for each in outcomes for part in each.one.parts], names),
        *_repairs(connection, key),
        *([] if turning else _asked(connection, key)),
        *([] if turning else ({"what": "custody", "said": each.what, "at_ms": each.at_ms, "person": each.person,
                               "entry": each.entry, "holder": holder_shown(each.holder),
                               "photos": photos.get(each.entry, [])} for each in custody)),
        *(_record(row, names) for row in ask_by_name(connection, RECORDS, {"scope": key})),
    ]  # fmt: skip
    newest = sorted((row for row in rows if row["at_ms"] < before), key=lambda row: (-row["at_ms"], row["entry"]))
    shown = newest[:most]
    shown += [row for row in newest[most:] if row["at_ms"] == shown[-1]["at_ms"]]
    return {
        "position": sources.position(connection),
        "facility": sources.facility().name,
        "scope": scope_shown(scope) | described(scope),
        "where": scope_row(custody_of(custody), custody, {}),
        "last": last_look(connection, sources, key, names, outcomes),
        "rows": shown,
        "more": len(newest) > len(shown) or max(len(looks), len(steps)) > most,
        "people": [person_shown(person) for person in sources.people(connection)],
    }


def _outcomes(connection: Connection, sources: Sources, roots: Sequence[str]) -> list[Outcome]:
    found = inspections(connection, roots)
    here = sources.photos_here(connection, sorted({photo.sha256 for one in found for photo in one.photos}))
    return [outcome_of(one, sources, here) for one in found]


def _look(each: Outcome, names: Names) -> Row:
    head = each.one.parts[0]
    return {
        "what": "look",
        "at_ms": head.when_ms,
        "entry": each.one.root,
        "person": head.person,
        "station": names.station(head.chain),
        "point": head.point,
        "state": each.state,
        "first": each.first,
        "goes": each.goes,
        "out_of_use": each.out_of_use,
        "counts": dict(each.counts),
        "findings": [
            {"part": row.part, "finding": row.finding, "grade": row.grade, "since": row.since, "place_mm": row.place_mm,
             "out_of_use": row.part in {stop.id for stop in each.stops if stop.out_of_use}}
            for row in each.one.findings
        ],
        "failed": [row.what for row in each.one.readings if row.what in TESTS and row.result in FAILED],
        "photos": each.photos,
    }  # fmt: skip


def _step(row: Mapping[Any, Any], names: Names) -> Row:
    told = {name: row[name] for name in ("entry", "step", "place", "machine", "cycle", "person")}
    return told | {"what": "step", "at_ms": row["when_ms"], "station": names.station(row["chain"])}


def _holds(connection: Connection, key: str, begun: Sequence[str], names: Names) -> list[Row]:
    """Holds of these inspections and those outside of any, each with how leads decided it."""
    found = ask_by_name(connection, HOLDS, {"scope": key})
    if begun:
        found += ask_by_name(connection, HOLDS_IN, {"begun": list(begun)})
    decided: dict[str, list[Row]] = {row["version"]: [] for row in found}
    if found:
        for hold, goes, first, reason, person, at_ms in ask(connection, DECIDED, {"holds": list(decided)}):
            decided[hold].append({"goes": goes, "first": first, "reason": reason, "person": person, "at_ms": at_ms})
    words = said_of(connection, list(decided))
    return [
        {name: row[name] for name in ("cause", "goes", "reason", "note", "person")}
        | {"what": "hold", "at_ms": row["when_ms"], "entry": row["version"], "standing": bool(row["standing"])}
        | {"tag_on": None if row["tag_on"] is None else bool(row["tag_on"]), "station": names.station(row["chain"])}
        | {"decided": decided[row["version"]]}
        | {"said": [{"what": each.what, "said": each.said, "person": each.person} for each in words[row["version"]]]}
        for row in found
    ]


def _repairs(connection: Connection, key: str) -> list[Row]:
    words = repair_words(connection, [key])[key]
    return [
        {"what": "repair", "said": word.event.what, "at_ms": word.event.at_ms, "person": word.event.person,
         "entry": word.event.entry, "words": _words(word.event.said),
         "differs": gone_otherwise(words, word.event) if word.event.what == "loaner_out" else []}
        for word in words
        if not word.event.undone
    ]  # fmt: skip


def _words(said: Mapping[str, Any]) -> object:
    """In somebody's words, why, or whose it is; None where nothing of it is said."""
    return next((said[name] for name in ("words", "reason", "owner") if said.get(name)), None)


def _asked(connection: Connection, key: str) -> list[Row]:
    """What people were asked to do themself about this scope, and what came of it."""
    found = asked_about(connection, key)
    answers = answers_of(connection, [each.entry for each in found])
    return [
        {"what": "asked", "asked": each.what, "at_ms": ms_of(each.at), "person": each.person, "entry": each.entry,
         "to": each.to, "reason": each.reason, "open": each.open, "drawn": each.drawn is not None,
         "answers": [{"did": row.did, "person": row.person, "words": row.words} for row in answers[each.entry]]}
        for each in found
    ]  # fmt: skip


def _record(row: Mapping[Any, Any], names: Names) -> Row:
    return {
        "what": "record", "said": row["source"], "at_ms": row["when_ms"], "person": row["person"],
        "entry": row["version"], "station": names.station(row["chain"]),
    }  # fmt: skip


# ---------------------------------------------------------------- what an auditor asks first

NEWEST = text(
    "WITH RECURSIVE w(what) AS (SELECT min(what) FROM readings WHERE scope = :scope UNION ALL "
    "SELECT (SELECT min(what) FROM readings WHERE scope = :scope AND what > w.what) FROM w WHERE w.what IS NOT NULL) "
    "SELECT w.what, (SELECT json_group_array(json(l.told)) FROM (SELECT json_array(d.when_ms, d.result, d.pressure_pa, "
    "d.held_s, d.value_thousandths, d.limit_thousandths, d.unit, d.meter, d.lot, a.person, a.entry, a.chain, d.begun, "
    "d.reason) AS told FROM readings d JOIN acts a ON a.version = d.version "
    f"WHERE d.scope = :scope AND d.what = w.what AND {STANDS} ORDER BY d.when_ms DESC, d.version LIMIT :most) l) "
    "FROM w WHERE w.what IS NOT NULL"
)
"""From one sort of reading to the next by the index, and of each the newest: never all readings of a scope."""
FIELDS = (
    "at_ms", "result", "pressure_pa", "held_s", "value_thousandths", "limit_thousandths", "unit", "meter", "lot",
    "person", "entry", "chain", "begun", "reason",
)  # fmt: skip


def readings_of(connection: Connection, key: str, most: int) -> dict[str, list[Row]]:
    """By what was read, its newest readings of a scope, newest first."""
    told = ask(connection, NEWEST, {"scope": key, "most": most})
    return {
        what: [dict(zip(FIELDS, row, strict=True)) for row in msgspec.json.decode(rows, type=list[list[Any]])]
        for what, rows in told
    }


def last_look(connection: Connection, sources: Sources, key: str, names: Names, read: Sequence[Outcome] = ()) -> Row:
    """The last look, leak test and every measured test: who, when, with what, and what was not seen, by name.

    `read`: looks that were read already; the last is mostly among them.
    """
    newest = {what: rows[0] for what, rows in readings_of(connection, key, 1).items() if rows}
    wanted = {
        what: row | {"station": names.station(row["chain"]), "failed": row["result"] in FAILED}
        for what, row in newest.items()
        if what in TESTS or row["result"] in ("value", "could_not_test")
    }
    row = ask_one(connection, LOOKS, {"scope": key, "before": EVER, "most": 1})
    root = None if row is None else str(row[0])
    found = [each for each in read if each.one.root == root]
    if root is not None and not found:
        found = _outcomes(connection, sources, [root])
    return {"look": _last(found[0], names) if found else None, "readings": wanted}


def _last(each: Outcome, names: Names) -> Row:
    one: Inspection = each.one
    left = left_of(one)
    unseen = [
        {"part": stop.id, "mark": stop.mark,
         "reasons": [*(getattr(row, "reason", None) for row in stop.marks if getattr(row, "reason", None)),
                     *left.get(stop.id, ())]}
        for stop in each.stops
        if stop.mark in ("not_looked", "could_not_look")
    ]  # fmt: skip
    tools = {row.borescope for row in one.runs if row.borescope} | {row.tool for row in one.marks if row.tool}
    return _look(each, names) | {
        "people": list(dict.fromkeys(part.person for part in one.parts)),
        "by": by_shown(one.parts[0], names),
        "tools": sorted(tools),
        "unseen": unseen,
        "not_due": [stop.id for stop in each.stops if stop.mark == "not_due"],
        "none_here": [stop.id for stop in each.stops if stop.mark == "none_here"],
        "channels": [row_shown(row, names) for row in one.runs],
        "ended_ms": max((ms_of(end.at) for end in one.endings), default=None),
    }


# ---------------------------------------------------------------- one part through time

PARTS = text(
    "WITH RECURSIVE w(part) AS (SELECT min(part) FROM photos_of WHERE scope = :scope AND part > '' UNION ALL "
    "SELECT (SELECT min(part) FROM photos_of WHERE scope = :scope AND part > w.part) FROM w WHERE w.part IS NOT NULL) "
    "SELECT part FROM w WHERE part IS NOT NULL"
)
THROUGH = text(
    "SELECT d.sha256, d.when_ms, d.begun, d.width, d.height, d.taken, a.person, a.chain, "
    "(SELECT p.root FROM inspection_parts p WHERE p.begun = d.begun LIMIT 1) AS root "
    "FROM photos_of d JOIN acts a ON a.version = d.version "
    f"WHERE d.scope = :scope AND d.part = :part AND a.withdrawn_by IS NULL AND NOT {hidden_now('d.sha256')} "
    "ORDER BY d.when_ms DESC, d.version LIMIT :most"
)
SEEN = text(
    "SELECT d.begun, d.finding, d.grade, d.since FROM findings d JOIN acts a ON a.version = d.version "
    f"WHERE d.scope = :scope AND d.part = :part AND {STANDS} ORDER BY d.when_ms DESC LIMIT :most"
)
MOST_PHOTOS = 60
MOST_READINGS = 120


def through_time(connection: Connection, sources: Sources, key: str, part: str, most: int = MOST_PHOTOS) -> Row:
    """One part's photos, the newest that are not hidden, each with what was found then, what lies over it, and how it
    was taken; the readings as series."""
    asked = {"scope": key, "part": part, "most": most}
    named = [dict(row) for row in ask_by_name(connection, THROUGH, asked)]
    # Named twice in one inspection, as a file picked twice is, it is one photo: as it was named last.
    photos = list({(row["sha256"], row["begun"]): row for row in reversed(named)}.values())[::-1]
    seen: dict[str, list[Row]] = {}
    for begun, finding, grade, since in ask(connection, SEEN, asked):
        seen.setdefault(begun, []).append({"finding": finding, "grade": grade, "since": since})
    shas = sorted({photo["sha256"] for photo in photos})
    here, over = sources.photos_here(connection, shas), laid_over(connection, shas)
    names = names_of(connection, sources, sources.stations(connection))
    readings = readings_of(connection, key, MOST_READINGS)
    return {
        "part": part,
        "parts": ask_values(connection, PARTS, {"scope": key}),
        "photos": [
            photo
            | {
                "here": photo["sha256"] in here,
                "findings": seen.get(photo["begun"], []),
                "taken": None if photo["taken"] is None else msgspec.json.decode(photo["taken"]),
                "station": names.station(photo.pop("chain")),
            }
            | shown_over(over, photo["sha256"])
            for photo in photos
        ],
        "series": {
            what: [{name: row[name] for name in FIELDS if name not in ("chain", "begun")} for row in reversed(rows)]
            for what, rows in readings.items()
            if any(row["value_thousandths"] is not None or row["pressure_pa"] is not None for row in rows)
        },
    }


def photos_of(connection: Connection, sources: Sources, key: str, most: int = MOST_PHOTOS) -> list[Row]:
    """The newest photos of each part of a scope that are here and not hidden, `most` of one part, each with its part
    and what was found then: what goes along when its history leaves as a file."""
    found = []
    for part in ask_values(connection, PARTS, {"scope": key}):
        told = through_time(connection, sources, key, part, most)["photos"]
        found += [photo | {"part": part} for photo in told if photo["here"]]
    return found
