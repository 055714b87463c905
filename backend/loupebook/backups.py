"""What was backed up last and which backup was proved last: one small file in the data folder, outside the record."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

BACKUPS = "backups.json"


def note_backup(folder: Path, to: Path, entries: int, photos: int, lost: int) -> None:
    """A backup was made. One that lacks photos is noted as such: it is not the last good one."""
    _note(folder, "last" if lost == 0 else "lacking", {"to": str(to), "entries": entries, "photos": photos})


def note_drill(folder: Path, backup: Path, *, good: bool) -> None:
    """A backup was brought back beside the record, and was whole or not."""
    _note(folder, "drill", {"of": str(backup), "good": good})


def noted(folder: Path) -> dict[str, object]:
    """`last`: the last good backup, `lacking`: one without all photos, `drill`: the last proof; None where none was."""
    try:
        told = json.loads((folder / BACKUPS).read_text("utf-8"))
    except (OSError, ValueError):
        told = {}
    known = told if isinstance(told, dict) else {}
    return {name: known.get(name) for name in ("last", "lacking", "drill")}


def _note(folder: Path, name: str, said: dict[str, object]) -> None:
    told = noted(folder) | {name: said | {"at": datetime.now(UTC).isoformat(timespec="seconds")}}
    beside = folder / f"{BACKUPS}.part"
    beside.write_text(json.dumps(told), "utf-8")
    os.replace(beside, folder / BACKUPS)
