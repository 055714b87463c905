"""Words about a repair as rows: those said of one, and what opens one by itself (a failed leak test, a decision)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from msgspec import Struct

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import (
    EntryCorrected,
    HoldDecided,
    InspectionConcluded,
    LoanerNoted,
    LoanerReceived,
    LoanerSentBack,
    ReadingTaken,
    RepairApproved,
    RepairAsked,
    RepairClosed,
    RepairDecontaminated,
    RepairNoted,
    RepairOpened,
    RepairPacked,
    RepairReturned,
    RepairShipped,
)
from loupebook.repairs.tables import ADD_REPAIR, ADD_REPAIR_OF, CORRECT_REPAIR
from loupebook.rules.repair import What
from loupebook.scopes.tables.values import begun_of, given, listed, scope_of

Row = dict[str, Value]

FAILED = ("bubbles", "pressure_dropped", "over_limit")
TESTS = ("leak_test", "leakage_current")
"""As the board rules of inspections have them: what a failed test shows, and which tests take a scope out of use."""


@dataclass(frozen=True)
class Word:
    """What a body says of a repair."""

    what: What
    said: object
    over: Sequence[str] = ()
    inspections: Sequence[str] = ()


def word_of(body: Struct, begun: str) -> Word | None:
    """What a body says of a repair; nothing where it says none. `begun`: its part of an inspection."""
    reader = _READERS.get(type(body))
    return reader(body, begun) if reader else None


def _asked(body: RepairAsked, _: str) -> Word:
    return Word("by_phone" if body.phone else "asked", body, inspections=body.inspections)


def _test(body: ReadingTaken, begun: str) -> Word | None:
    if body.what not in TESTS or body.result not in FAILED:
        return None
    words = {"words": body.note} if body.note else {}
    return Word("leak_test", {"what": body.what, "result": body.result} | words, inspections=[begun] if begun else [])


def _concluded(body: InspectionConcluded, begun: str) -> Word | None:
    if body.goes != "repair":
        return None
    words = {"words": body.words} if body.words else {}
    return Word("concluded", {"first": body.first, "goes": body.goes} | words, inspections=[begun] if begun else [])


def _decided(body: HoldDecided, _: str) -> Word | None:
    return Word("decided", {"hold": body.hold, "reason": body.reason}) if body.goes == "repair" else None


_READERS: dict[type[Struct], Callable[[Any, str], Word | None]] = {
    RepairAsked: _asked,
    ReadingTaken: _test,
    InspectionConcluded: _concluded,
    HoldDecided: _decided,
    RepairOpened: lambda body, _: Word("opened", body, body.over, body.inspections),
    RepairClosed: lambda body, _: Word("closed", body, body.over),
    RepairDecontaminated: lambda body, _: Word("decontaminated", body),
    RepairPacked: lambda body, _: Word("packed", body),
    RepairShipped: lambda body, _: Word("shipped", body),
    RepairNoted: lambda body, _: Word("noted", body),
    RepairApproved: lambda body, _: Word("approved", body, body.over),
    RepairReturned: lambda body, _: Word("returned", body, body.over),
    LoanerReceived: lambda body, _: Word("loaner_in", body),
    LoanerNoted: lambda body, _: Word("loaner_noted", body),
    LoanerSentBack: lambda body, _: Word("loaner_out", body, body.over),
}


def worded(counted: Counted) -> Iterable[Change]:
    """The row of an entry that says something of a repair."""
    word = word_of(counted.body, begun_of(counted))
    if word is not None:
        yield Change(ADD_REPAIR, _row(counted, word) | {"scope": scope_of(counted.entry)})


def repair_corrected(counted: Counted) -> Iterable[Change]:
    """The row of a corrected body; scope, repair and photos are those of the entry it corrects."""
    assert isinstance(counted.body, EntryCorrected)
    body = counted.target.body if counted.target else None
    word = word_of(body, begun_of(counted)) if body is not None else None
    if word is None:
        return
    own = word.what not in ("leak_test", "concluded")
    yield Change(CORRECT_REPAIR if own else ADD_REPAIR_OF, _row(counted, word) | {"of": counted.body.entry})


def _row(counted: Counted, word: Word) -> Row:
    entry = counted.entry
    return {
        "version": counted.hash,
        "what": word.what,
        "repair": given(entry.about.repair) or "",
        "basis": given(entry.basis) or "",
        "over": listed(word.over),
        "inspections": listed(word.inspections),
        "photos": listed(photo.sha256 for photo in entry.photos if photo.shows == "case"),
        "said": msgspec.json.encode(word.said).decode(),
    }


REPAIR_FOLDS: dict[str, Fold] = dict.fromkeys(
    (
        "repair.asked", "repair.decontaminated", "repair.packed", "repair.opened", "repair.closed",
        "repair.shipped", "repair.noted", "repair.approved", "repair.returned", "loaner.received", "loaner.noted",
        "loaner.sent_back", "reading.taken", "inspection.concluded", "hold.decided",
    ),
    worded,
)  # fmt: skip
