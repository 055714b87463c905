"""What can be made again from a photo: its thumbnails and what the looking found. May be deleted at any time.

Kept apart from the vault and never synced: after a power cut a file here may be empty, and then counts as absent.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Final, Literal

from loupebook.vault.names import Sha256

ThumbEdge = Literal[320, 640]
THUMB_EDGES: Final[tuple[ThumbEdge, ...]] = (320, 640)
"""Long edges of the thumbnails in pixels: 320 for lists, 640 for the photo a tablet carries away."""

LookRecord = Mapping[str, object]
"""A look as JSON: at least `state`, shown or cannot_be_shown."""


class Derived:
    """Thumbnails (always JPEG) and looks by photo, under `root`, which is made when needed."""

    def __init__(self, root: Path) -> None:
        self._root = root

    def look(self, sha256: Sha256) -> LookRecord | None:
        """The look last written, or None when there is none, or not all of it is left: then look again."""
        record = self._read(sha256, "look.json")
        if record is None:
            return None
        try:
            look: object = json.loads(record)
        except ValueError:
            return None
        if not isinstance(look, dict) or "state" not in look:
            return None
        if look["state"] == "shown" and not all(self.thumbnail(sha256, edge) for edge in THUMB_EDGES):
            return None
        return look

    def thumbnail(self, sha256: Sha256, edge: ThumbEdge) -> bytes | None:
        """The JPEG whose long edge is at most `edge`, or None."""
        return self._read(sha256, f"{edge}.jpg")

    def write(self, sha256: Sha256, look: LookRecord, thumbnails: Mapping[ThumbEdge, bytes]) -> None:
        """Keep a look and its thumbnails; the look last, so that a look found means its thumbnails are there."""
        for edge, data in thumbnails.items():
            self._write(sha256, f"{edge}.jpg", data)
        self._write(sha256, "look.json", json.dumps(look).encode())

    def erase(self, sha256: Sha256) -> None:
        """Remove everything made from that photo."""
        for what in ("look.json", *(f"{edge}.jpg" for edge in THUMB_EDGES)):
            self._path(sha256, what).unlink(missing_ok=True)

    def _path(self, sha256: Sha256, what: str) -> Path:
        return self._root / sha256[:2] / f"{sha256}.{what}"

    def _read(self, sha256: Sha256, what: str) -> bytes | None:
        try:
            return self._path(sha256, what).read_bytes() or None
        except OSError:
            return None

    def _write(self, sha256: Sha256, what: str, data: bytes) -> None:
        path = self._path(sha256, what)
        path.parent.mkdir(parents=True, exist_ok=True)
        fd, temp = tempfile.mkstemp(prefix=".", dir=path.parent)
        try:
            with open(fd, "wb") as stream:
                stream.write(data)
            os.replace(temp, path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temp)
            raise
