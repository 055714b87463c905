"""A policy as a table that a lead changes: whether it may stand, and what one version changed of another. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta, Struct, UnsetType

from loupebook.record.kinds import First, Goes
from loupebook.rules.policy import FIRSTS, GOES

Said = Annotated[str, Meta(min_length=1, max_length=2000)]


class Row(Struct, frozen=True, forbid_unknown_fields=True):
    """One row as it must be written: which facts it speaks to, what it asks for, and where that comes from."""

    id: Annotated[str, Meta(min_length=1, max_length=64, pattern="^[a-z0-9_]+$")]
    when: Annotated[list[dict[str, Any]], Meta(min_length=1)]
    override: bool
    source: Said
    first: First | UnsetType = msgspec.UNSET
    goes: Goes | UnsetType = msgspec.UNSET
    words: Said | UnsetType = msgspec.UNSET
    tell: list[Literal["lead", "infection_prevention", "biomed", "physician", "risk_management"]] = []


class Limit(Struct, frozen=True, forbid_unknown_fields=True):
    """A limit of a measured value, in thousandths of its UCUM unit; at a level is above it (`rules/limits.py`)."""

    reading: Annotated[str, Meta(min_length=1, max_length=64)]
    unit: Annotated[str, Meta(min_length=1, max_length=64)]
    action_thousandths: Annotated[int, Meta(ge=0)]
    source: Said
    alert_thousandths: Annotated[int, Meta(ge=0)] | UnsetType = msgspec.UNSET


class SecondOpinion(Struct, frozen=True, forbid_unknown_fields=True):
    """Whether findings may be shown to a second inspector without what the first said, and how many of a hundred."""

    on: bool
    share_percent: Annotated[int, Meta(ge=0, le=100)]
    source: Said


class Recleans(Struct, frozen=True, forbid_unknown_fields=True):
    """Over how many days it is counted how often a scope was sent back to cleaning (`cleanings_days` of a fact)."""

    days: Annotated[int, Meta(ge=1, le=3660)]
    source: Said


class PolicyText(Struct, frozen=True):
    """A whole policy. One that is older may have no limits, and says nothing of second opinions: they are off.

    Without `recleans` no cleanings are counted over cycles.
    """

    v: Literal[1]
    id: Said
    rows: Annotated[list[Row], Meta(min_length=1)]
    limits: list[Limit] = []
    second_opinion: SecondOpinion | UnsetType = msgspec.UNSET
    recleans: Recleans | UnsetType = msgspec.UNSET


def read_policy(text: str) -> PolicyText:
    """The policy in a text. Raises msgspec.ValidationError or DecodeError where it is none, or names a row twice."""
    policy = msgspec.json.decode(text, type=PolicyText)
    if len({row.id for row in policy.rows}) != len(policy.rows):
        raise msgspec.ValidationError("two rows have one name")
    return policy


def made_laxer(before: PolicyText, now: PolicyText) -> list[str]:
    """Rows that nobody may override and that the new policy would take away, open, or ask less of.

    Such a row may become stricter. Common practice, no source: what takes a scope out of use at once is no
    matter of the day's staff.
    """
    rows = {row.id: row for row in now.rows}
    return [row.id for row in before.rows if not row.override and not _holds_up(row, rows.get(row.id))]


def _holds_up(before: Row, now: Row | None) -> bool:
    if now is None or now.override or now.when != before.when:
        return False
    return _at_least(FIRSTS, now.first, before.first) and _at_least(GOES, now.goes, before.goes)


def _at_least(order: Sequence[str], now: str | UnsetType, before: str | UnsetType) -> bool:
    place = {name: at for at, name in enumerate(order)}
    return place.get(str(now), 0) >= place.get(str(before), 0)


def changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What one policy changed of the one before it: each row that is new, gone or other, as it was and as it is."""
    old, new = ({row["id"]: row for row in policy["rows"]} for policy in (before, now))
    return [
        {"row": id, "before": old.get(id), "after": new.get(id)}
        for id in dict.fromkeys([*old, *new])
        if old.get(id) != new.get(id)
    ]
