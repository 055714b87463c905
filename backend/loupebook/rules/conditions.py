"""Conditions on a flat fact: {field, eq | in | gte | lt | missing}; all of a list must hold.

The same as `frontend/src/rules/conditions.ts`; `shared/vectors/policy.json` holds the two together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Condition = Mapping[str, object]
Fact = Mapping[str, object]


def holds(condition: Condition, fact: Fact) -> bool:
    """Whether one condition holds. A missing (or null) field fails every condition but `missing: true`."""
    value = fact.get(str(condition["field"]))
    if "missing" in condition:
        return condition["missing"] is (value is None)
    if value is None:
        return False
    if "eq" in condition:
        return _same(value, condition["eq"])
    if "in" in condition:
        listed = condition["in"]
        return isinstance(listed, Sequence) and any(_same(value, each) for each in listed)
    number = _number(value)
    if number is None:
        return False
    least, below = _number(condition.get("gte")), _number(condition.get("lt"))
    return number >= least if least is not None else below is not None and number < below


def all_hold(conditions: Sequence[Condition], fact: Fact) -> bool:
    """Whether every condition of a list holds; an empty list does."""
    return all(holds(condition, fact) for condition in conditions)


def _same(one: object, other: object) -> bool:
    """Equal and of one type: in JSON, 1 is not true."""
    return type(one) is type(other) and one == other


def _number(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None
