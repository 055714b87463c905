"""The log's two routes served by a process of its own, so that a tracer can stand between it and the disk.

    python tests/bench/_log_server.py FOLDER STATIONS MOST_JOBS     prints its port

STATIONS: a file of {chain: {station, spki in base64url}}. MOST_JOBS: jobs in one commit; 1 = a commit a request, which
the product never does.
"""

from __future__ import annotations

import json
import socket
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "backend"), str(ROOT / "tests")]

import uvicorn  # noqa: E402
from fastapi import FastAPI, Request  # noqa: E402
from loupebook.log import writer  # noqa: E402
from loupebook.log.routes import chain_routes  # noqa: E402
from loupebook.record.heads import unbase64url  # noqa: E402
from tablet import StationRow, World  # noqa: E402


def main() -> None:
    folder, stations, most = Path(sys.argv[1]), json.loads(Path(sys.argv[2]).read_text()), int(sys.argv[3])
    writer.MOST_JOBS = most
    world = World(folder)
    for chain, row in stations.items():
        world.door.stations[chain] = StationRow(row["station"], False, unbase64url(row["spki"]))

    async def station_of(request: Request) -> StationRow:
        return StationRow(request.headers.get("x-test-station", ""), False, b"")

    app = FastAPI()
    app.include_router(chain_routes(world.log, station_of, station_of))
    listening = socket.create_server(("127.0.0.1", 0), backlog=128)
    print(listening.getsockname()[1], flush=True)
    uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off")).run(sockets=[listening])


if __name__ == "__main__":
    main()
