"""The stream of positions: the newest is never lost, none comes too soon. Time is moved by hand; nothing sleeps."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable
from itertools import pairwise

import pytest
from loupebook.reading.changes import as_event, positions

pytestmark = pytest.mark.sink


class Hand:
    """A clock and a wait: a wait for what does not come moves the clock on by the whole of it."""

    def __init__(self) -> None:
        self.at = 0.0

    def now(self) -> float:
        return self.at

    async def wait(self, awaited: Awaitable[None], most_s: float) -> bool:
        task = asyncio.ensure_future(awaited)
        for _ in range(20):
            await asyncio.sleep(0)
        if task.done():
            return True
        task.cancel()
        self.at += most_s
        return False


async def told(changes: AsyncIterator[int], hand: Hand) -> list[tuple[float, int | None]]:
    return [(hand.at, position) async for position in positions(changes, now=hand.now, wait=hand.wait)]


def test_a_burst_is_told_at_once_and_then_only_its_newest() -> None:
    hand = Hand()

    async def burst() -> AsyncIterator[int]:
        for position in (1, 2, 3):
            yield position
            await asyncio.sleep(0)
        while hand.at < 0.5:
            await asyncio.sleep(0)
            if hand.at == 0.3:
                break
        yield 9

    found = asyncio.run(told(burst(), hand))
    assert [position for _, position in found if position][-1] == 9
    moments = [at for at, position in found if position]
    assert moments[0] == 0.0 and all(later - earlier >= 0.3 for earlier, later in pairwise(moments[:-1]))
    assert len(moments) < 4


def test_the_last_position_is_told_even_when_the_stream_ends() -> None:
    async def once() -> AsyncIterator[int]:
        yield 7

    assert [p for _, p in asyncio.run(told(once(), Hand()))] == [7]


def test_silence_says_still_here() -> None:
    hand = Hand()

    async def silent() -> AsyncIterator[int]:
        while hand.at < 30:
            await asyncio.sleep(0)
        yield 1

    found = asyncio.run(told(silent(), hand))
    assert found[:2] == [(15.0, None), (30.0, None)] and found[-1][1] == 1


def test_an_event_is_one_line_and_a_blank_one() -> None:
    """Event stream format: WHATWG HTML, section 9.2 (server-sent events)."""
    assert as_event(12) == b'data: {"position": 12}\n\n'
    assert as_event(None).startswith(b":")
