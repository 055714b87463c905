"""How often a scope was sent back to cleaning within so many days, over all its cycles. Pure.

The same as `frontend/src/rules/again.ts`; `shared/vectors/policy.json` holds the two together.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

DAY_MS = 24 * 3600 * 1000


class SentBack(Struct, frozen=True):
    """One concluded look that sent its scope back to cleaning: its entry, its inspection, when (ms UTC since 1970)."""

    entry: str
    root: str
    at_ms: int


def sent_back_within(back: Sequence[SentBack], root: str, before_ms: int, days: int) -> int:
    """How many inspections but `root` sent it back, from `days` times 24 hours before a moment until before it.

    An inspection that was concluded on two tablets is one. Counted over cycles, not only in a row: Infect Control
    Hosp Epidemiol 2022;43:1466, a bronchoscope that was positive once is likelier to be so again.
    """
    since_ms = before_ms - days * DAY_MS
    return len({each.root for each in back if each.root != root and since_ms <= each.at_ms < before_ms})
