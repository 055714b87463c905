"""What the desk is told of a shift: its board, or how it was closed and what came later."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import msgspec
from sqlalchemy import Connection

from loupebook.reading.port import Sources
from loupebook.reading.shift import NEVER, Board, Outcome, board_of
from loupebook.reading.shown import facility_shown, person_shown, scope_shown
from loupebook.reading.today import same_turn, shift_before, shifts_running
from loupebook.record.kinds import ScopesLogged
from loupebook.scopes.tables.known import scopes_known
from loupebook.shifts.rules import BoardRow
from loupebook.shifts.tables import Closing, additions, closings, last_closing, late_of

Row = dict[str, object]


def shift_page(connection: Connection, sources: Sources, name: str = "") -> Row:
    """The whole answer of `GET /lead/shift`: of the shift named, or of the one that runs at the first place."""
    stations = sources.stations(connection)
    running = shifts_running(stations, sources.shift_now)
    shift = name or (running[0] if running else "")
    board = board_of(connection, sources, shift, stations)
    turn = same_turn(stations, shift) if shift.count("/") >= 2 else [shift]
    keys = {key for row in board.rows if isinstance(key := row.about.get("scope"), str)}
    keys |= {each.one.parts[0].scope for each in board.outcomes} | set(board.not_looked)
    closed = board.closing.body.came.logged if board.closing else None
    if isinstance(closed, ScopesLogged):
        keys |= {*closed.not_looked, *closed.not_logged}
    epoch = sources.epoch()
    return {
        "epoch": {"n": epoch.n, "id": epoch.id},
        "position": sources.position(connection),
        "shift": shift,
        "place": board.place,
        "begins_ms": board.begins_ms,
        "ends_ms": board.ends_ms,
        "runs": shift in running,
        "places": sorted(turn),
        "before": _before(connection, sources, board),
        "facility": facility_shown(sources.facility()),
        "counts": msgspec.to_builtins(board.counts),
        "came": msgspec.to_builtins(board.scopes_came()),
        "rows": [_row(row) for row in board.rows],
        "inspections": [_inspection(each) for each in board.outcomes],
        "closed": _closed(connection, board.closing),
        "last": _last(connection, board),
        "scopes": {key: scope_shown(scope) for key, scope in scopes_known(connection, sorted(keys)).items()},
        "stations": {each.id: each.name for each in stations},
        "chains": {chain: each.name for each in stations for chain in each.chains},
        "people": [person_shown(person) for person in sources.people(connection)],
    }


def _before(connection: Connection, sources: Sources, board: Board) -> Row | None:
    """The last shift before this one in which something was begun at its place, and whether it is closed."""
    until = sources.now_ms() if board.begins_ms <= sources.now_ms() else 0
    found = [each.one for each in board.outcomes]
    shift = shift_before(connection, [board.shift], found, min(until, board.begins_ms or until), board.place)
    return {"shift": shift, "closed": shift in closings(connection, [shift])} if shift else None


def _row(row: BoardRow) -> Row:
    return {
        "sort": row.sort,
        "of": row.of,
        "state": row.state,
        "about": dict(row.about),
        "answer": asdict(row.answer) if row.answer else None,
        "before": asdict(row.before) if row.before else None,
    }


def _inspection(each: Outcome) -> Row:
    head = each.one.parts[0]
    return {
        "root": each.one.root,
        "scope": head.scope,
        "point": head.point,
        "at": head.at,
        "people": list(dict.fromkeys(part.person for part in each.one.parts)),
        "state": each.state,
        "first": each.first,
        "goes": each.goes,
        "counts": dict(each.counts),
        "findings": len(each.one.findings),
        "out_of_use": each.out_of_use,
        "photos": each.photos,
        "waiting": each.waiting,
    }


def _closed(connection: Connection, closing: Closing | None) -> Row | None:
    if closing is None:
        return None
    late = late_of(connection, closing)
    return {
        "closing": closing.version,
        "person": closing.person,
        "at": closing.at,
        "body": msgspec.to_builtins(closing.body),
        "late": [asdict(each) for each in late],
        "noted": [asdict(each) for each in additions(connection, closing.version)],
    }


def _last(connection: Connection, board: Board) -> Row | None:
    """The newest closing at the place before this shift is closed: who left what note for it."""
    last = last_closing(connection, board.place, board.closing.changed if board.closing else NEVER)
    if last is None:
        return None
    note = last.body.note if isinstance(last.body.note, str) else None
    return {"shift": last.shift, "closing": last.version, "person": last.person, "at": last.at, "note": note}


def noted_now(connection: Connection, closing: Closing, entries: Sequence[str]) -> bool:
    """Whether each of these entries came after the shift was closed and is noted by nobody yet."""
    return set(entries) <= {each.entry for each in late_of(connection, closing)}
