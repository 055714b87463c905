"""A small server that keeps to the contract of sending, and a network between that does not.

It stands in where a fault must come at an exact place. It holds lines and photos in memory, checks what the
contract says it checks (place, link, hash, signature, photo named first), and can be told to fail.
"""

from __future__ import annotations

import hashlib
import json
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

from browser.bundle import bundle
from loupebook.headers import HEADERS
from loupebook.record.hashes import chain_id, entry_hash
from loupebook.record.heads import unbase64url, verify_head

Fault = str
"""How a request fails: `swallow` (done, but the answer is lost), `cut` (half of the answer, then the end),
`trickle` (a few bytes of the answer, then the line is reset), `html` (a captive page with status 200),
`redirect`, `broken` (500 from a proxy), `unheard` (the line is closed before anything is read)."""


def build_page(folder: Path) -> None:
    """Builds the bare page of the record into `folder`."""
    bundle("../tests/browser/pages/store/vite.config.mjs", folder)
    (folder / "favicon.ico").touch()  # a browser asks for it, and a 404 would be a line on its console


@dataclass
class Kept:
    """What the server has: lines by chain, keys, photos, and what the network is to do next."""

    epoch: dict[str, object] = field(default_factory=lambda: {"n": 1, "id": "first"})
    keys: dict[str, bytes] = field(default_factory=dict)
    lines: dict[str, list[bytes]] = field(default_factory=dict)
    strays: dict[str, list[bytes]] = field(default_factory=dict)
    photos: dict[str, bytes] = field(default_factory=dict)
    named: dict[str, int] = field(default_factory=dict)
    chained: list[dict[str, Any]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    failed: list[tuple[Fault, str]] = field(default_factory=list)
    aside: str | None = None
    asked: list[tuple[str, int]] = field(default_factory=list)
    """Every write as it came: "POST chains" or "PUT <sha256>", and the bytes of its body."""
    markers: list[dict[str, Any]] = field(default_factory=list)
    marked: threading.Condition = field(default_factory=threading.Condition)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def head(self, chain: str) -> dict[str, object]:
        lines = self.lines[chain]
        hash = entry_hash(lines[-1]) if lines else chain
        return {"epoch": self.epoch, "seq": len(lines), "hash": hash, "backed_up_seq": 0}

    def keep_key(self, public_key: str) -> str:
        spki = unbase64url(public_key)
        chain = chain_id(spki)
        self.keys[chain] = spki
        self.lines.setdefault(chain, [])
        return chain

    def take(self, chain: str, first: int, body: bytes) -> tuple[int, dict[str, object]]:
        """One batch: checks the head's signature, then keeps each line once. Answers status and JSON."""
        *lines, tail = body.removesuffix(b"\n").split(b"\n")
        head = json.loads(tail)["head"]
        assert verify_head(self.keys[chain], chain, head["seq"], head["hash"], head["sig"]), "a bad signature"
        assert head["hash"] == entry_hash(lines[-1]), "the head is not the last line's"
        kept = self.lines[chain]
        if first > len(kept) + 1:
            return 409, {**self.head(chain), "trouble": {"code": "gap", "so": "", "safe": "", "next": ""}}
        receipts: list[dict[str, object]] = []
        for seq, line in enumerate(lines, first):
            receipts.append(
                {"seq": seq, "hash": entry_hash(line), "state": self._keep(chain, seq, line), **self._verdict()}
            )
        wanted = [sha256 for sha256 in self.named if sha256 not in self.photos]
        forked = any(receipt["state"] == "stray" for receipt in receipts)
        return 200, {**self.head(chain), "receipts": receipts, "wanted": wanted} | ({"forked": True} if forked else {})

    def _verdict(self) -> dict[str, object]:
        return {"verdict": "counted"} if self.aside is None else {"verdict": "aside", "reason": self.aside}

    def _keep(self, chain: str, seq: int, line: bytes) -> str:
        kept = self.lines[chain]
        if seq <= len(kept):
            if kept[seq - 1] == line:
                return "already"
            return self._stray(chain, line)
        entry = json.loads(line)
        prev = entry_hash(kept[-1]) if kept else chain
        if self.strays.get(chain) or entry["prev"] != prev:
            return self._stray(chain, line)
        kept.append(line)
        self._name(line)
        return "stored"

    def _stray(self, chain: str, line: bytes) -> str:
        """A forked line is kept whole, its photos too."""
        if line not in self.strays.setdefault(chain, []):
            self.strays[chain].append(line)
            self._name(line)
        return "stray"

    def _name(self, line: bytes) -> None:
        self.named.update({photo["sha256"]: photo["bytes"] for photo in json.loads(line)["photos"]})

    def wait_for_markers(self, count: int, timeout_s: float = 60) -> list[dict[str, Any]]:
        """The first `count` saves that were said to be durable, once they came."""
        with self.marked:
            assert self.marked.wait_for(lambda: len(self.markers) >= count, timeout_s), f"{len(self.markers)} saves"
            return list(self.markers)


class Handler(SimpleHTTPRequestHandler):
    """One request: the fault that is next, then the contract."""

    protocol_version = "HTTP/1.1"
    kept: Kept

    def __init__(self, *given: Any, kept: Kept, folder: Path) -> None:
        self.kept = kept
        super().__init__(*given, directory=str(folder))

    def end_headers(self) -> None:
        for name, value in HEADERS.items():
            self.send_header(name, value)
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Says nothing."""

    def do_GET(self) -> None:
        path = urlsplit(self.path).path
        if path.startswith("/chains/"):
            self._answer(lambda _: (200, self.kept.head(path.split("/")[2])))
        else:
            super().do_GET()

    def do_POST(self) -> None:
        path = urlsplit(self.path).path
        if path == "/marker":
            return self._mark()
        if path == "/door/enrol":
            return self._answer(self._enrol)
        if path == "/door/chain":
            return self._answer(self._chain)
        first = int(parse_qs(urlsplit(self.path).query)["from"][0])
        return self._answer(lambda body: self.kept.take(path.split("/")[2], first, body))

    def do_PUT(self) -> None:
        sha256 = urlsplit(self.path).path.rsplit("/", 1)[1]
        self._answer(partial(self._photo, sha256))

    def _mark(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        with self.kept.marked:
            self.kept.markers.append(json.loads(body))
            self.kept.marked.notify_all()
        self._say(200, b"{}")

    def _enrol(self, body: bytes) -> tuple[int, dict[str, object]]:
        chain = self.kept.keep_key(json.loads(body)["public_key"])
        return 201, {"station": "sink-1", "chain": chain, "token": "token", "facility": {}, "epoch": self.kept.epoch}

    def _chain(self, body: bytes) -> tuple[int, dict[str, object]]:
        asked = json.loads(body)
        chain = self.kept.keep_key(asked["public_key"])
        if all(each["public_key"] != asked["public_key"] for each in self.kept.chained):
            self.kept.chained.append(asked)
        return 201, {"chain": chain}

    def _photo(self, sha256: str, body: bytes) -> tuple[int, dict[str, object]]:
        if self.kept.named.get(sha256) != len(body) or hashlib.sha256(body).hexdigest() != sha256:
            return 409, {"trouble": {"code": "entry_first", "so": "", "safe": "", "next": ""}}
        state = "already" if sha256 in self.kept.photos else "stored"
        self.kept.photos[sha256] = body
        return 201, {"photo": sha256, "state": state, "bytes": len(body), "epoch": self.kept.epoch}

    def _answer(self, act: Callable[[bytes], tuple[int, dict[str, object]]]) -> None:
        with self.kept.lock:
            fault = self.kept.faults.pop(0) if self.kept.faults else None
            if fault is not None:
                self.kept.failed.append((fault, f"{self.command} {urlsplit(self.path).path.split('/')[1]}"))
        if fault == "unheard":
            return self._reset()
        body = self.rfile.read(int(self.headers.get("content-length") or 0))
        if self.command != "GET":
            place = urlsplit(self.path).path.split("/")
            with self.kept.lock:
                self.kept.asked.append((f"{self.command} {place[2] if self.command == 'PUT' else place[1]}", len(body)))
        match fault:
            case "html":
                return self._say(200, b"<!doctype html><title>Welcome</title>", "text/html")
            case "broken":
                return self._say(500, b"<h1>Bad gateway</h1>", "text/html")
            case "redirect":
                self.send_response(302)
                self.send_header("location", "/index.html")
                self.send_header("content-length", "0")
                return self.end_headers()
        with self.kept.lock:
            status, answer = act(body)
        sent = json.dumps(answer).encode()
        match fault:
            case "swallow":
                return self._reset()
            case "cut" | "trickle":
                self._start(status, len(sent), "application/json")
                for at in range(0, len(sent) // 2, 8 if fault == "trickle" else len(sent)):
                    self.wfile.write(sent[at : at + (8 if fault == "trickle" else len(sent) // 2)])
                    self.wfile.flush()
                return self._reset()
        return self._say(status, sent)

    def _say(self, status: int, body: bytes, type: str = "application/json") -> None:
        self._start(status, len(body), type)
        self.wfile.write(body)

    def _start(self, status: int, length: int, type: str) -> None:
        self.send_response(status)
        self.send_header("content-type", type)
        self.send_header("content-length", str(length))
        self.end_headers()

    def _reset(self) -> None:
        self.close_connection = True
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A browser that was killed leaves its lines broken; nobody needs to read that."""


@contextmanager
def store_server(page: Path) -> Iterator[tuple[str, Kept]]:
    """The built page and the contract on a free loopback port: its address, and what it keeps."""
    kept = Kept()
    server = _Server(("127.0.0.1", 0), partial(Handler, kept=kept, folder=page))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}", kept
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
