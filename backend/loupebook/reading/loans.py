"""Scopes on loan: which scope each stands in for, and what stands in for a scope that is away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from loupebook.reading.shown import scope_shown
from loupebook.repairs.tables.repairs import Said, Told, in_hand
from loupebook.rules.repair import Event, Loaner, Tie, differs, may_go_back, released_ms, tie_of
from loupebook.scopes.tables.known import ScopeKnown

Row = dict[str, object]


def ties_of(told: Mapping[str, Told]) -> dict[str, Tie]:
    """By the key of each loan that stands, the scope that it stands in for; `told`: of all scopes that count."""
    lent = {key: each.loaner for key, each in told.items() if each.loaner is not None}
    if not lent:
        return {}
    shipped = [
        (key, word.event)
        for key, each in told.items()
        if each.repair is not None
        for word in in_hand(each.words)
        if word.event.what == "shipped"
    ]
    return {key: tie for key, loaner in lent.items() if (tie := tie_of(key, loaner, shipped)) is not None}


def for_shown(tie: Tie | None, known: Mapping[str, ScopeKnown], told: Mapping[str, Told]) -> Row | None:
    """The scope a loan stands in for: where its repair is, and whether it is released since, so that it can go back."""
    if tie is None:
        return None
    stands = told.get(tie.scope)
    repair = stands.repair if stands is not None else None
    released = released_ms(word.event for word in stands.words) if stands is not None else 0
    return {
        "scope": scope_shown(known[tie.scope]),
        "stage": repair.stage if repair is not None else None,
        "may_go_back": may_go_back(tie, repair, released),
    }


def instead_shown(
    key: str, ties: Mapping[str, Tie], known: Mapping[str, ScopeKnown], told: Mapping[str, Told]
) -> list[Row]:
    """The loans that stand in for this scope, the one that was tied first before the others."""
    mine = sorted((tie.since_ms, loan) for loan, tie in ties.items() if tie.scope == key)
    return [
        {"scope": scope_shown(known[loan]), "stage": loaner.stage, "said": _facts(loaner)}
        for _, loan in mine
        if (loaner := told[loan].loaner) is not None
    ]


def loaner_row(scope: ScopeKnown, loaner: Loaner, words: Sequence[Said], tied: Row | None) -> Row:
    """One scope on loan: what is said of it by now, who took it in, which scope it stands in for."""
    last = next(word.event for word in words if word.event.entry == loaner.came[-1])
    shown: Mapping[str, object] = msgspec.to_builtins(loaner)
    return {"scope": scope_shown(scope), **shown, "person": last.person, "for": tied}


def gone_otherwise(words: Sequence[Said], out: Event) -> list[dict[str, object]]:
    """What a loan left otherwise than it came: accessories counted on arrival and on leaving."""
    came = [word.event for word in words if word.event.what == "loaner_in" and word.event.entry in out.over]
    return differs(max(came, key=lambda event: event.at_ms).said if came else {}, out.said)


def _facts(loaner: Loaner) -> Row:
    return {name: loaner.said[name] for name in ("owner", "until") if loaner.said.get(name)}
