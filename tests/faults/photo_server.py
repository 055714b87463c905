"""A server with the real photo routes on a real folder, and plain stand-ins for log and door.

Run as a program (`photo_server.py FOLDER FD`) it serves the listening socket it inherits; `PhotoServer`
runs it, kills it and starts it again. Its folder holds `named.json` ({sha256: bytes}) and `rows` (one line
a receipt, synced before the receipt).
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

BACKEND = Path(__file__).parents[2] / "backend"
INSTANCE = "i-1"


class PhotoServer:
    """The server process on a loopback port that stays the same over restarts."""

    def __init__(self, folder: Path, reserve_bytes: int = 0) -> None:
        self.folder = folder
        self._reserve_bytes = reserve_bytes
        self._named: dict[str, int] = {}
        self._listening = socket.create_server(("127.0.0.1", 0), backlog=64)
        self._process: subprocess.Popen[bytes] | None = None
        self.address: tuple[str, int] = self._listening.getsockname()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.address[1]}"

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def name(self, sha256: str, length: int) -> None:
        """As if an entry naming this photo had been received."""
        self._named[sha256] = length
        (self.folder / "named.json").write_text(json.dumps(self._named))

    def start(self, *before: str) -> None:
        """Start it, behind a command such as strace if one is given. Connections wait in the socket until it is up."""
        fd = self._listening.fileno()
        self._process = subprocess.Popen(
            [*before, sys.executable, __file__, str(self.folder), str(fd), str(self._reserve_bytes)],
            pass_fds=[fd],
            env={**os.environ, "PYTHONPATH": str(BACKEND)},
        )

    def kill(self) -> None:
        """kill -9, and wait until it is gone."""
        assert self._process is not None
        self._process.kill()
        self._process.wait()

    def stop(self) -> None:
        """Ask it to end, wait, give up the port."""
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(signal.SIGTERM)
            self._process.wait()
        self._listening.close()

    def wait(self) -> int:
        """Wait until it ended by itself (a fault ended it); its return code."""
        assert self._process is not None
        return self._process.wait(60)

    def rows(self) -> list[str]:
        """The photos a row was written for, in order."""
        rows = self.folder / "rows"
        return rows.read_text().split() if rows.exists() else []

    def files(self) -> list[str]:
        """Names under `photos`, which are the photos the vault says it has."""
        return sorted(path.name for path in (self.folder / "vault" / "photos").rglob("*") if path.is_file())


def serve(arguments: Sequence[str]) -> None:
    import uvicorn
    from fastapi import FastAPI, Request
    from loupebook.looking import Looker, LookingQueue
    from loupebook.vault import Derived, FolderVault, Sha256
    from loupebook.vault.routes import NamedPhoto, PhotoDoors, Receipt, photo_routes

    folder, fd, reserve = Path(arguments[0]), int(arguments[1]), int(arguments[2])
    root = folder / "vault"
    opened = FolderVault(root, INSTANCE, reserve) if root.exists() else FolderVault.make(root, INSTANCE, reserve)
    opened.clear_leftovers()
    derived = Derived(folder / "derived")
    looking = LookingQueue(Looker(opened, derived), lambda sha256, look: None)
    writing = threading.Lock()

    def named(sha256: Sha256) -> NamedPhoto | None:
        lengths = json.loads((folder / "named.json").read_text())
        return NamedPhoto(sha256, lengths[sha256]) if sha256 in lengths else None

    def stored(sha256: Sha256, length: int) -> Receipt:
        with writing, open(folder / "rows", "a+") as rows:
            rows.seek(0)
            if sha256 not in rows.read().split():
                rows.write(sha256 + "\n")
                rows.flush()
                os.fsync(rows.fileno())
        return Receipt(1, "e-1")

    async def station_of(request: Request) -> str:
        return "sink-1"

    doors = PhotoDoors(
        named=named,
        stored=stored,
        received=lambda sha256: sha256 in (folder / "rows").read_text().split(),
        look_wanted=looking.offer,
        station_of=station_of,
        viewer_of=lambda: "lead",
        restricted=lambda sha256, viewer: False,
    )
    app = FastAPI(openapi_url=None)
    app.include_router(photo_routes(opened, derived, doors))
    uvicorn.Server(uvicorn.Config(app, fd=fd, log_level="warning", access_log=False)).run()
    looking.close()


if __name__ == "__main__":
    serve(sys.argv[1:])
