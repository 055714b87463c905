"""RR, the raw reference: the least a server must do with a drain. No HTTP, no rights, no rules, no tables to read.

Frames over TCP, a thread a connection: a kind, a length, for a photo its SHA-256, then the bytes. A photo is hashed
while it comes, written, synced, renamed, its folder synced; then its row. Lines are hashed; their rows and those of
photos are committed by one thread, once for all who wait, SQLite in WAL with synchronous=FULL. One byte is the answer.

    python tests/bench/_raw.py FOLDER     prints its port
"""

from __future__ import annotations

import hashlib
import os
import queue
import socket
import struct
import sys
import threading
from concurrent.futures import Future
from pathlib import Path
from typing import Any

FRAME = struct.Struct("!cI32s")
Rows = list[tuple[str, bytes]]


class Writer:
    """Commits rows once for all who wait."""

    def __init__(self, folder: Path) -> None:
        from loupebook.log.engine import sqlite_module

        driver: Any = sqlite_module()
        self._database = driver.connect(str(folder / "raw.sqlite"), isolation_level=None, check_same_thread=False)
        for pragma in ("journal_mode=WAL", "synchronous=FULL"):
            self._database.execute(f"PRAGMA {pragma}")
        self._database.execute("CREATE TABLE rows (position INTEGER PRIMARY KEY, hash TEXT UNIQUE, line BLOB)")
        self._jobs: queue.SimpleQueue[tuple[Rows, Future[None]]] = queue.SimpleQueue()
        threading.Thread(target=self._run, daemon=True).start()

    def add(self, rows: Rows) -> None:
        """Durable when it returns."""
        done: Future[None] = Future()
        self._jobs.put((rows, done))
        done.result()

    def _run(self) -> None:
        while True:
            group = [self._jobs.get()]
            while not self._jobs.empty():
                group.append(self._jobs.get())
            self._database.execute("BEGIN IMMEDIATE")
            for rows, _ in group:
                self._database.executemany("INSERT INTO rows (hash, line) VALUES (?, ?)", rows)
            self._database.execute("COMMIT")
            for _, done in group:
                done.set_result(None)


def serve(connection: socket.socket, folder: Path, writer: Writer) -> None:
    """One connection, until the other side ends it."""
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    buffer = bytearray(256 * 1024)
    with connection:
        while head := exactly(connection, memoryview(buffer)[: FRAME.size]):
            kind, length, sha256 = FRAME.unpack(head)
            if kind == b"E":
                lines = bytes(exactly(connection, memoryview(bytearray(length)))).split(b"\n")
                writer.add([(hashlib.sha256(line).hexdigest(), line) for line in lines if line])
            else:
                photo(connection, folder, buffer, length, sha256.hex())
                writer.add([(sha256.hex(), b"")])
            connection.sendall(b"K")


def photo(connection: socket.socket, folder: Path, buffer: bytearray, length: int, sha256: str) -> None:
    """Bytes to a durable file under their own name."""
    hashing, temp = hashlib.sha256(), folder / f"{sha256}.part"
    with open(temp, "wb", buffering=0) as file:
        while length:
            piece = exactly(connection, memoryview(buffer)[: min(length, len(buffer))])
            hashing.update(piece)
            file.write(piece)
            length -= len(piece)
        os.fsync(file.fileno())
    assert hashing.hexdigest() == sha256
    temp.rename(folder / sha256)
    handle = os.open(folder, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def exactly(connection: socket.socket, into: memoryview) -> memoryview:
    """So many bytes; nothing where the other side has ended."""
    at = 0
    while at < len(into):
        came = connection.recv_into(into[at:])
        if not came:
            return into[:0]
        at += came
    return into


def main() -> None:
    folder = Path(sys.argv[1])
    writer = Writer(folder)
    listening = socket.create_server(("127.0.0.1", 0), backlog=128)
    print(listening.getsockname()[1], flush=True)
    while True:
        connection, _ = listening.accept()
        threading.Thread(target=serve, args=(connection, folder, writer), daemon=True).start()


if __name__ == "__main__":
    main()
