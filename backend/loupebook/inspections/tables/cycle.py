"""The newest steps and concluded looks of scopes, as the events that the rules of the cycle read. Judges nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.stands import STANDS
from loupebook.log.asking import ask
from loupebook.rules.cycle import Event
from loupebook.scopes.tables.values import ms_of

MOST = 12
"""Steps, and looks, of a scope that are read: more than a cycle has (received, begun, processed, hung, taken)."""

_ACT = "JOIN acts a ON a.version = d.version JOIN acts o ON o.version = a.entry"
"""A correction stands in its chain where the entry does that it corrects."""
_NEWEST = f"ORDER BY d.when_ms DESC, d.version LIMIT {MOST}"
STEPS = text(
    "SELECT w.value, (SELECT json_group_array(json(l.event)) FROM (SELECT json_array(a.entry, d.step, d.when_ms, "
    "o.chain, o.seq, o.received_at, d.place, d.procedure_end, d.cleaning_begun, d.of_step, d.pre_clean, d.machine, "
    f"d.cycle) AS event FROM scope_steps d {_ACT} WHERE d.scope = w.value AND {STANDS} {_NEWEST}) l) "
    "FROM json_each(:scopes) w"
)
LOOKS = text(
    "SELECT w.value, (SELECT json_group_array(json(l.event)) FROM (SELECT json_array(a.entry, p.point, d.when_ms, "
    "o.chain, o.seq, o.received_at, p.root, d.first, d.goes) AS event "
    f"FROM endings d {_ACT} JOIN inspection_parts p ON p.begun = d.begun AND p.version = d.begun "
    f"WHERE d.scope = w.value AND d.ended = 'concluded' AND p.practice = 0 AND {STANDS} {_NEWEST}) l) "
    "FROM json_each(:scopes) w"
)


def cycle_events(
    connection: Connection, keys: Sequence[str], without: str = "", before_ms: int | None = None
) -> dict[str, list[Event]]:
    """Per scope its newest events; `without` leaves out the looks of one inspection, `before_ms` what came later.

    Nothing can have happened after its entry arrived, so a clock that ran ahead counts no later than that.
    """
    if not keys:
        return {}
    scopes = {"scopes": msgspec.json.encode(list(keys)).decode()}
    found: dict[str, list[Event]] = {key: [] for key in keys}
    for scope, rows in ask(connection, STEPS, scopes):
        found[scope] += [_step(*row) for row in msgspec.json.decode(rows, type=list[list[object]])]
    for scope, rows in ask(connection, LOOKS, scopes):
        looks = msgspec.json.decode(rows, type=list[list[object]])
        found[scope] += [_look(*row) for row in looks if row[6] != without]
    if before_ms is None:
        return found
    return {key: [event for event in events if event.at_ms <= before_ms] for key, events in found.items()}


def event_shown(event: Event) -> Mapping[str, object]:
    """An event as it travels: what is not said is left out."""
    return {name: value for name, value in msgspec.to_builtins(event).items() if value not in (None, "")}


def _step(
    entry: object, what: object, when_ms: object, chain: object, seq: object, received_at: object, place: object,
    procedure_end: object, cleaning_begun: object, of: object, pre_clean: object, machine: object, cycle: object,
) -> Event:  # fmt: skip
    return Event(
        entry=str(entry),
        what=str(what),
        at_ms=arrived(when_ms, received_at),
        chain=str(chain),
        seq=_whole(seq),
        place=str(place),
        procedure_end_ms=_moment(procedure_end),
        cleaning_ms=_moment(cleaning_begun),
        of=_text(of),
        pre_clean=_text(pre_clean),
        machine=_text(machine),
        cycle=_text(cycle),
    )


def _look(
    entry: object, point: object, when_ms: object, chain: object, seq: object, received_at: object, _root: object,
    first: object, goes: object,
) -> Event:  # fmt: skip
    return Event(
        entry=str(entry),
        what=str(point),
        at_ms=arrived(when_ms, received_at),
        chain=str(chain),
        seq=_whole(seq),
        first=_text(first),
        goes=_text(goes),
    )


def arrived(when_ms: object, received_at: object) -> int:
    """Nothing happened after its entry arrived: a clock that ran ahead counts no later than that. ms since 1970."""
    return min(_whole(when_ms), ms_of(str(received_at)))


def _moment(value: object) -> int | None:
    return ms_of(value) if isinstance(value, str) else None


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _whole(value: object) -> int:
    assert isinstance(value, int)
    return value
