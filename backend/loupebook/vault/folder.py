"""The vault in a folder: one file a photo, at a path made from its hash and nothing else.

    vault.json            marker: whose vault this is
    incoming/             photos on their way in; emptied by `clear_leftovers` at start
    photos/ab/<sha256>    256 folders, made beforehand, so that a new photo never makes a folder

Two fsyncs a photo: the file before its rename, the folder after it. With the row that follows in the log that
is three a photo that comes alone. A second folder level would cost one more and buys nothing: a million
photos are 4,000 files a folder.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import shutil
import tempfile
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO, NoReturn

from loupebook.vault.durable import sync_file, sync_folder
from loupebook.vault.errors import (
    Broken,
    Damaged,
    Missing,
    NoRoom,
    TooLarge,
    WrongFolder,
    WrongHash,
    WrongLength,
)
from loupebook.vault.names import LONGEST_BYTES, NotAHash, Sha256, sha256_name
from loupebook.vault.port import Damage, Outcome

MARKER = "vault.json"
RESERVE_BYTES = 1_000_000_000
"""Free space kept for entries: about a million of them. Photos are refused below it, entries are not (ours)."""

_FULL = {errno.ENOSPC, errno.EDQUOT}


class FolderVault:
    """Photos in `root`, which must carry this instance's marker.

    WrongFolder when it does not: an empty folder where photos ought to be is a volume that was not mounted.
    One process a folder; `clear_leftovers` is for that process alone, at its start.
    """

    def __init__(self, root: Path, instance: str, reserve_bytes: int = RESERVE_BYTES) -> None:
        _check_marker(root, instance)
        self._root = root
        self._reserve_bytes = reserve_bytes
        self._broken: str | None = None
        self._naming = threading.Lock()

    @classmethod
    def make(cls, root: Path, instance: str, reserve_bytes: int = RESERVE_BYTES) -> FolderVault:
        """A new vault in a folder that is missing or empty; WrongFolder for any other."""
        root.mkdir(parents=True, exist_ok=True)
        if any(root.iterdir()):
            raise WrongFolder(f"{root} is not empty, so no new vault is made there")
        (root / "incoming").mkdir()
        for first in range(256):
            (root / "photos" / f"{first:02x}").mkdir(parents=True)
        sync_folder(root / "photos")
        # the marker last: a folder with a marker is a whole one
        with open(root / MARKER, "x", encoding="ascii") as marker:
            json.dump({"loupebook_vault": 1, "instance": instance}, marker)
            marker.flush()
            sync_file(marker.fileno())
        sync_folder(root)
        sync_folder(root.parent)
        return cls(root, instance, reserve_bytes)

    @property
    def broken(self) -> str | None:
        """Why no photo is taken any more, or None while all is well."""
        return self._broken

    def clear_leftovers(self) -> int:
        """Remove what a crash left half received; the count. Only at start, by the process that owns the folder."""
        leftovers = list((self._root / "incoming").iterdir())
        for leftover in leftovers:
            leftover.unlink()
        return len(leftovers)

    def receive(self, sha256: Sha256, length: int) -> _FolderReceiving:
        self._refuse_when_broken()
        if length > LONGEST_BYTES:
            raise TooLarge(f"{length} bytes; the limit is {LONGEST_BYTES}")
        free = shutil.disk_usage(self._root).free
        if free - length < self._reserve_bytes:
            raise NoRoom(f"{free} bytes are free and {self._reserve_bytes} are kept for entries")
        return _FolderReceiving(self, sha256, length)

    def holds(self, sha256: Sha256) -> bool:
        self._refuse_when_broken()
        path = self._path(sha256)
        if _hash_of(path) != sha256:
            return False
        # The file was synced before it got its name; whether the name itself was, a crash may have left open.
        self._make_name_durable(path)
        return True

    def exists(self, sha256: Sha256) -> bool:
        return self._path(sha256).is_file()

    def open(self, sha256: Sha256) -> BinaryIO:
        try:
            return open(self._path(sha256), "rb")
        except FileNotFoundError:
            raise Missing(f"no photo {sha256}") from None
        except OSError as broken:
            raise Damaged(f"photo {sha256} cannot be opened: {broken.strerror}") from broken

    def erase(self, sha256: Sha256) -> bool:
        path = self._path(sha256)
        try:
            path.unlink()
        except FileNotFoundError:
            return False
        self._make_name_durable(path)
        return True

    def scrub(self, named: Iterable[Sha256] = ()) -> Iterator[Damage]:
        for folder in sorted((self._root / "photos").iterdir()):
            for path in sorted(folder.iterdir()):
                flaw = _flaw_of(path)
                if flaw is not None:
                    yield flaw
        for sha256 in named:
            if not self.exists(sha256):
                yield Damage(sha256, "missing")

    def _path(self, sha256: Sha256) -> Path:
        return self._root / "photos" / sha256[:2] / sha256

    def _refuse_when_broken(self) -> None:
        if self._broken is not None:
            raise Broken(self._broken)

    def _break(self, what: str, broken: OSError) -> NoReturn:
        self._broken = f"{what}: {broken.strerror}"
        raise Broken(self._broken) from broken

    def _make_name_durable(self, path: Path) -> None:
        try:
            sync_folder(path.parent)
        except OSError as broken:
            self._break("a photo's name could not be made durable", broken)

    def _give_name(self, temp: Path, sha256: Sha256) -> Outcome:
        """Move a synced file to its name, unless sound bytes already have it; durable on return."""
        path = self._path(sha256)
        with self._naming:
            outcome: Outcome = "already" if _hash_of(path) == sha256 else "stored"
            if outcome == "stored":
                os.replace(temp, path)
        try:
            self._make_name_durable(path)
        except Broken:
            if outcome == "stored":  # so that nothing later takes it for durable
                with contextlib.suppress(OSError):
                    path.unlink()
            raise
        return outcome


class _FolderReceiving:
    def __init__(self, vault: FolderVault, sha256: Sha256, length: int) -> None:
        self._vault, self._sha256, self._length = vault, sha256, length
        self._hash = hashlib.sha256()
        self._came = 0
        self._fd: int | None = None
        try:
            self._fd, name = tempfile.mkstemp(prefix=f"{sha256[:8]}-", dir=vault._root / "incoming")
        except OSError as broken:  # nothing was written yet, so this says nothing of the disk's honesty
            refusal = NoRoom if broken.errno in _FULL else Broken
            raise refusal(f"a photo could not be begun: {broken.strerror}") from broken
        self._temp = Path(name)

    def write(self, piece: bytes) -> None:
        assert self._fd is not None, "written to after it was kept or dropped"
        self._came += len(piece)
        if self._came > self._length:
            raise WrongLength(f"more than the {self._length} bytes announced")
        self._hash.update(piece)
        rest = memoryview(piece)
        try:
            while rest:
                rest = rest[os.write(self._fd, rest) :]
        except OSError as broken:
            self._refuse("a photo could not be written", broken)

    def keep(self) -> Outcome:
        assert self._fd is not None, "kept twice, or after it was dropped"
        if self._came != self._length:
            raise WrongLength(f"{self._came} of {self._length} bytes came")
        if self._hash.hexdigest() != self._sha256:
            raise WrongHash("the bytes are not the ones the name says")
        self._vault._refuse_when_broken()
        try:
            sync_file(self._fd)
        except OSError as broken:
            self._refuse("a photo could not be made durable", broken)
        try:
            return self._vault._give_name(self._temp, self._sha256)
        except OSError as broken:
            self._refuse("a photo could not be given its name", broken)
        finally:
            self.drop()

    def drop(self) -> None:
        if self._fd is None:
            return
        with contextlib.suppress(OSError):
            os.close(self._fd)
        self._fd = None
        with contextlib.suppress(OSError):  # already renamed, or left for `clear_leftovers`
            self._temp.unlink()

    def _refuse(self, what: str, broken: OSError) -> NoReturn:
        """A full disk refuses this photo; any other failure of the disk stops the taking of photos."""
        if broken.errno in _FULL:
            raise NoRoom(f"{what}: {broken.strerror}") from broken
        self._vault._break(what, broken)


def _check_marker(root: Path, instance: str) -> None:
    try:
        marker: object = json.loads((root / MARKER).read_text("ascii"))
    except FileNotFoundError:
        raise WrongFolder(f"{root} has no {MARKER}: it is not a vault, or its disk is not mounted") from None
    except (OSError, ValueError) as broken:
        raise WrongFolder(f"{root / MARKER} cannot be read: {broken}") from broken
    if not isinstance(marker, dict) or marker.get("loupebook_vault") != 1:
        raise WrongFolder(f"{root / MARKER} is of another make or version")
    if marker.get("instance") != instance:
        raise WrongFolder(f"{root} is the vault of another instance")


def _hash_of(path: Path) -> str | None:
    """The hash of a file's bytes; None when there is no file, or the disk will not give it."""
    try:
        with open(path, "rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return None


def _flaw_of(path: Path) -> Damage | None:
    try:
        sha256 = sha256_name(path.name)
    except NotAHash:
        return Damage(path.name, "stray")
    found = _hash_of(path)
    if found is None:
        return Damage(sha256, "unreadable")
    return None if found == sha256 else Damage(sha256, "altered")
