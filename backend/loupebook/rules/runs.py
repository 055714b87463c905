"""Runs of a borescope from both ends of one channel: whether they add up to the whole of it, and what they leave. Pure.

Arithmetic, no source. Nothing unseen is ever counted as seen: a distance that was not read off adds nothing, of several
lengths the longest holds, and runs that say more than the channel is long add up to nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

Why = Literal["through", "both_ends", "gap", "no_length", "beyond", "none"]
"""through: one run reached the other end · both_ends: what was reached from the two ends is the channel's length or
more · gap: it is less, `unseen` is what is left · no_length: no run knows the channel's length · beyond: a run that did
not get through says more than the channel is long · none: no borescope went in."""


class Run(NamedTuple):
    """One run through a channel, as `channel.looked` says it; millimetres."""

    outcome: str
    way: str | None = None
    reached_mm: int | None = None
    known: str | None = None
    length_mm: int | None = None


class Seen(NamedTuple):
    """What the runs of one channel show of it, millimetres from each end."""

    why: Why
    port_mm: int = 0
    tip_mm: int = 0
    length_mm: int | None = None
    unseen: tuple[int, int] | None = None
    """From and to, measured from the port; only where `why` is `gap`."""
    estimated: bool = False
    """Whether a distance was left out because it was not read off."""


def seen_of(runs: Sequence[Run]) -> Seen:
    """All runs of one channel that stand in one part of an inspection."""
    went_in = [run for run in runs if run.outcome != "not_possible"]
    if not went_in:
        return Seen("none")
    if any(run.outcome == "through" for run in went_in):
        return Seen("through")
    counted = [run for run in went_in if run.known == "read_off" and run.reached_mm]
    port, tip = (_farthest(counted, way) for way in ("from_port", "from_tip"))
    length = max((run.length_mm for run in went_in if run.length_mm), default=None)
    estimated = len(counted) < len(went_in)
    if length is None:
        return Seen("no_length", port, tip, None, None, estimated)
    if max(port, tip) >= length:
        return Seen("beyond", port, tip, length, None, estimated)
    if port + tip >= length:
        return Seen("both_ends", port, tip, length, None, estimated)
    return Seen("gap", port, tip, length, (port, length - tip), estimated)


def _farthest(runs: Sequence[Run], way: str) -> int:
    return max((run.reached_mm or 0 for run in runs if run.way == way), default=0)
