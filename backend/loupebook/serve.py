"""`loupebook serve`: one process, one loopback address, stopped without loss."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator

import uvicorn

from loupebook import __version__, demo
from loupebook.app import create_app
from loupebook.door.stations import first_code
from loupebook.folder import FolderRefused, hold, open_folder
from loupebook.installation import Installation
from loupebook.log.engine import journal_note
from loupebook.settings import Settings

HOST = "127.0.0.1"
TRIES = 50
EXIT_FOLDER = 5
EXIT_PORT = 6


class PortRefused(Exception):
    """No port could be had. The text says which were tried."""


def open_port(wanted: int) -> socket.socket:
    """A bound socket on the wanted port, else on the next free one (0 = any free one).

    Raises PortRefused after 50 ports. Binding here, not asking first, leaves no gap for another program.
    """
    for port in range(wanted, min(wanted + TRIES, 65536)):
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind((HOST, port))
            return sock
        except OSError:
            sock.close()
    last = min(wanted + TRIES, 65536) - 1
    raise PortRefused(f"No port from {wanted} to {last} can be had. Nothing was started. Give another: --port N.")


def serve(settings: Settings) -> int:
    """Serves until stopped; the process's exit code."""
    folder = settings.folder
    try:
        instance = open_folder(folder, "demo" if settings.demo else "own", __version__)
        sock = open_port(settings.port)
    except FolderRefused as refused:
        print(refused, file=sys.stderr)
        return EXIT_FOLDER
    except PortRefused as refused:
        print(refused, file=sys.stderr)
        return EXIT_PORT
    address = f"http://{HOST}:{sock.getsockname()[1]}"
    try:
        held = hold(folder, address)
    except FolderRefused as refused:
        sock.close()
        print(refused, file=sys.stderr)
        return EXIT_FOLDER
    with held, sock:
        installation = Installation(folder, instance.id, __version__)
        if settings.demo:
            demo.lay_in(installation)
        _run(settings, installation, sock, address)
    print("Stopped. What was said to be on the server is in the data folder.", flush=True)
    return 0


def greeting(settings: Settings, address: str) -> str:
    """What is said at start: version, data folder, address, how to stop, how to back up."""
    port = int(address.rsplit(":", 1)[1])
    lines = [
        f"Loupebook {__version__}",
        f"  Data folder  {settings.folder}" + ("  (demo: invented records only)" if settings.demo else ""),
        f"  Open         {address}",
        "  Stop         Ctrl+C in this window",
        "  Back up      stop it, then copy the whole data folder to another disk",
    ]
    if settings.port not in (0, port):
        lines.append(
            f"  Port {settings.port} was taken. What a browser saved under port {settings.port} and has not sent "
            "is still there, and shows again only when Loupebook runs on that port."
        )
    return "\n".join(lines)


def _run(settings: Settings, installation: Installation, sock: socket.socket, address: str) -> None:
    config = uvicorn.Config(
        create_app(settings, installation),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=10,
        lifespan="on",
    )
    server = _Announcing(config, lambda: _announce(settings, installation, address))
    server.run(sockets=[sock])


def _announce(settings: Settings, installation: Installation, address: str) -> None:
    print(greeting(settings, address), flush=True)
    if (code := first_code(installation.door)) is not None:
        print(f"  First code   {code}  (for the first lead and the first tablet; it works once, until this stops)")
    if (note := journal_note()) is not None:
        print(f"  Database     {note}")
    sys.stdout.flush()
    if settings.browser and _has_screen():
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _has_screen() -> bool:
    """Whether a browser could be seen here: not over ssh, not on a machine without a display."""
    if sys.platform in ("win32", "darwin"):
        return "SSH_CONNECTION" not in os.environ
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


class _Announcing(uvicorn.Server):
    """uvicorn that says where it is once it really answers, not before."""

    def __init__(self, config: uvicorn.Config, announce: Callable[[], None]) -> None:
        super().__init__(config)
        self._announce = announce

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stops in peace on Ctrl+C or a service manager's stop.

        uvicorn's own version raises the signal again afterwards, which would end the process
        before it has said that it stopped, and with the signal as its exit code.
        """
        before = {number: signal.signal(number, self.handle_exit) for number in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._announce()
