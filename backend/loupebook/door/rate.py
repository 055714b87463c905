"""How often something may be tried, counted in memory: enough to make guessing slow, lost at a restart."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass

from loupebook.door.port import Clock

MOST_KEYS = 10_000
"""Callers remembered at once; the one longest unheard of is forgotten first, so memory has an end."""


@dataclass(frozen=True)
class Rate:
    """At most `most` in one burst, and one more every `every_s` seconds."""

    most: int
    every_s: float


def spend(tokens: float, since_s: float, rate: Rate) -> tuple[float, int]:
    """One more try: what is left afterwards, and whole seconds to wait (0 = may go). Pure.

    A refused try takes nothing, so whoever waits the seconds named may go.
    """
    filled = min(float(rate.most), tokens + since_s / rate.every_s)
    if filled >= 1.0:
        return filled - 1.0, 0
    return filled, max(1, -int(-(1.0 - filled) * rate.every_s // 1))


class Rates:
    """Remembers who tried how often; one for a process."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, key: str, rate: Rate) -> int:
        """0 if this try may go (it is counted), else whole seconds to wait."""
        now = self._clock().timestamp()
        with self._lock:
            tokens, at = self._left.get(key, (float(rate.most), now))
            left, wait = spend(tokens, max(0.0, now - at), rate)
            self._left[key] = (left, now)
            self._left.move_to_end(key)
            while len(self._left) > MOST_KEYS:
                self._left.popitem(last=False)
        return wait
