"""Acts of every entry about a scope, what a scope is, its steps, holds and their decisions, as rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import (
    STATION_KINDS,
    EntryCorrected,
    EntryWithdrawn,
    HoldDecided,
    HoldPlaced,
    RetentionSet,
    ScopeDescribed,
    ScopeHung,
    ScopeProcessed,
    ScopeReceived,
    ScopeRegistered,
    ScopeTaken,
)
from loupebook.scopes.hold_fold import HOLD_FOLDS, taken_back
from loupebook.scopes.hold_fold import corrected as hold_corrected
from loupebook.scopes.tables import (
    ADD_ACT,
    ADD_CODE,
    ADD_CORRECTED_ACT,
    ADD_DECISION,
    ADD_HOLD,
    ADD_RECORD,
    ADD_SIZES,
    ADD_STEP,
    CORRECT_CODE,
    CORRECT_HOLD,
    CORRECT_RECORD,
    CORRECT_STEP,
    DECIDE_HOLD,
    REPLACE_ACT,
    TOUCH,
    TOUCH_OF,
    WITHDRAW_ACT,
)
from loupebook.scopes.tables.retention import ADD_RETENTION
from loupebook.scopes.tables.values import begun_of, clock_off_ms, given, in_turn, listed, scope_of, when_ms

Row = dict[str, Value]


def _own(counted: Counted) -> Row:
    entry = counted.entry
    return {
        "version": counted.hash,
        "chain": entry.chain,
        "seq": entry.seq,
        "person": entry.person,
        "how": entry.proof.how,
        "proved": entry.proof.where,
        "ticket": given(entry.proof.ticket),
        "build": entry.build,
        "at": entry.at,
        "clock_off_ms": clock_off_ms(entry, counted.received_at),
        "received_at": counted.received_at,
        "changed": counted.changed,
    }


def act(counted: Counted) -> Iterable[Change]:
    """The act itself, and that its scope changed."""
    entry, scope = counted.entry, scope_of(counted.entry)
    own: Row = {
        "entry": counted.hash,
        "kind": entry.kind,
        "begun": begun_of(counted),
        "scope": scope,
        "when_ms": when_ms(entry),
        "builds_on": None,
    }
    yield Change(ADD_ACT, _own(counted) | own)
    if scope:
        yield Change(TOUCH, {"scope": scope, "changed": counted.changed})


def withdrawn(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, EntryWithdrawn)
    yield Change(WITHDRAW_ACT, {"of": body.entry, "by": counted.hash})
    yield Change(TOUCH_OF, {"of": body.entry, "changed": counted.changed})


def corrected(counted: Counted) -> Iterable[Change]:
    """The new version's act, in the place of those before it, and what this feature's own kinds say anew."""
    body = counted.body
    assert isinstance(body, EntryCorrected)
    yield Change(ADD_CORRECTED_ACT, _own(counted) | {"of": body.entry, "builds_on": body.builds_on})
    yield Change(REPLACE_ACT, {"of": body.entry, "by": counted.hash})
    yield Change(TOUCH_OF, {"of": body.entry, "changed": counted.changed})
    yield from _corrected_details(counted, {"of": body.entry})


def _corrected_details(counted: Counted, of: Row) -> Iterable[Change]:
    body = counted.target.body if counted.target else None
    if isinstance(body, ScopeRegistered):
        yield Change(CORRECT_RECORD, _record(counted, body, "registered") | of)
        for code in _codes(body):
            yield Change(CORRECT_CODE, {"version": counted.hash, "code": code} | of)
    elif isinstance(body, HoldPlaced):
        yield Change(CORRECT_HOLD, _placed(counted, body) | of)
    elif isinstance(body, Step):
        yield Change(CORRECT_STEP, _step(counted, body) | of)


def registered(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ScopeRegistered)
    yield from _known(counted, body, "registered")


def described(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ScopeDescribed)
    yield from _known(counted, body, "described")
    if body.channels or body.instructions:
        instructions = _json(body.instructions) if body.instructions else None
        row: Row = {"version": counted.hash, "channels": listed(body.channels), "instructions": instructions}
        yield Change(ADD_SIZES, row)


def _known(counted: Counted, body: ScopeRegistered | ScopeDescribed, source: str) -> Iterable[Change]:
    scope = scope_of(counted.entry)
    yield Change(ADD_RECORD, _record(counted, body, source) | {"scope": scope})
    for code in _codes(body):
        yield Change(ADD_CODE, {"version": counted.hash, "code": code, "scope": scope})


def _json(value: object) -> str:
    return msgspec.json.encode(value).decode()


def _codes(body: ScopeRegistered | ScopeDescribed) -> list[str]:
    """The tag and the other codes, each once."""
    tag = [body.tag] if isinstance(body.tag, str) else []
    return list(dict.fromkeys([*tag, *body.codes]))


def _record(counted: Counted, body: ScopeRegistered | ScopeDescribed, source: str) -> Row:
    whole = body if isinstance(body, ScopeDescribed) else None
    return {
        "version": counted.hash,
        "source": source,
        "chain": counted.entry.chain,
        "seq": counted.entry.seq,
        "scope_kind": body.scope_kind,
        "serial": body.serial,
        "di": given(body.di),
        "maker": given(body.maker),
        "model": given(body.model),
        "tag": given(body.tag),
        "none_here": listed(whole.none_here) if whole else "[]",
        "tube_mm": given(whole.tube_mm) if whole else None,
        "tube_um": given(whole.tube_um) if whole else None,
        "serial_where": given(whole.serial_where) if whole else None,
        "serial_low": body.serial.lower(),
        "tag_low": body.tag.lower() if isinstance(body.tag, str) else "",
    }


def placed(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, HoldPlaced)
    of: Row = {"scope": scope_of(counted.entry), "begun": begun_of(counted)}
    yield Change(ADD_HOLD, _placed(counted, body) | of)


def _placed(counted: Counted, body: HoldPlaced) -> Row:
    return {
        "version": counted.hash,
        "cause": "placed",
        "goes": "hold",
        "reason": body.reason,
        "tag_on": int(body.tag_on),
        "note": given(body.note),
    }


def decided(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, HoldDecided)
    row: Row = {
        "version": counted.hash,
        "hold": body.hold,
        "seq": counted.entry.seq,
        "goes": body.goes,
        "first": body.first,
        "reason": body.reason,
        "over": listed(body.over),
    }
    yield Change(ADD_DECISION, row)
    yield Change(DECIDE_HOLD, {"hold": body.hold, "goes_now": body.goes})
    yield Change(TOUCH_OF, {"of": body.hold, "changed": counted.changed})


def kept_for(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, RetentionSet)
    row: Row = {"version": counted.hash, "seq": counted.entry.seq, "years": given(body.years), "reason": body.reason}
    yield Change(ADD_RETENTION, row)


Step = ScopeReceived | ScopeProcessed | ScopeHung | ScopeTaken
_NAMES: Mapping[type[Step], str] = {
    ScopeReceived: "received",
    ScopeProcessed: "processed",
    ScopeHung: "hung",
    ScopeTaken: "taken",
}


def stepped(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, Step)
    whose: Row = {"scope": scope_of(counted.entry), "when_ms": when_ms(counted.entry)}
    yield Change(ADD_STEP, _step(counted, body) | whose)


def _step(counted: Counted, body: Step) -> Row:
    came = body if isinstance(body, ScopeReceived) else None
    machine = body if isinstance(body, ScopeProcessed) else None
    return {
        "version": counted.hash,
        "step": _NAMES[type(body)],
        "place": body.place,
        "procedure_end": given(came.procedure_end) if came else None,
        "pre_clean": came.pre_clean if came else None,
        "cleaning_begun": given(came.cleaning_begun) if came else None,
        "of_step": given(came.of) if came else None,
        "machine": given(machine.machine) if machine else None,
        "cycle": given(machine.cycle) if machine else None,
    }


_DETAILS: Mapping[str, Fold] = {
    "scope.registered": registered,
    "scope.received": stepped,
    "scope.processed": stepped,
    "scope.hung": stepped,
    "scope.taken": stepped,
    "hold.placed": placed,
    "entry.withdrawn": in_turn(withdrawn, taken_back),
    "scope.described": described,
    "hold.decided": decided,
    "retention.set": kept_for,
    **HOLD_FOLDS,
}

_SERVER_ACTS = (
    "scope.described", "hold.decided", "hold.escalated", "hold.advised", "work.asked", "work.dropped", "serial.read",
    "custody.settled", "repair.opened", "repair.closed", "repair.approved",
    "photo.hidden", "photo.shown_again", "photo.opened", "photo.erasure_asked", "photo.erased",
    "example.chosen", "example.withdrawn", "retention.set",
)  # fmt: skip
"""Server kinds whose person and moment screens show."""

FOLDS: dict[str, Fold] = {
    kind: in_turn(act, _DETAILS[kind]) if kind in _DETAILS else act
    for kind in [*STATION_KINDS, *_SERVER_ACTS]
    if kind != "entry.corrected"
} | {"entry.corrected": in_turn(corrected, hold_corrected)}
"""Acts come first, and this feature before the others: details look at the act of what they correct or end."""
