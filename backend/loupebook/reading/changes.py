"""Positions as an event stream, at most one each 300 ms, so that a desk sees within 2 s what a tablet sent."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable

LEAST_APART_S = 0.3
STILL_HERE_S = 15.0
"""A comment line goes out when nothing changed for so long, so that a desk that is gone is noticed."""


async def positions(
    changes: AsyncIterator[int],
    least_apart_s: float = LEAST_APART_S,
    still_here_s: float = STILL_HERE_S,
    now: Callable[[], float] | None = None,
    wait: Callable[[Awaitable[None], float], Awaitable[bool]] | None = None,
) -> AsyncGenerator[int | None, None]:
    """The newest position, then each newer one when it is at least `least_apart_s` after the last; None = still here.

    Positions that come faster are left out, the newest is not. `wait` waits for an awaitable, at most so
    long, and says whether it came.
    """
    clock = now or asyncio.get_running_loop().time
    waits = wait or _came
    newest = Newest()
    reader = asyncio.ensure_future(newest.follow(changes))
    last: float | None = None
    try:
        while not newest.ended or newest.fresh:
            if not newest.fresh and not await waits(newest.arrived(), still_here_s):
                yield None
                continue
            if last is not None and (early := least_apart_s - (clock() - last)) > 0:
                await waits(newest.over(), early)
            position = newest.take()
            if position is not None:
                last = clock()
                yield position
    finally:
        reader.cancel()


class Newest:
    """Keeps the newest position of a stream, and whether anybody took it."""

    def __init__(self) -> None:
        self.ended = False
        self.fresh = False
        self._position: int | None = None
        self._came = asyncio.Event()
        self._over = asyncio.Event()

    async def follow(self, changes: AsyncIterator[int]) -> None:
        """Reads the stream to its end."""
        try:
            async for position in changes:
                self._position, self.fresh = position, True
                self._came.set()
        finally:
            self.ended = True
            self._came.set()
            self._over.set()

    async def arrived(self) -> None:
        """Returns when there is a position nobody took, or the stream ended."""
        await self._came.wait()

    async def over(self) -> None:
        """Returns when the stream ended."""
        await self._over.wait()

    def take(self) -> int | None:
        """The newest position, if nobody took it."""
        self._came.clear()
        if not self.fresh:
            return None
        self.fresh = False
        return self._position


async def _came(awaited: Awaitable[None], most_s: float) -> bool:
    try:
        await asyncio.wait_for(awaited, most_s)
    except TimeoutError:
        return False
    return True


def as_event(position: int | None) -> bytes:
    """One event of the stream."""
    return b": still here\n\n" if position is None else b'data: {"position": %d}\n\n' % position
