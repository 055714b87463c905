"""Puts photos into a vault one after the other and prints each outcome at once; run under strace by the fault tests.

`put_photos.py ROOT FILE...`: a line a photo, `stored`, `already` or the name of the refusal.
"""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

from loupebook.vault import FolderVault, VaultRefusal, put, sha256_name


def main(root: Path, files: list[Path]) -> None:
    vault = FolderVault(root, "i-1", reserve_bytes=0)
    for file in files:
        data = file.read_bytes()
        half = len(data) // 2
        try:
            said: str = put(vault, [data[:half], data[half:]], sha256_name(hashlib.sha256(data).hexdigest()), len(data))
        except VaultRefusal as refusal:
            said = type(refusal).__name__
        os.write(1, f"{said}\n".encode())


if __name__ == "__main__":
    main(Path(sys.argv[1]), list(map(Path, sys.argv[2:])))
