"""The servers of the building, beside the one on loopback and in the same process: https, and the plain page."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from socket import socket

import uvicorn
from starlette.types import ASGIApp

from loupebook.network.building import Building
from loupebook.network.page import help_page
from loupebook.network.tls import Tls

LOOK_EVERY_S = 60.0
"""How often a running server looks whether its certificate was renewed, or has to be."""


class Beside(uvicorn.Server):
    """A server that lives inside another one's loop: begun after it, ended before it."""

    def __init__(self, config: uvicorn.Config, sockets: Sequence[socket]) -> None:
        super().__init__(config)
        self._sockets = list(sockets)
        self._going: asyncio.Task[None] | None = None

    async def begin(self) -> None:
        """Returns once it answers."""
        self.config.load()
        self.lifespan = self.config.lifespan_class(self.config)
        await self.startup(self._sockets)
        self._going = asyncio.create_task(self.main_loop())

    async def end(self) -> None:
        """Takes nothing new, and returns when what was begun is answered."""
        self.should_exit = True
        if self._going is not None:
            await self._going
            await self.shutdown(self._sockets)


def servers(app: ASGIApp, building: Building, https: Sequence[socket], plain: Sequence[socket]) -> list[Beside]:
    """Those that a building needs."""
    tls = building.tls
    if tls is None:
        return []
    page = help_page(building.address, building.served.name, building.authority)
    return [
        Beside(_config(app, tls), https),
        Beside(_config(page, None), plain),
    ]


def _config(app: ASGIApp, tls: Tls | None) -> uvicorn.Config:
    # Forwarded headers are believed on loopback only, from a proxy on this machine; here anybody could send them.
    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=10,
        lifespan="off",
        ws="none",
        ssl_context_factory=None if tls is None else lambda *_: tls.context,
    )


async def look_after(tls: Tls, every_s: float = LOOK_EVERY_S, clock: Callable[[], datetime] | None = None) -> None:
    """Looks at the certificate for as long as the server runs."""
    while True:
        await asyncio.sleep(every_s)
        tls.look(clock() if clock is not None else datetime.now(UTC))


class Company:
    """All servers beside the main one, and what looks after their certificate."""

    def __init__(self, beside: Sequence[Beside], tls: Tls | None) -> None:
        self._beside = beside
        self._tls = tls
        self._looking: asyncio.Task[None] | None = None

    async def begin(self) -> None:
        """Returns once all answer."""
        for each in self._beside:
            await each.begin()
        if self._tls is not None:
            self._looking = asyncio.create_task(look_after(self._tls))

    async def end(self) -> None:
        """Ends them, before the main server ends what they all serve."""
        if self._looking is not None:
            self._looking.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._looking
        await asyncio.gather(*(each.end() for each in self._beside))
