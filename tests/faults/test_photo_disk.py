"""Photos and a disk that fails, fills up or loses power half-way: never acknowledged, never half there."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from loupebook.vault import FolderVault, NoRoom, Sha256, put, read_checked, sha256_name

pytestmark = [
    pytest.mark.sink,
    pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed here"),
]

SCRIPT = Path(__file__).with_name("put_photos.py")
BACKEND = Path(__file__).parents[2] / "backend"


@dataclass
class Trial:
    """A vault folder, photos beside it, and the program that puts them, run under a fault."""

    folder: Path

    @property
    def root(self) -> Path:
        return self.folder / "vault"

    def photo(self, data: bytes) -> Path:
        path = self.folder / f"{name_of(data)[:8]}.jpg"
        path.write_bytes(data)
        return path

    def run(self, fault: list[str], *photos: Path) -> tuple[list[str], int]:
        """The outcomes printed, and the return code (negative: ended by that signal)."""
        ran = subprocess.run(
            ["strace", "-o", str(self.folder / "trace"), *fault, sys.executable, str(SCRIPT), self.root, *photos],
            env={**os.environ, "PYTHONPATH": str(BACKEND), "PYTHONDONTWRITEBYTECODE": "1"},
            stdout=subprocess.PIPE,
            text=True,
            timeout=60,
        )
        return ran.stdout.split(), ran.returncode

    def reopened(self) -> FolderVault:
        """As after a restart."""
        vault = FolderVault(self.root, "i-1", reserve_bytes=0)
        vault.clear_leftovers()
        return vault

    def incoming(self) -> list[Path]:
        return list((self.root / "incoming").iterdir())


def name_of(data: bytes) -> Sha256:
    return sha256_name(hashlib.sha256(data).hexdigest())


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    FolderVault.make(tmp_path / "vault", "i-1", reserve_bytes=0)
    return Trial(tmp_path)


FIRST, SECOND = b"\xff\xd8\xff first" * 9_000, b"\xff\xd8\xff second" * 9_000


@pytest.mark.parametrize("which", [1, 2], ids=["the file's fsync", "the folder's fsync"])
def test_after_a_failed_fsync_no_photo_is_taken_or_tried_again(trial: Trial, which: int) -> None:
    """Only one fsync fails; whoever tried again would be told "stored" by the next one."""
    fault = ["-e", "trace=fsync", "-e", f"inject=fsync:error=EIO:when={which}"]
    said, _ = trial.run(fault, trial.photo(FIRST), trial.photo(FIRST), trial.photo(SECOND))
    assert said == ["Broken", "Broken", "Broken"]
    vault = trial.reopened()
    assert not vault.exists(name_of(FIRST)) and not vault.exists(name_of(SECOND))
    assert trial.incoming() == []


def test_a_disk_that_fills_up_at_fsync_refuses_this_photo_only(trial: Trial) -> None:
    fault = ["-e", "trace=fsync", "-e", "inject=fsync:error=ENOSPC:when=1"]
    said, _ = trial.run(fault, trial.photo(FIRST), trial.photo(SECOND))
    assert said == ["NoRoom", "stored"]
    assert not trial.reopened().exists(name_of(FIRST))
    assert trial.incoming() == []


def test_a_failed_write_stops_the_taking_of_photos(trial: Trial) -> None:
    fault = ["-e", "trace=write", "-e", "inject=write:error=EIO:when=1"]
    said, _ = trial.run(fault, trial.photo(FIRST), trial.photo(SECOND))
    assert said == ["Broken", "Broken"]


@pytest.mark.parametrize(
    ("call", "points"),
    [("write", 3), ("fsync", 2), ("rename", 1)],
    ids=["two pieces and the word itself", "file and folder", "the name"],
)
def test_killed_at_every_write_fsync_and_rename_a_photo_is_whole_or_not_there(
    trial: Trial, call: str, points: int
) -> None:
    photo, killed, code = trial.photo(FIRST), 0, -1
    while code != 0:
        said, code = trial.run(["-e", f"trace={call}", "-e", f"inject={call}:signal=SIGKILL:when={killed + 1}"], photo)
        vault = trial.reopened()
        whole = vault.exists(name_of(FIRST))
        assert whole or said == [], "acknowledged and not there"
        assert trial.incoming() == []
        assert list(vault.scrub()) == []
        killed += code != 0
        assert killed < 20, "the program never came to its end"
        assert put(vault, [FIRST], name_of(FIRST), len(FIRST)) == ("already" if whole else "stored")
        assert read_checked(vault, name_of(FIRST)) == FIRST
        vault.erase(name_of(FIRST))
    assert killed == points


def test_a_photo_costs_two_fsyncs_counted_from_outside(trial: Trial) -> None:
    """Three with the row that follows in the log: the limit for a photo that comes alone."""
    photos = [trial.photo(bytes([n]) * 1000) for n in range(5)]
    said, _ = trial.run(["-f", "-e", "trace=fsync,fdatasync,sync,syncfs"], *photos)
    assert said == ["stored"] * 5
    synced = (trial.folder / "trace").read_text().count("sync(")
    assert synced == 2 * 5


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 4 MB."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", disk], capture_output=True)
    if mounted.returncode != 0:
        pytest.skip("a small disk can be mounted by root only")
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_a_full_disk_refuses_the_photo_keeps_the_others_and_goes_on_when_there_is_room(small_disk: Path) -> None:
    vault = FolderVault.make(small_disk / "vault", "i-1", reserve_bytes=0)
    put(vault, [FIRST], name_of(FIRST), len(FIRST))
    filler = small_disk / "filler"
    filler.write_bytes(bytes(3_300_000))
    large = os.urandom(1_000_000)
    with pytest.raises(NoRoom):
        put(vault, [large], name_of(large), len(large))
    # and when the room goes while the photo comes
    filler.write_bytes(bytes(2_700_000))
    receiving = vault.receive(name_of(large), len(large))
    filler.write_bytes(bytes(3_300_000))
    with pytest.raises(NoRoom):
        receiving.write(large)
    receiving.drop()
    assert read_checked(vault, name_of(FIRST)) == FIRST
    assert not vault.exists(name_of(large))
    filler.unlink()
    assert put(vault, [large], name_of(large), len(large)) == "stored"


def test_the_reserve_for_entries_is_never_eaten_by_photos(small_disk: Path) -> None:
    FolderVault.make(small_disk / "vault", "i-1")
    free = shutil.disk_usage(small_disk).free
    vault = FolderVault(small_disk / "vault", "i-1", reserve_bytes=free - len(FIRST) - 20_000)
    assert put(vault, [FIRST], name_of(FIRST), len(FIRST)) == "stored"
    with pytest.raises(NoRoom):
        put(vault, [SECOND], name_of(SECOND), len(SECOND))
