"""Words about holds and what a lead asks of people, as rows. Their acts are written before, in the same fold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import msgspec
from msgspec import UNSET, Struct

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import (
    EntryCorrected,
    EntryWithdrawn,
    HoldAdvised,
    HoldEscalated,
    HoldPhoned,
    WorkAnswered,
    WorkAsked,
    WorkDropped,
)
from loupebook.scopes.tables.asked import (
    ADD_ANSWER,
    ADD_ASKED,
    ADD_SAID,
    CORRECT_ANSWER,
    CORRECT_SAID,
    SETTLE_WORK,
    SETTLE_WORK_OF,
)
from loupebook.scopes.tables.values import given, listed, scope_of

Row = dict[str, Value]
Word = HoldPhoned | HoldEscalated | HoldAdvised
WHAT: Mapping[type[Struct], str] = {HoldPhoned: "phoned", HoldEscalated: "escalated", HoldAdvised: "advised"}


def said(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, Word)
    over: Sequence[str] = body.over if isinstance(body, HoldAdvised) else ()
    row: Row = {"hold": body.hold, "what": WHAT[type(body)], "over": listed(over)}
    yield Change(ADD_SAID, row | _said(counted, body))


def _said(counted: Counted, body: Word) -> Row:
    return {"version": counted.hash, "said": msgspec.json.encode(body).decode()}


def asked(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, WorkAsked)
    row: Row = {
        "version": counted.hash,
        "scope": scope_of(counted.entry),
        "what": body.what,
        "of_entry": body.of,
        "to_person": given(body.to),
        "parts": listed(body.parts),
        "photos": listed(body.photos),
        "not_by": listed(body.not_by),
        "reason": body.reason,
        "is_open": 1,
        "first": None if body.first is UNSET else msgspec.json.encode(body.first).decode(),
        "drawn": given(body.drawn),
    }
    yield Change(ADD_ASKED, row)
    yield Change(SETTLE_WORK, {"of_asked": counted.hash})


def answered(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, WorkAnswered | WorkDropped)
    yield Change(ADD_ANSWER, _answer(counted, body) | {"asked": body.asked})
    yield Change(SETTLE_WORK, {"of_asked": body.asked})


def _answer(counted: Counted, body: WorkAnswered | WorkDropped) -> Row:
    own = body if isinstance(body, WorkAnswered) else None
    return {
        "version": counted.hash,
        "did": own.did if own else "dropped",
        "finding": given(own.finding) if own else None,
        "grade": given(own.grade) if own else None,
        "words": given(own.words) if own else given(body.reason) if isinstance(body, WorkDropped) else None,
    }


def taken_back(counted: Counted) -> Iterable[Change]:
    """What was answered is asked for again."""
    body = counted.body
    assert isinstance(body, EntryWithdrawn)
    if counted.target is not None and counted.target.kind == "work.answered":
        yield Change(SETTLE_WORK_OF, {"of_answer": body.entry})


def corrected(counted: Counted) -> Iterable[Change]:
    """The rows of a corrected body; what it speaks of is that of the entry it corrects."""
    assert isinstance(counted.body, EntryCorrected)
    body, of = counted.target.body if counted.target else None, counted.body.entry
    if isinstance(body, HoldPhoned):
        yield Change(CORRECT_SAID, _said(counted, body) | {"of": of})
    elif isinstance(body, WorkAnswered):
        yield Change(CORRECT_ANSWER, _answer(counted, body) | {"of": of})
        yield Change(SETTLE_WORK_OF, {"of_answer": of})


HOLD_FOLDS: dict[str, Fold] = {
    "hold.phoned": said,
    "hold.escalated": said,
    "hold.advised": said,
    "work.asked": asked,
    "work.answered": answered,
    "work.dropped": answered,
}
