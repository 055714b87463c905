"""Photos over a bad connection and a server that dies: after it heals, each is there exactly once."""

from __future__ import annotations

import hashlib
import os
import shutil
import socket
import struct
import time
import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from faults.photo_server import INSTANCE, PhotoServer
from loupebook.vault import FolderVault

pytestmark = pytest.mark.sink

PHOTO = b"\xff\xd8\xff" + bytes(range(256)) * 8_000
"""Two megabytes: a part of it is written before all of it has come."""
PART = 1_500_000
NAME = hashlib.sha256(PHOTO).hexdigest()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[PhotoServer]:
    server = PhotoServer(tmp_path)
    server.name(NAME, len(PHOTO))
    yield server
    server.stop()


def put(server: PhotoServer, data: bytes = PHOTO, name: str = NAME) -> httpx.Response:
    with httpx.Client(trust_env=False, timeout=60) as http:
        return http.put(f"{server.url}/photos/{name}", content=data, headers={"X-Loupebook": "1"})


def by_hand(server: PhotoServer, body: bytes, announced: int = len(PHOTO)) -> socket.socket:
    """A connection on which the head and `body` were sent and nothing was read."""
    connection = socket.create_connection(server.address, timeout=60)
    head = f"PUT /photos/{NAME} HTTP/1.1\r\nHost: a\r\nX-Loupebook: 1\r\nContent-Length: {announced}\r\n\r\n"
    connection.sendall(head.encode() + body)
    return connection


def wait_for_incoming(server: PhotoServer) -> None:
    """Until the server has begun to write a photo down."""
    incoming, give_up = server.folder / "vault" / "incoming", time.monotonic() + 60
    while not (incoming.is_dir() and any(path.stat().st_size for path in incoming.iterdir())):
        assert time.monotonic() < give_up, "the server never began to write"
        os.sched_yield()


def test_a_cut_body_leaves_nothing_and_no_row(server: PhotoServer) -> None:
    server.start()
    connection = by_hand(server, PHOTO[:PART])
    wait_for_incoming(server)
    connection.close()
    server.stop()
    assert (server.files(), server.rows()) == ([], [])
    assert list((server.folder / "vault" / "incoming").iterdir()) == []


def test_a_reset_connection_leaves_nothing_and_the_photo_comes_whole_the_second_time(server: PhotoServer) -> None:
    server.start()
    connection = by_hand(server, PHOTO[:PART])
    wait_for_incoming(server)
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()
    assert put(server).json()["state"] == "stored"
    assert (server.files(), server.rows()) == ([NAME], [NAME])


def test_a_swallowed_reply_heals_by_already_with_one_row(server: PhotoServer) -> None:
    server.start()
    connection = by_hand(server, PHOTO)
    connection.recv(1, socket.MSG_PEEK)  # the reply is here; nobody will ever read it
    connection.close()
    again = put(server)
    assert (again.status_code, again.json()["state"]) == (200, "already")
    assert (server.files(), server.rows()) == ([NAME], [NAME])


def test_wrong_bytes_and_wrong_length_leave_nothing_and_the_right_ones_follow(server: PhotoServer) -> None:
    server.start()
    flipped = PHOTO[:-1] + b"\0"
    assert put(server, flipped).json()["trouble"]["code"] == "altered"
    assert put(server, PHOTO[:-1]).json()["trouble"]["code"] == "other_length"
    assert put(server, PHOTO + b"\0").json()["trouble"]["code"] == "other_length"
    assert (server.files(), server.rows()) == ([], [])
    assert put(server).status_code == 201


def test_a_full_reserve_refuses_photos_in_words(tmp_path: Path) -> None:
    server = PhotoServer(tmp_path, reserve_bytes=10**18)
    server.name(NAME, len(PHOTO))
    server.start()
    answer = put(server)
    server.stop()
    assert answer.status_code == 507
    assert answer.json()["trouble"]["code"] == "no_room"
    assert server.rows() == []


def test_eight_at_once_with_one_photo_make_one_file_and_one_row(server: PhotoServer) -> None:
    server.start()
    with ThreadPoolExecutor(8) as tablets:
        answers = list(tablets.map(lambda _: put(server), range(8)))
    assert [answer.json()["state"] for answer in answers].count("stored") == 1
    assert all(answer.status_code in (200, 201) for answer in answers)
    assert (server.files(), server.rows()) == ([NAME], [NAME])


def test_killed_half_way_through_a_photo_the_next_start_has_no_half_of_it(server: PhotoServer) -> None:
    server.start()
    connection = by_hand(server, PHOTO[:PART])
    wait_for_incoming(server)
    server.kill()
    connection.close()
    assert server.files() == []
    server.start()
    assert put(server).json()["state"] == "stored"
    assert (server.files(), server.rows()) == ([NAME], [NAME])
    assert list((server.folder / "vault" / "incoming").iterdir()) == []


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed here")
@pytest.mark.parametrize("call", ["rename", "unlink"])
def test_killed_at_the_rename_or_after_it_a_photo_is_whole_or_not_there(server: PhotoServer, call: str) -> None:
    """`unlink` is after file, name and folder are durable and before the row: the photo is there, its row is not."""
    FolderVault.make(server.folder / "vault", INSTANCE)
    server.start("strace", "-D", "-f", "-o", "/dev/null", "-e", f"inject={call}:signal=SIGKILL:when=1")
    with pytest.raises(httpx.TransportError):
        put(server)
    server.wait()
    assert server.rows() == []
    server.start()
    assert put(server).json()["state"] == ("stored" if call == "rename" else "already")
    assert (server.files(), server.rows()) == ([NAME], [NAME])
    with httpx.Client(trust_env=False, timeout=60) as http:
        assert http.get(f"{server.url}/photos/{NAME}").status_code in (200, 202)


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed here")
def test_a_photo_that_comes_alone_costs_three_syncs_with_its_row(server: PhotoServer) -> None:
    FolderVault.make(server.folder / "vault", INSTANCE)
    trace = server.folder / "trace"
    photos = [bytes([n]) * 50_000 for n in range(5)]
    for data in photos:
        server.name(hashlib.sha256(data).hexdigest(), len(data))
    server.start("strace", "-D", "-f", "-o", str(trace), "-e", "trace=fsync,fdatasync,sync,syncfs")
    for data in photos:
        assert put(server, data, hashlib.sha256(data).hexdigest()).status_code == 201
    server.stop()
    assert trace.read_text().count("sync(") == 3 * len(photos)


def bomb() -> bytes:
    """A PNG of 50,000 x 50,000 pixels in a few kB."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(5_000_000)))


def test_a_bomb_is_kept_as_it_came_never_shown_and_the_server_goes_on(server: PhotoServer) -> None:
    data = bomb()
    name = hashlib.sha256(data).hexdigest()
    server.name(name, len(data))
    server.start()
    assert put(server, data, name).status_code == 201
    give_up = time.monotonic() + 60
    with httpx.Client(base_url=server.url, trust_env=False, timeout=60) as http:
        while (shown := http.get(f"/photos/{name}?size=640")).status_code == 202:
            assert time.monotonic() < give_up, "never looked at"
        assert shown.json()["trouble"]["code"] == "cannot_be_shown"
        kept = http.get(f"/photos/{name}?size=full")
    assert (kept.status_code, kept.json()["trouble"]["code"]) == (415, "cannot_be_shown"), "what nobody could open"
    assert [path for path in server.folder.rglob("*") if path.is_file() and path.read_bytes() == data] != []
    assert put(server).status_code == 201
