"""The data folder: whose it is, and that it is ours before anything is written into it."""

from __future__ import annotations

import json
import os
import sys
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Literal

MARKER = "loupebook-instance.json"
MARKER_VERSION = 1
RUNNING = "running-at.txt"
Kind = Literal["own", "demo"]


class FolderRefused(Exception):
    """The folder cannot be used. The text says what was found, what is safe and what to do next."""


@dataclass(frozen=True, slots=True)
class Instance:
    """Whose record a folder holds: `id` is drawn once when the folder is made and never changes."""

    id: str
    kind: Kind
    made_at: str
    made_by: str


def open_folder(folder: Path, kind: Kind, version: str) -> Instance:
    """The instance that lives in `folder`; makes folder and marker when there is nothing yet.

    Raises FolderRefused for a folder that holds something else, the other kind, or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        marker = folder / MARKER
        if marker.exists():
            return _ours(folder, marker.read_text("utf-8"), kind)
        if any(name for name in os.listdir(folder)):
            raise FolderRefused(
                f"{folder} holds files, but no Loupebook record. Nothing in it was touched. "
                "Give an empty folder or one that Loupebook made: --data FOLDER."
            )
        instance = Instance(uuid.uuid4().hex, kind, datetime.now(UTC).isoformat(timespec="seconds"), version)
        _write_durably(marker, instance)
        return instance
    except OSError as trouble:
        raise FolderRefused(
            f"{folder} cannot be used: {trouble.strerror}. Nothing was written. "
            "Give a folder this account may write to: --data FOLDER."
        ) from trouble


def _ours(folder: Path, text: str, kind: Kind) -> Instance:
    try:
        row = json.loads(text)
        version, found = row["v"], Instance(row["id"], row["kind"], row["made_at"], row["made_by"])
    except (ValueError, KeyError, TypeError) as trouble:
        raise FolderRefused(
            f"{folder / MARKER} cannot be read, so it is not known whose record this is. Nothing was touched. "
            "Bring the folder back from a backup, or give another: --data FOLDER."
        ) from trouble
    if version != MARKER_VERSION:
        raise FolderRefused(
            f"{folder} was laid out by a newer Loupebook (layout {version}). Nothing was touched. "
            "Start it with that version or a later one."
        )
    if found.kind != kind:
        asked, other = ("--demo", "a real record") if kind == "demo" else ("--empty", "the invented demo")
        raise FolderRefused(
            f"{folder} holds {other}, and {asked} was asked for. Nothing was touched. "
            "Leave --data out, or give the folder that fits."
        )
    return found


def _write_durably(marker: Path, instance: Instance) -> None:
    """Marker first to a side file, synced, then renamed: a cut leaves either none or a whole one."""
    row = {"v": MARKER_VERSION, **{name: getattr(instance, name) for name in Instance.__slots__}}
    side = marker.with_suffix(".new")
    with open(side, "w", encoding="utf-8") as out:
        out.write(json.dumps(row, indent=1) + "\n")
        out.flush()
        os.fsync(out.fileno())
    side.replace(marker)
    if os.name == "posix":
        handle = os.open(marker.parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def hold(folder: Path, address: str) -> IO[str]:
    """Keeps the folder for this process until the returned file is closed or the process ends.

    Raises FolderRefused when another process holds it: two servers on one record would each
    believe to be the one writer.
    """
    held = open(folder / RUNNING, "a+", encoding="utf-8")
    try:
        _lock(held)
    except OSError as trouble:
        held.seek(0)
        where = held.read().strip() or "an address it did not note"
        held.close()
        raise FolderRefused(
            f"Loupebook is running with {folder} already, at {where}. Nothing was changed. "
            "Open that address, or stop it first, or give another folder: --data FOLDER."
        ) from trouble
    held.truncate(0)
    held.write(address + "\n")
    held.flush()
    return held


if sys.platform == "win32":
    import msvcrt

    def _lock(held: IO[str]) -> None:
        """One byte far behind the text, so that the address stays readable for others."""
        held.seek(1 << 20)
        msvcrt.locking(held.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(held: IO[str]) -> None:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
