"""Stamps: which step is done for which inputs, so that a start cut off goes on where it was."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path


class Stamps:
    """One small file a step, holding the key of the inputs it was done for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def is_done(self, step: str, key: str) -> bool:
        """Whether `step` was finished for exactly these inputs."""
        try:
            return (self.folder / step).read_text("utf-8") == key
        except OSError:
            return False

    def done(self, step: str, key: str) -> None:
        """Notes that `step` is finished. Call it last: a stamp promises that nothing of the step is missing."""
        self.folder.mkdir(parents=True, exist_ok=True)
        side = self.folder / (step + ".new")
        side.write_text(key, "utf-8")
        side.replace(self.folder / step)

    def undo(self, step: str) -> None:
        """Forgets a step before it is begun again, so that a cut in the middle shows."""
        (self.folder / step).unlink(missing_ok=True)


def key_of(parts: Iterable[str]) -> str:
    """One key for several inputs; the same parts in the same order give the same key."""
    whole = hashlib.sha256()
    for part in parts:
        whole.update(hashlib.sha256(part.encode()).digest())
    return whole.hexdigest()


def key_of_files(root: Path, files: Iterable[Path]) -> str:
    """A key for names and contents of files below `root`."""
    parts: list[str] = []
    for path in sorted(files):
        parts += [path.relative_to(root).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest()]
    return key_of(parts)
