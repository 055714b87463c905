"""Which inspections are read a second time by chance, and which of their parts. Pure, and the same for ever.

Both follow from hashes of entries that nobody chooses: whoever holds the record can draw again and find the same.
"""

from __future__ import annotations

import hashlib

DRAWN, PART = "loupebook/second/1\n", "loupebook/second/part/1\n"
"""What is hashed before the hash of the entry that concludes, so that the draw depends on no other use of it."""


def is_drawn(concluded: str, share_percent: int) -> bool:
    """Whether an inspection is in the sample: `concluded` is the hash of its end, `share_percent` 0 (none) to 100.

    Drawn by the end, whose hash nobody knows while they look: no one can look better at those that are read twice.
    """
    first_bits = int.from_bytes(hashlib.sha256((DRAWN + concluded).encode()).digest()[:4], "big")
    return first_bits * 100 < share_percent << 32


def turn_of(concluded: str, part: str) -> str:
    """The place of a part in the order of chance of one inspection; the smallest is asked about."""
    return hashlib.sha256((PART + concluded + "\n" + part).encode()).hexdigest()
