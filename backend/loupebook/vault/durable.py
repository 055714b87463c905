"""The two calls that make bytes and names outlive a power cut."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def sync_file(fd: int) -> None:
    """Return when the file's bytes are on the disk; OSError when the disk did not take them."""
    if sys.platform == "darwin":  # there, fsync stops at the drive's own memory (fsync(2) of macOS; from memory)
        import fcntl

        fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        return
    os.fsync(fd)


def sync_folder(folder: Path) -> None:
    """Return when the names in the folder are on the disk. On Windows a folder cannot be opened for this."""
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
