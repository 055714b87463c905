"""A server that is nothing but the log's two routes, in a process of its own that can be killed.

Processes are forked from one that has everything imported, so that a start takes some 50 ms and 500 kills are few
minutes. The station is who the header says: the door has its own tests.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import socket
from collections.abc import Mapping
from multiprocessing import forkserver
from multiprocessing.connection import Connection as Pipe
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import TracebackType

import httpx
import uvicorn
from fastapi import FastAPI, Request
from loupebook.log.routes import chain_routes
from tablet import PersonRow, StationRow, Tablet, World

FORKS = multiprocessing.get_context("forkserver")
TESTS = Path(__file__).parents[1]


def warm() -> None:
    """Starts the process to fork from, with everything imported; its import path comes from the environment only."""
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join([str(TESTS.parent / "backend"), str(TESTS)])
    try:
        FORKS.set_forkserver_preload(["faults.log_server"])
        forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before


def serve(folder: Path, stations: Mapping[str, StationRow], people: Mapping[str, PersonRow], told: Pipe) -> None:
    """Serves until killed; tells its port."""
    world = World(folder)
    world.door.stations.update(stations)
    world.door.people.update(people)

    async def station_of(request: Request) -> StationRow:
        name = request.headers.get("x-test-station", "")
        return StationRow(name, False, b"")

    app = FastAPI()
    app.include_router(chain_routes(world.log, station_of, station_of))
    listening = socket.create_server(("127.0.0.1", 0))
    told.send(listening.getsockname()[1])
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
    server.run(sockets=[listening])


class LogServer:
    """A running server on a folder. `kill` is SIGKILL."""

    def __init__(self, folder: Path, tablets: list[Tablet], people: Mapping[str, PersonRow] | None = None) -> None:
        self.folder = folder
        self._tablets = tablets
        self._people = dict(people or {})
        self._process: BaseProcess | None = None
        self.port = 0

    def start(self) -> LogServer:
        from loupebook.record.heads import public_der

        stations = {each.chain: StationRow(each.name, False, public_der(each.key)) for each in self._tablets}
        warm()
        here, there = FORKS.Pipe(duplex=False)
        self._process = FORKS.Process(target=serve, args=(self.folder, stations, self._people, there), daemon=True)
        self._process.start()
        there.close()
        self.port = here.recv()
        return self

    @property
    def pid(self) -> int:
        assert self._process is not None and self._process.pid is not None
        return self._process.pid

    def kill(self) -> None:
        """Ends it as a cut of its power would, as far as a process can be cut."""
        assert self._process is not None
        os.kill(self.pid, signal.SIGKILL)
        self._process.join(10)

    def client(self) -> httpx.Client:
        return httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=30)

    def post(self, client: httpx.Client, tablet: Tablet, first: int, last: int | None = None) -> httpx.Response:
        return self.post_body(client, tablet, first, tablet.batch(first, last))

    def post_body(self, client: httpx.Client, tablet: Tablet, first: int | str, body: bytes) -> httpx.Response:
        path = f"/chains/{tablet.chain}/entries?from={first}"
        return client.post(path, content=body, headers={"x-test-station": tablet.name, "x-loupebook": "1"})

    def __enter__(self) -> LogServer:
        return self.start()

    def __exit__(self, kind: type[BaseException] | None, what: BaseException | None, at: TracebackType | None) -> None:
        if self._process is not None and self._process.is_alive():
            self.kill()
