"""What tablets send in the measurements: entries of a shift, photos of random bytes, and the file a client reads."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from story import photo
from tablet import Tablet

PHOTO_BYTES = 600_000
NOTE = "a line of words of the length a person dictates " * 5


def write_on(tablet: Tablet, number: int, photos: Sequence[Mapping[str, object]] = ()) -> None:
    """So many more entries of 0.8 to 0.95 kB; photo k belongs to the entry floor(k * number / photos)."""
    named: dict[int, list[Mapping[str, object]]] = {}
    for each, one in enumerate(photos):
        named.setdefault(each * number // len(photos), []).append(one)
    held: list[Mapping[str, object]] = []
    for each in range(number):
        held += named.get(each, [])
        at = len(tablet.lines) % 40
        if at == 0:
            tablet.begin(none_here=["jet_outlet", "stiffness_ring"], not_due=["ch_air", "ch_water", "ch_jet"])
        elif at == 1:
            tablet.serial(where=NOTE[:200])
        elif held or (at % 4 == 0 and not photos):
            shown = held or [photo(f"{tablet.name} {len(tablet.lines)}", "finding")]
            tablet.find("lens", "scratch", list(shown), since="same", note=NOTE[:150])
            held = []
        else:
            tablet.mark("valves", tool=NOTE[:180], reason="other")
    assert not held, "the last entries begin an inspection; give another number"


def bodies(tablet: Tablet, first: int, batch: int) -> list[tuple[int, bytes]]:
    """The entries from seq `first` on as bodies, each with the seq it begins at."""
    end = len(tablet.lines)
    return [(at, tablet.batch(at, min(at + batch - 1, end))) for at in range(first, end + 1, batch)]


class Photos:
    """Photos of random bytes, one after the other in one file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file = open(path, "wb")
        self.places: dict[str, tuple[int, int]] = {}

    def make(self, number: int) -> list[dict[str, object]]:
        """As entries name them."""
        made = []
        for _ in range(number):
            data = os.urandom(PHOTO_BYTES)
            sha256 = hashlib.sha256(data).hexdigest()
            self.places[sha256] = (self._file.tell(), len(data))
            self._file.write(data)
            made.append(photo("", "finding") | {"sha256": sha256, "bytes": len(data)})
        return made

    def jobs(self, named: Iterable[Mapping[str, object]]) -> list[dict[str, object]]:
        """As the client is told."""
        self._file.flush()
        of = {str(each["sha256"]): self.places[str(each["sha256"])] for each in named}
        return [{"sha256": sha256, "at": at, "length": length} for sha256, (at, length) in of.items()]

    def close(self) -> None:
        self._file.close()
        self.path.unlink()


def job(tablet: Tablet, first: int, batch: int, headers: Mapping[str, str], photos: Sequence[object]) -> dict[str, Any]:
    """What one tablet sends, as the client is told."""
    some = [
        {"path": f"/chains/{tablet.chain}/entries?from={at}", "body": body.decode()}
        for at, body in bodies(tablet, first, batch)
    ]
    return {"headers": dict(headers), "batches": some, "photos": list(photos)}


def written(path: Path, value: object) -> Path:
    """A file of JSON."""
    path.write_text(json.dumps(value), "utf-8")
    return path
