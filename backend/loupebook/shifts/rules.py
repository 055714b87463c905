"""Board rules of a shift: what stands open, how it is answered, what a closing says of it. Nothing is put aside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

import msgspec
from msgspec import UNSET

from loupebook.record.kinds import HeadNamed, ShiftException, Sort
from loupebook.shifts.tables import Answer, Carried, Key

SORTS: tuple[Sort, ...] = get_args(Sort)
State = Literal["open", "without", "carried", "settled"]
"""open: no answer yet. without, carried: as a lead answered. settled: it was answered or came over, and is no more."""


@dataclass(frozen=True)
class Open:
    """One thing that stands open now. `about` holds only ids, hashes and numbers; words are made on the screen."""

    sort: Sort
    of: str
    about: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class BoardRow:
    """One line of the board: what it is, how it stands, how a lead answered, and from which shift it came over."""

    sort: Sort
    of: str
    state: State
    about: Mapping[str, object]
    answer: Answer | None
    before: Carried | None


def board_rows(stands: Sequence[Open], answers: Mapping[Key, Answer], carried: Mapping[Key, Carried]) -> list[BoardRow]:
    """Everything that stands open, and what was answered or came over and has settled by itself since; by sort."""
    open_now: dict[Key, Open] = {(each.sort, each.of): each for each in stands}
    rows = []
    for key in dict.fromkeys([*open_now, *carried, *answers]):
        found, answer = open_now.get(key), answers.get(key)
        sort, of = msgspec.convert(key[0], Sort), key[1]
        state: State = "settled" if found is None else "open" if answer is None else _answered(answer)
        rows.append(BoardRow(sort, of, state, found.about if found else {}, answer, carried.get(key)))
    return sorted(rows, key=lambda row: SORTS.index(row.sort))


def _answered(answer: Answer) -> State:
    return "carried" if answer.answer == "carried" else "without"


Told = Literal["settled", "without", "carried", "unanswered"]
_SAID: Mapping[State, Told] = {
    "open": "unanswered", "without": "without", "carried": "carried", "settled": "settled",
}  # fmt: skip


def exceptions_of(rows: Iterable[BoardRow]) -> list[ShiftException]:
    """What a closing says of the board: things of one sort that were answered alike stand together.

    What has no answer goes on to the next shift all the same: nothing keeps anybody from going home.
    """
    alike: dict[tuple[Sort, Told, str | None, str | None, str | None], list[str]] = {}
    for row in rows:
        said, answer = _SAID[row.state], row.answer if row.state != "settled" else None
        reason, owner = (answer.reason, answer.owner) if answer else (None, None)
        alike.setdefault((row.sort, said, reason, owner, answer.person if answer else None), []).append(row.of)
    return [
        ShiftException(
            sort, said, of, len(of), UNSET if reason is None else reason, UNSET if owner is None else owner,
            UNSET if by is None else by,
        )
        for (sort, said, reason, owner, by), of in alike.items()
    ]  # fmt: skip


MOST_BYTES = 56 * 1024
"""Of exceptions and heads together, so that a closing always fits its line of 64 KiB."""


def that_fit(
    exceptions: Sequence[ShiftException], heads: Sequence[HeadNamed], also_bytes: int = 0
) -> list[ShiftException]:
    """The exceptions, shortened where all of them would not fit a line: `count` still says how many they are.

    What has settled is shortened first, then the longest; what is left out still stands in the record itself.
    `also_bytes`: what else the closing says at length.
    """
    kept = list(exceptions)
    left = MOST_BYTES - also_bytes - len(msgspec.json.encode(list(heads)))
    while len(msgspec.json.encode(kept)) > left and any(each.of for each in kept):
        longest = max(kept, key=lambda each: (each.answer == "settled" and bool(each.of), len(each.of)))
        at = kept.index(longest)
        kept[at] = msgspec.structs.replace(longest, of=longest.of[: len(longest.of) // 2])
    return kept


def after_closing(changes: Iterable[tuple[str, str]], leads: Iterable[str]) -> list[str]:
    """Those of the changes made after a shift was closed (version, author) that are no lead's.

    An author may correct until the shift closes, then a lead does. It counts all the same, and a lead is told.
    """
    may = set(leads)
    return sorted(version for version, person in changes if person not in may)
