"""What a measured value of a cleaning test says: against the limit its maker states, else the facility's own. Pure.

The same as `frontend/src/rules/limits.ts`; `shared/vectors/limits.json` holds the two together. Values of two units, or
of two meters that count light (RLU), are never held against each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

Level = Literal["in_range", "alert", "action", "no_limit"]
"""in_range: below every limit · alert: still acceptable, to be looked into · action: clean again, test again ·
no_limit: nobody said what this value of this unit should be."""


def level_of(
    limits: Sequence[Mapping[str, Any]], what: str, value: int, unit: str | None, own_limit: int | None = None
) -> Level:
    """The level of a value, all in thousandths of the unit (UCUM).

    own_limit: what the maker of the test states as the highest value that passes; it wins over every other.
    limits: the policy's, each `{reading, unit, alert_thousandths?, action_thousandths, source}`; at one is above it.
    """
    if own_limit is not None:
        return "action" if value > own_limit else "in_range"
    limit = next((each for each in limits if each["reading"] == what and each["unit"] == unit), None)
    if limit is None:
        return "no_limit"
    if value >= limit["action_thousandths"]:
        return "action"
    alert = limit.get("alert_thousandths")
    return "alert" if alert is not None and value >= alert else "in_range"
