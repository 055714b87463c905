"""A browser's profile that has opened the app before, so that a test about something else waits for no first visit.

An app belongs to an address with its port. So the profile has opened it at each of a few ports, and a sink that runs
at one of these may give its tablets a copy. What a first visit is like is asked where a browser is opened without one.
"""

from __future__ import annotations

import os
import shutil
import socket
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from browser.conftest import controlled, launch, settled
from playwright.sync_api import Playwright
from quick_server import QuickServer

if TYPE_CHECKING:
    from browser.sink_house import House

AT_ONCE = 2
"""Sinks of a worker that run side by side: a file's and a test's own."""
PORTS = range(20_000, 32_000)
"""Below those that a system gives out by itself."""
LEFT_OUT = (
    "Singleton*", "BrowserMetrics*", "Crashpad", "component_crx_cache", "*.pma", "Cache", "*Dawn*Cache", "GPUCache",
    "*ShaderCache",
)  # fmt: skip
"""What no page asks for: the files come from the service worker."""


@dataclass
class Worn:
    """The profile, and the ports at which it knows the app and no sink runs now."""

    profile: Path
    free: list[int] = field(default_factory=list)

    def take(self) -> int:
        """A port for a sink; 0 = any, when all of these are in use."""
        return next((self.free.pop(each) for each, port in enumerate(self.free) if unused(port)), 0)

    def give_back(self, port: int) -> None:
        """No sink runs there any more."""
        if port in PORTS:
            self.free.append(port)

    def copy(self, target: Path, port: int) -> None:
        """A profile for a tablet of the sink at this port; nothing where the app was never opened there."""
        if port in PORTS and not target.exists():
            shutil.copytree(self.profile, target, ignore=shutil.ignore_patterns(*LEFT_OUT))


def unused(port: int) -> bool:
    """Whether nobody listens at this port."""
    with socket.socket() as asked:
        asked.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            asked.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def wear(laid: House, folder: Path, playwright: Playwright, chromium: str) -> Worn:
    """Opens the app at each port with one profile, as far as its first screen."""
    worn = Worn(folder / "profile")
    shutil.copytree(laid.folder, folder / "record")
    first = os.getpid() % len(PORTS)
    for port in [*PORTS[first:], *PORTS[:first]]:
        if len(worn.free) == AT_ONCE:
            break
        if not unused(port):
            continue
        server = QuickServer(folder / "record")
        server.port = port
        server.start()
        context = launch(playwright, chromium, worn.profile)
        context.pages[0].goto(server.url)
        settled(context.pages[0])
        controlled(context.pages[0])
        context.close()
        server.close()
        worn.free.append(port)
    return worn
