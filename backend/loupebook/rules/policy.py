"""The facility's policy: which rows speak to which facts, and the strictest of each answer. Pure.

The same as `frontend/src/rules/policy.ts`; `shared/vectors/policy.json` holds the two together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, TypeVar, cast, get_args

from loupebook.record.kinds import First, Goes
from loupebook.rules.conditions import Condition, Fact, all_hold

FIRSTS: tuple[First, ...] = get_args(First)
"""What is done first, laxest to strictest."""
GOES: tuple[Goes, ...] = get_args(Goes)
"""Where the scope goes, laxest to strictest."""


class Spoken(NamedTuple):
    """A row that speaks, and the fact (its place in the list given) it speaks to."""

    row: str
    fact: int


class Suggestion(NamedTuple):
    """What the policy suggests, and why. A person decides."""

    first: First
    goes: Goes
    rows: tuple[Spoken, ...]


def suggest(policy: Mapping[str, object], facts: Sequence[Fact]) -> Suggestion:
    """The suggestion for these facts: rows in the policy's order, within a row facts in the order given."""
    first, goes = FIRSTS[0], GOES[0]
    spoken: list[Spoken] = []
    for row in _rows(policy):
        when = cast(Sequence[Condition], row["when"])
        for index, fact in enumerate(facts):
            if not all_hold(when, fact):
                continue
            spoken.append(Spoken(str(row["id"]), index))
            first = _stricter(FIRSTS, first, row.get("first"))
            goes = _stricter(GOES, goes, row.get("goes"))
    return Suggestion(first, goes, tuple(spoken))


def may_choose(policy: Mapping[str, object], spoken: Sequence[Spoken], first: First, goes: Goes) -> bool:
    """Whether the two answers are at least as strict as every row that spoke and that nobody may override."""
    names = {each.row for each in spoken}
    fixed = [row for row in _rows(policy) if row["id"] in names and row["override"] is False]
    return all(
        _stricter(FIRSTS, first, row.get("first")) == first and _stricter(GOES, goes, row.get("goes")) == goes
        for row in fixed
    )


def _rows(policy: Mapping[str, object]) -> Sequence[Mapping[str, object]]:
    return cast(Sequence[Mapping[str, object]], policy["rows"])


Word = TypeVar("Word", bound=str)


def _stricter(order: tuple[Word, ...], now: Word, asked: object) -> Word:
    stricter = order[order.index(now) + 1 :]
    return next((word for word in stricter if word == asked), now)
