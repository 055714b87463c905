"""PINs: which are taken (pure) and how they are kept (Argon2id)."""

from __future__ import annotations

import threading
from calendar import monthrange
from itertools import pairwise
from typing import Literal

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

SHORTEST = 6
"""Digits. OWASP ASVS 5.0.0 asks 8 for passwords (6.2.1); for a PIN tied to an enrolled station six digits stand
in NIST SP 800-63B-4 3.1.1.2 as the least for an activation secret (from memory)."""
LONGEST = 12

Weakness = Literal["short", "long", "not_digits", "sequence", "repeats", "mirrored", "date", "keypad"]

KEYPAD = frozenset(
    "147258 258147 258369 369258 147369 369147 741852 852741 159753 753159 159357 357159 951753 "
    "753951 142536 415263 147896 789632 963258 123698 321478 147852 258963 963852 456852".split()
)
"""Lines and crosses drawn on a telephone keypad. From memory, common practice, no source."""


def weakness(pin: str) -> Weakness | None:
    """Why this PIN is not taken, or nothing. The pattern rules are common practice, no source."""
    if not (pin.isascii() and pin.isdigit()):
        return "not_digits"
    if len(pin) < SHORTEST:
        return "short"
    if len(pin) > LONGEST:
        return "long"
    if _repeats(pin):
        return "repeats"
    if _counts(pin):
        return "sequence"
    if pin == pin[::-1]:
        return "mirrored"
    if _is_date(pin):
        return "date"
    if pin in KEYPAD:
        return "keypad"
    return None


def _repeats(pin: str) -> bool:
    """000000, 121212, 123123 (a block again and again), 112233, 111222 (no digit stands alone), 2 digits in all."""
    block = any(pin == (pin[:n] * len(pin))[: len(pin)] for n in range(1, len(pin) // 2 + 1))
    padded = f" {pin} "
    pairs = all(padded[i] in (padded[i - 1], padded[i + 1]) for i in range(1, len(padded) - 1))
    return block or pairs or len(set(pin)) <= 2


def _counts(pin: str) -> bool:
    """123456, 987654, 135790, 246802: every step the same, round the end of the digits; or 123321, 123987."""
    steps = [(int(b) - int(a)) % 10 for a, b in pairwise(pin)]
    if len(set(steps)) == 1:
        return True
    half = len(pin) // 2
    return len(pin) % 2 == 0 and {*steps[: half - 1], *steps[half:]} <= {1, 9}


def _is_date(pin: str) -> bool:
    """Six digits as day-month-year in any of the three usual orders, or eight with a year of 19.. or 20.. ."""
    if len(pin) == 6:
        a, b, c = int(pin[:2]), int(pin[2:4]), int(pin[4:])
        return _day(c, b, a) or _day(c, a, b) or _day(a, b, c)
    if len(pin) == 8:
        year_last, year_first = int(pin[4:]), int(pin[:4])
        a, b, c, d = int(pin[:2]), int(pin[2:4]), int(pin[4:6]), int(pin[6:])
        last = 1900 <= year_last <= 2099 and (_day(year_last, b, a) or _day(year_last, a, b))
        return last or (1900 <= year_first <= 2099 and _day(year_first, c, d))
    return False


def _day(year: int, month: int, day: int) -> bool:
    """A day of the calendar; of a two-digit year the kinder century is taken."""
    if not 1 <= month <= 12:
        return False
    leap = 2000 if year % 4 == 0 else 2001
    return 1 <= day <= monthrange(year if year > 99 else leap, month)[1]


class PinHasher:
    """Argon2id with 19 MiB, t = 2, p = 1: OWASP Password Storage Cheat Sheet, second of its equal choices.

    `at_once` hashes run together and no more, so that a burst of sign-ins takes 19 MiB times that.
    Calls block (they are made from threads); the hash runs outside the interpreter's lock.
    """

    def __init__(self, at_once: int = 2) -> None:
        self._argon2 = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
        self._room = threading.BoundedSemaphore(at_once)
        self._nobody = self.make("no PIN is this text")

    def make(self, pin: str) -> str:
        """The PHC string to keep."""
        with self._room:
            return self._argon2.hash(pin)

    def fits(self, kept: str | None, pin: str) -> bool:
        """Whether the PIN is the kept one. With nothing kept, as much work is done and the answer is no."""
        with self._room:
            try:
                return self._argon2.verify(kept or self._nobody, pin) and kept is not None
            except (VerifyMismatchError, InvalidHashError):
                return False
