"""What every vault does, whatever keeps the bytes: a folder, memory, later an object store."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import BinaryIO, Literal, Protocol

from loupebook.vault.errors import Damaged
from loupebook.vault.names import Sha256

Outcome = Literal["stored", "already"]
"""stored: these bytes are durable because of this call. already: they were durable before it; both are a yes."""

Flaw = Literal["altered", "unreadable", "missing", "stray"]
"""altered: another hash. unreadable: the disk will not give it. missing: named, not here. stray: no photo's name."""


@dataclass(frozen=True)
class Damage:
    """One thing a scrub found: the name (a file name for a stray) and what is wrong with it."""

    name: str
    flaw: Flaw


class Receiving(Protocol):
    """One photo on its way in. Not kept until `keep` has returned; dropped by `drop`, by any refusal, by a crash."""

    def write(self, piece: bytes) -> None:
        """Take the next bytes. WrongLength when more come than announced; NoRoom; Broken."""

    def keep(self) -> Outcome:
        """Make the photo durable under its name, then say so. WrongLength, WrongHash, NoRoom, Broken."""

    def drop(self) -> None:
        """Forget what came. May be called twice, and after `keep` (then it does nothing)."""


class Vault(Protocol):
    """Photo bytes by hash. Calls block (disk, network) and may come from many threads at once."""

    def receive(self, sha256: Sha256, length: int) -> Receiving:
        """Begin to take one photo of `length` bytes. TooLarge, NoRoom, Broken, before any byte is read."""

    def holds(self, sha256: Sha256) -> bool:
        """True when the photo is here, was read back just now with the right hash, and is durable. Broken."""

    def exists(self, sha256: Sha256) -> bool:
        """True when there is something of that name; says nothing of its state."""

    def open(self, sha256: Sha256) -> BinaryIO:
        """The bytes as a stream, unchecked, to be closed by the caller. Missing, Damaged."""

    def erase(self, sha256: Sha256) -> bool:
        """Remove the bytes, durably; False when there were none. Derived pictures are the caller's to erase."""

    def scrub(self, named: Iterable[Sha256] = ()) -> Iterator[Damage]:
        """Hash everything again and yield what is wrong; `named` are the photos that ought to be here."""


def put(vault: Vault, pieces: Iterable[bytes], sha256: Sha256, length: int) -> Outcome:
    """Store one photo from its pieces; the refusals of `receive`, `write` and `keep`."""
    receiving = vault.receive(sha256, length)
    try:
        for piece in pieces:
            receiving.write(piece)
        return receiving.keep()
    finally:
        receiving.drop()


def read_checked(vault: Vault, sha256: Sha256) -> bytes:
    """The whole photo (at most 12 MB), re-hashed: Damaged instead of a wrong picture, Missing when there is none."""
    with vault.open(sha256) as stream:
        try:
            data = stream.read()
        except OSError as broken:
            raise Damaged(f"photo {sha256} cannot be read: {broken.strerror}") from broken
    if hashlib.sha256(data).hexdigest() != sha256:
        raise Damaged(f"photo {sha256} has other bytes than its name says")
    return data
