"""What a photo's first bytes say it is; the name or the declared type is never believed."""

from __future__ import annotations

from typing import Literal

PhotoType = Literal["image/jpeg", "image/png", "image/webp"]

SNIFF_BYTES = 12


def sniff(head: bytes) -> PhotoType | None:
    """The photo type of bytes that begin with `head` (12 bytes are enough), or None for anything else.

    Signatures: JPEG SOI + marker (ITU-T T.81 B.1.1.3), PNG (ISO/IEC 15948, 5.2), WebP RIFF header (RFC 9649, 2.4).
    """
    if head[:3] == b"\xff\xd8\xff":
        return "image/jpeg"
    if head[:8] == b"\x89PNG\r\n\x1a\n":
        return "image/png"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "image/webp"
    return None
