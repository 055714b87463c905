"""What is said of photos apart from any inspection, as rows: hidden, shown again, looked at, chosen as an example."""

from __future__ import annotations

from collections.abc import Iterable

from loupebook.inspections.tables.erased import ADD_ASKED, ADD_ERASED
from loupebook.inspections.tables.examples import ADD_EXAMPLE, ADD_EXAMPLE_WITHDRAWN
from loupebook.inspections.tables.hidden import ADD_OPENED, ADD_RESTRICTED, ADD_SHOWN_AGAIN
from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import (
    ExampleChosen,
    ExampleWithdrawn,
    PhotoErased,
    PhotoErasureAsked,
    PhotoHidden,
    PhotoOpened,
    PhotoRestricted,
    PhotoShownAgain,
)
from loupebook.scopes.tables.values import given, when_ms


def hidden(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, PhotoRestricted | PhotoHidden)
    yield Change(ADD_RESTRICTED, {"version": counted.hash, "photo": body.photo, "changed": counted.changed})


def shown_again(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, PhotoShownAgain)
    about: dict[str, Value] = {"version": counted.hash, "photo": body.photo, "reason": body.reason}
    for restriction in dict.fromkeys(body.hidden):
        yield Change(ADD_SHOWN_AGAIN, about | {"restriction": restriction, "changed": counted.changed})


def opened(counted: Counted) -> Iterable[Change]:
    body, entry = counted.body, counted.entry
    assert isinstance(body, PhotoOpened)
    who: dict[str, Value] = {"person": entry.person, "when_ms": when_ms(entry), "reason": body.reason}
    yield Change(ADD_OPENED, who | {"version": counted.hash, "photo": body.photo})


def erasure_asked(counted: Counted) -> Iterable[Change]:
    body, entry = counted.body, counted.entry
    assert isinstance(body, PhotoErasureAsked)
    who: dict[str, Value] = {"person": entry.person, "reason": body.reason, "changed": counted.changed}
    yield Change(ADD_ASKED, who | {"version": counted.hash, "photo": body.photo})


def erased(counted: Counted) -> Iterable[Change]:
    body, entry = counted.body, counted.entry
    assert isinstance(body, PhotoErased)
    who: dict[str, Value] = {"person": entry.person, "at": entry.at, "asked": body.asked}
    yield Change(ADD_ERASED, who | {"version": counted.hash, "photo": body.photo})


def example(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ExampleChosen)
    of: dict[str, Value] = {"photo": body.photo, "finding": body.finding, "grade": body.grade, "note": given(body.note)}
    yield Change(ADD_EXAMPLE, of | {"version": counted.hash})


def example_withdrawn(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, ExampleWithdrawn)
    row = {"version": counted.hash, "example": body.example, "reason": body.reason}
    yield Change(ADD_EXAMPLE_WITHDRAWN, row)


PHOTO_FOLDS: dict[str, Fold] = {
    "photo.restricted": hidden,
    "photo.hidden": hidden,
    "photo.shown_again": shown_again,
    "photo.opened": opened,
    "photo.erasure_asked": erasure_asked,
    "photo.erased": erased,
    "example.chosen": example,
    "example.withdrawn": example_withdrawn,
}
