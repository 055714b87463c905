"""How parent and child talk over a pipe: a 4-byte big-endian length, then that many bytes."""

from __future__ import annotations

import struct
from typing import IO, Final

LONGEST_FRAME: Final = 16_000_000
"""More than a photo of 12 MB; a longer frame is not believed."""


def write_frame(pipe: IO[bytes], data: bytes) -> None:
    """One frame, not flushed."""
    pipe.write(struct.pack(">I", len(data)))
    pipe.write(data)


def read_frame(pipe: IO[bytes]) -> bytes | None:
    """The next frame, or None when the other side is gone, also half-way through one."""
    head = pipe.read(4)
    if len(head) < 4:
        return None
    (length,) = struct.unpack(">I", head)
    if length > LONGEST_FRAME:
        return None
    data = pipe.read(length)
    return data if len(data) == length else None
