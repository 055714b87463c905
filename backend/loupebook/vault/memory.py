"""A vault in memory, for tests and for the demo that keeps nothing."""

from __future__ import annotations

import hashlib
import io
import threading
from collections.abc import Iterable, Iterator
from typing import BinaryIO

from loupebook.vault.errors import Missing, NoRoom, TooLarge, WrongHash, WrongLength
from loupebook.vault.names import LONGEST_BYTES, Sha256
from loupebook.vault.port import Damage, Outcome


class MemoryVault:
    """Holds photos in a dict, at most `room` bytes of them (None: no end). Durable as long as the process."""

    def __init__(self, room: int | None = None) -> None:
        self._photos: dict[Sha256, bytes] = {}
        self.room = room
        self._lock = threading.Lock()

    def receive(self, sha256: Sha256, length: int) -> _MemoryReceiving:
        if length > LONGEST_BYTES:
            raise TooLarge(f"{length} bytes; the limit is {LONGEST_BYTES}")
        with self._lock:
            held = sum(map(len, self._photos.values()))
        if self.room is not None and held + length > self.room:
            raise NoRoom("the vault in memory is full")
        return _MemoryReceiving(self, sha256, length)

    def holds(self, sha256: Sha256) -> bool:
        data = self._photos.get(sha256)
        return data is not None and hashlib.sha256(data).hexdigest() == sha256

    def exists(self, sha256: Sha256) -> bool:
        return sha256 in self._photos

    def open(self, sha256: Sha256) -> BinaryIO:
        try:
            return io.BytesIO(self._photos[sha256])
        except KeyError:
            raise Missing(f"no photo {sha256}") from None

    def erase(self, sha256: Sha256) -> bool:
        with self._lock:
            return self._photos.pop(sha256, None) is not None

    def scrub(self, named: Iterable[Sha256] = ()) -> Iterator[Damage]:
        for sha256, data in sorted(self._photos.items()):
            if hashlib.sha256(data).hexdigest() != sha256:
                yield Damage(sha256, "altered")
        for sha256 in named:
            if sha256 not in self._photos:
                yield Damage(sha256, "missing")

    def alter(self, sha256: Sha256, data: bytes) -> None:
        """Put other bytes under a name: rot, for tests."""
        self._photos[sha256] = data

    def _keep(self, sha256: Sha256, data: bytes) -> Outcome:
        with self._lock:
            if self.holds(sha256):
                return "already"
            self._photos[sha256] = data
            return "stored"


class _MemoryReceiving:
    def __init__(self, vault: MemoryVault, sha256: Sha256, length: int) -> None:
        self._vault, self._sha256, self._length = vault, sha256, length
        self._data = bytearray()

    def write(self, piece: bytes) -> None:
        if len(self._data) + len(piece) > self._length:
            raise WrongLength(f"more than the {self._length} bytes announced")
        self._data += piece

    def keep(self) -> Outcome:
        if len(self._data) != self._length:
            raise WrongLength(f"{len(self._data)} of {self._length} bytes came")
        if hashlib.sha256(self._data).hexdigest() != self._sha256:
            raise WrongHash("the bytes are not the ones the name says")
        return self._vault._keep(self._sha256, bytes(self._data))

    def drop(self) -> None:
        self._data.clear()
