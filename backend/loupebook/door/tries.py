"""How wrong PINs are counted: per person *and* station, so that a joker at one tablet locks nobody out elsewhere.

A try is counted before the PIN is looked at and taken back when it was right: a hundred tries sent at once
are a hundred tries.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update

from loupebook.door.tables import PinTry
from loupebook.log.declared import table_of

STOP_AT = 10
"""Wrong tries of one person at one station, then only a lead opens it again (product rule)."""
STOP_EVERYWHERE_AT = 100
"""Wrong tries of one person over all stations: NIST SP 800-63B-4 section 3.2.2 allows no more than 100 in a row
(from memory)."""


@dataclass(frozen=True)
class Go:
    """The try was counted as the `wrong`-th; look at the PIN now."""

    wrong: int


@dataclass(frozen=True)
class Wait:
    """Too early: this many whole seconds are left."""

    wait_s: int


@dataclass(frozen=True)
class Stopped:
    """No more tries, here or anywhere."""

    everywhere: bool


def wait_after(wrong: int) -> int:
    """Seconds the next try waits after so many wrong ones: 1, 2, 4 ... 256 before the tenth."""
    return 1 << (wrong - 1) if wrong > 0 else 0


def judge_try(wrong: int, not_before_ms: int, everywhere: int, now_ms: int) -> Go | Wait | Stopped:
    """What becomes of one more try. Pure."""
    if everywhere >= STOP_EVERYWHERE_AT:
        return Stopped(everywhere=True)
    if wrong >= STOP_AT:
        return Stopped(everywhere=False)
    if now_ms < not_before_ms:
        return Wait(-((now_ms - not_before_ms) // 1000))
    return Go(wrong + 1)


_t = table_of(PinTry)
_ONE = select(_t.c.wrong, _t.c.not_before_ms).where(
    _t.c.person == bindparam("person"), _t.c.station == bindparam("station")
)
_ALL = select(func.coalesce(func.sum(_t.c.wrong), 0)).where(_t.c.person == bindparam("person"))


def begin_try(write: Connection, person: str, station: str, now_ms: int) -> Go | Wait | Stopped:
    """Counts a try before its PIN is looked at. In a write transaction, so that tries stand in line."""
    key = {"person": person, "station": station}
    row = write.execute(_ONE, key).one_or_none()
    wrong, not_before_ms = (row.wrong, row.not_before_ms) if row else (0, 0)
    everywhere = int(write.execute(_ALL, {"person": person}).scalar_one())
    verdict = judge_try(wrong, not_before_ms, everywhere, now_ms)
    if isinstance(verdict, Go):
        counted = {"wrong": verdict.wrong, "not_before_ms": now_ms + 1000 * wait_after(verdict.wrong)}
        if row is None:
            write.execute(insert(_t).values(**key, **counted))
        else:
            here = (_t.c.person == person) & (_t.c.station == station)
            write.execute(update(_t).where(here).values(**counted))
    return verdict


def forget_tries(write: Connection, person: str, station: str | None = None) -> None:
    """The PIN was right at this station, or a lead opened all stations again."""
    gone = delete(_t).where(_t.c.person == person)
    write.execute(gone if station is None else gone.where(_t.c.station == station))
