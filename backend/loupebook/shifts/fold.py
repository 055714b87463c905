"""What leads say of shifts as rows. All of it is written on the server's own chain."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import ShiftAdded, ShiftAnswered, ShiftClosed
from loupebook.scopes.tables.values import given, ms_of, place_of
from loupebook.shifts.tables import ADD_ADDITION, ADD_ANSWER, ADD_CLOSING, CARRY, DONE, NOTE

Row = dict[str, Value]
GOES_ON = ("carried", "unanswered")
"""Answers with which a thing goes on to the next shift."""


def _shift(counted: Counted) -> str:
    shift = counted.entry.about.shift
    return shift if isinstance(shift, str) else ""


def _who(counted: Counted) -> Row:
    return {"version": counted.hash, "person": counted.entry.person, "at": counted.entry.at}


def answered(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ShiftAnswered)
    row: Row = {
        "shift": _shift(counted),
        "sort": body.sort,
        "of_row": body.of,
        "answer": body.answer,
        "reason": given(body.reason),
        "owner": given(body.owner),
        "changed": counted.changed,
    }
    yield Change(ADD_ANSWER, _who(counted) | row)


def closed(counted: Counted) -> Iterable[Change]:
    """The closing, and each thing that goes on to the next shift, or no longer does."""
    body, shift = counted.body, _shift(counted)
    assert isinstance(body, ShiftClosed)
    row: Row = {
        "shift": shift,
        "place": place_of(shift),
        "begins_ms": ms_of(body.begins),
        "ends_ms": ms_of(body.ends),
        "body": msgspec.json.encode(body).decode(),
        "changed": counted.changed,
    }
    yield Change(ADD_CLOSING, _who(counted) | row)
    for each in body.exceptions:
        for of in each.of:
            key: Row = {"place": place_of(shift), "sort": each.sort, "of_row": of}
            if each.answer in GOES_ON:
                left: Row = {"shift": shift, "closing": counted.hash}
                yield Change(CARRY, key | left | {"reason": given(each.reason), "owner": given(each.owner)})
            else:
                yield Change(DONE, {f"of_{name}": value for name, value in key.items()})


def added(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ShiftAdded)
    row: Row = {"closing": body.closing, "entries": len(set(body.entries)), "note": given(body.note)}
    yield Change(ADD_ADDITION, _who(counted) | row)
    for entry in dict.fromkeys(body.entries):
        yield Change(NOTE, {"closing": body.closing, "entry": entry, "by": counted.hash})


FOLDS: dict[str, Fold] = {"shift.answered": answered, "shift.closed": closed, "shift.added": added}
