"""The one name a photo has: the SHA-256 of its bytes, 64 lower-case hex digits."""

from __future__ import annotations

import re
from typing import NewType

Sha256 = NewType("Sha256", str)

LONGEST_BYTES = 12_000_000
"""The longest photo taken, in bytes. The tablet makes about 0.6 MB; 12 MB leaves room for a picture
a tablet could not shrink (ours, not from a standard)."""

_HASH = re.compile(r"[0-9a-f]{64}", re.ASCII)


class NotAHash(ValueError):
    """The text is not 64 lower-case hex digits, so it names no photo (and is never made into a path)."""


def sha256_name(text: str) -> Sha256:
    """The text as a photo's name; raises NotAHash. Every path and key is made from its result only."""
    if _HASH.fullmatch(text) is None:
        raise NotAHash("a photo is named by 64 lower-case hex digits")
    return Sha256(text)
