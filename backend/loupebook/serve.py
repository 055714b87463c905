"""`loupebook serve`: one process, one loopback address, tablets in the building if asked for, stopped without loss."""

from __future__ import annotations

import contextlib
import os
import shlex
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import uvicorn

from loupebook import __version__, demo
from loupebook.app import create_app
from loupebook.beside import Company, servers
from loupebook.door.stations import first_code
from loupebook.folder import FolderRefused, hold, open_folder
from loupebook.heads_out import ways_of
from loupebook.installation import Installation
from loupebook.log.engine import journal_note
from loupebook.migrations.shape import CannotBeBroughtUp
from loupebook.network.building import Building, Wanted, known_elsewhere, open_building, remember
from loupebook.network.trouble import NetworkRefused
from loupebook.settings import Settings

HOST = "127.0.0.1"
TRIES = 50
EXIT_SETTING = 2
EXIT_FOLDER = 5
EXIT_PORT = 6


class PortRefused(Exception):
    """No port could be had. The text says which were tried."""


def open_port(wanted: int, host: str = HOST) -> socket.socket:
    """A bound socket on the wanted port, else on the next free one (0 = any free one).

    Raises PortRefused after 50 ports. Binding here, not asking first, leaves no gap for another program.
    """
    for port in range(wanted, min(wanted + TRIES, 65536)):
        with contextlib.suppress(OSError):
            return _bound(host, port)
    last = min(wanted + TRIES, 65536) - 1
    raise PortRefused(f"No port from {wanted} to {last} can be had. Nothing was started. Give another: --port N.")


def _bound(host: str, port: int) -> socket.socket:
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
    except OSError:
        sock.close()
        raise
    return sock


@dataclass(frozen=True)
class Sockets:
    """What the building is served on: https, and the plain page."""

    https: Sequence[socket.socket] = ()
    plain: Sequence[socket.socket] = ()

    def close(self) -> None:
        """Gives the ports back."""
        for sock in (*self.https, *self.plain):
            sock.close()


def open_sockets(building: Building, help_port: int) -> Sockets:
    """The building's ports. Raises PortRefused: the https port is part of what tablets know, so no other is taken."""
    https: list[socket.socket] = []
    for host in building.bind:
        for port in building.ports:
            try:
                https.append(_bound(host, port))
            except OSError as trouble:
                Sockets(https).close()
                raise PortRefused(
                    f"Port {port} of {host} cannot be had: {trouble.strerror}. Tablets know this port, so no other was "
                    "taken. Nothing was started. End the program that has it; or, before any tablet is set up, give "
                    "another: --lan-port N."
                ) from trouble
    try:
        first = open_port(help_port, building.bind[0]) if building.bind else None
    except PortRefused:
        Sockets(https).close()
        raise
    return Sockets(https, () if first is None else (first,))


def serve(settings: Settings) -> int:
    """Serves until stopped; the process's exit code. Raises SettingRefused before anything is opened."""
    folder = settings.folder
    ways_of(settings)
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
        try:
            building, sockets = _building(settings)
        except NetworkRefused as refused:
            print(refused, file=sys.stderr)
            return EXIT_SETTING
        except PortRefused as refused:
            print(refused, file=sys.stderr)
            return EXIT_PORT
        try:
            if settings.demo:
                demo.lay_in(folder, instance.id, __version__)
            installation = Installation(folder, instance.id, __version__, building)
        except CannotBeBroughtUp as refused:
            sockets.close()
            print(refused, file=sys.stderr)
            return EXIT_FOLDER
        _run(settings, installation, sock, sockets, address)
    print("Stopped. What was said to be on the server is in the data folder.", flush=True)
    return 0


def _building(settings: Settings) -> tuple[Building | None, Sockets]:
    """How tablets reach this server, with its ports bound and its address remembered."""
    wanted = Wanted(
        settings.lan, settings.name, settings.addresses, settings.lan_port,
        settings.certificate, settings.key, settings.moved_from,
    )  # fmt: skip
    building = open_building(settings.folder, wanted, datetime.now(UTC))
    if building is None:
        return None, Sockets()
    sockets = open_sockets(building, settings.help_port)
    remember(settings.folder, building)
    if sockets.plain:
        port = sockets.plain[0].getsockname()[1]
        building = replace(building, help_address=f"http://{building.addresses[0]}:{port}/")
    return building, sockets


def building_words(building: Building) -> str:
    """What is said at start of tablets: their one address, how to set one up, what to compare, until when."""
    lines = [f"  Tablets      {building.address}"]
    if building.old is not None:
        lines.append(f"               and {building.old.address}, until every tablet has sent what it holds")
    if building.help_address is not None:
        lines.append(f"  Set-up page  {building.help_address}")
    if building.fingerprint is not None:
        lines.append(f"  Fingerprint  {building.fingerprint}  (print it; compare it before a tablet trusts the file)")
    if building.tls is not None:
        until, own = building.tls.certificate.until, building.tls.certificate.own
        how = "bring its files up to date before" if own else "the server renews it by itself"
        lines.append(f"  Certificate  until {until:%d %b %Y}; {how}")
    return "\n".join([*lines, *(f"  {note}" for note in building.notes)])


def _backup_command(settings: Settings) -> str:
    """The command to type in the checkout; it finds the folder this start found."""
    data = ["--data", str(settings.folder)] if settings.data is not None else []
    return shlex.join(["python3", "backend/start.py", "backup", "NEW_FOLDER", *data, *(["--demo"] * settings.demo)])


def greeting(settings: Settings, address: str) -> str:
    """What is said at start: version, data folder, address, how to stop, how to back up."""
    port = int(address.rsplit(":", 1)[1])
    lines = [
        f"Loupebook {__version__}",
        f"  Data folder  {settings.folder}" + ("  (demo: invented records only)" if settings.demo else ""),
        f"  Open         {address}",
        "  Stop         Ctrl+C in this window",
        f"  Back up      {_backup_command(settings)}, also while it runs (README.md, Backing up)",
    ]
    if settings.port not in (0, port):
        lines.append(
            f"  Port {settings.port} was taken. What a browser saved under port {settings.port} and has not sent "
            "is still there, and shows again only when Loupebook runs on that port."
        )
    return "\n".join(lines)


def _run(settings: Settings, installation: Installation, sock: socket.socket, sockets: Sockets, address: str) -> None:
    app = create_app(settings, installation)
    building = installation.building
    beside = [] if building is None else servers(app, building, sockets.https, sockets.plain)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=10,
        lifespan="on",
    )
    company = Company(beside, None if building is None else building.tls)
    server = _Announcing(config, company, lambda: _announce(settings, installation, address))
    server.run(sockets=[sock])


def _announce(settings: Settings, installation: Installation, address: str) -> None:
    print(greeting(settings, address), flush=True)
    if (building := installation.building) is not None:
        print(building_words(building))
    elif (known := known_elsewhere(settings.folder)) is not None:
        print(f"  Tablets      {known}")
    if installation.before_upgrade is not None:
        print(f"  Upgraded     an earlier version's record; as it was it lies in {installation.before_upgrade}")
    if (code := first_code(installation.door)) is not None:
        print(f"  First code   {code}  (for the first lead and the first tablet; it works once, until this stops)")
    if settings.demo:
        print("\n".join(demo.said_at_start(installation)))
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

    def __init__(self, config: uvicorn.Config, company: Company, announce: Callable[[], None]) -> None:
        super().__init__(config)
        self._company = company
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
            await self._company.begin()
            self._announce()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        # First those beside: what this one ends with, the record itself, they still answer from.
        await self._company.end()
        await super().shutdown(sockets)
