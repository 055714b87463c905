"""Takes out of a photo's file all that is not the picture: places, names, notes, earlier versions, what hangs behind.

The vault keeps the bytes that an entry names, whatever they carry: their hash proves them, and nothing seen is lost.
What is given out is this copy. A tablet's photo carries nothing, so its copy has the same bytes and the same hash; only
what a hand-made client put in comes out otherwise. Nothing is decoded and nothing is encoded anew: segments are left
out, by ITU-T T.81 B.1.1 (JPEG), ISO/IEC 15948 clauses 5 and 11 (PNG) and RFC 9649 2.7 (WebP). The colour profile goes
too, it holds texts; which way up the picture stands (Exif 2.32, 4.6.4 A, tag 0x0112) is kept, alone.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from typing import Final

from loupebook.vault.sniff import sniff

_NEXT_MARKER: Final = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")
"""In a scan, 0xFF is followed by 0 or a restart marker; any other pair ends it (T.81, B.1.1.2)."""
_PNG_HEAD: Final = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT: Final = frozenset((b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"cICP"))
_WEBP_KEPT: Final = frozenset((b"VP8 ", b"VP8L", b"ALPH"))
_EXIF: Final = b"Exif\x00\x00"


class _Unknown(Exception):
    """The bytes are not of the usual build, so nobody can say what is in them."""


def only_the_picture(data: bytes) -> bytes | None:
    """The photo without anything beside its picture; the same bytes where there is nothing. None where its build is
    not known, is animated, or is no photo: then nothing can be said of what it carries."""
    try:
        match sniff(data):
            case "image/jpeg":
                return _jpeg(data)
            case "image/png":
                return _png(data)
            case "image/webp":
                return _webp(data)
            case _:
                return None
    except (_Unknown, struct.error, IndexError):
        return None


def carries_only_the_picture(data: bytes) -> bool:
    """Whether nothing would be taken out."""
    return only_the_picture(data) == data


# ---------------------------------------------------------------- JPEG


def _jpeg(data: bytes) -> bytes:
    out, turn, at = [b"\xff\xd8"], 1, 2
    while True:
        found = _NEXT_MARKER.match(data, at)
        if found is None:
            raise _Unknown
        marker, at = data[found.end() - 1], found.end()
        if marker == 0xD9:
            break
        (length,) = struct.unpack_from(">H", data, at)
        body = data[at + 2 : at + length]
        if length < 2 or len(body) != length - 2 or marker == 0xD8:
            raise _Unknown
        at += length
        kept = _jpeg_segment(marker, body)
        if kept is not None:
            out.append(struct.pack(">BBH", 0xFF, marker, len(kept) + 2) + kept)
        elif marker == 0xE1 and body.startswith(_EXIF):
            turn = _turn(body[len(_EXIF) :])
        if marker == 0xDA:
            ends = _NEXT_MARKER.search(data, at)
            if ends is None:
                raise _Unknown
            out.append(data[at : ends.start()])
            at = ends.start()
    if turn != 1:
        exif = _EXIF + _turned(turn)
        after_jfif = 2 if out[1][1] == 0xE0 else 1
        out.insert(after_jfif, struct.pack(">BBH", 0xFF, 0xE1, len(exif) + 2) + exif)
    return b"".join([*out, b"\xff\xd9"])


def _jpeg_segment(marker: int, body: bytes) -> bytes | None:
    """What stays of a segment: all a decoder needs, the JFIF header without its small picture, Adobe's transform."""
    if marker == 0xE0 and body.startswith(b"JFIF\x00") and len(body) >= 14:
        return body[:12] + b"\x00\x00"
    if marker == 0xEE and body.startswith(b"Adobe") and len(body) >= 12:
        return body[:12]
    return None if 0xE0 <= marker <= 0xEF or marker == 0xFE else body


# ---------------------------------------------------------------- PNG


def _png(data: bytes) -> bytes:
    out, turn, ended = [_PNG_HEAD], 1, False
    for kind, body in _png_chunks(data):
        if kind in _PNG_KEPT:
            out.append(_png_chunk(kind, body))
        elif kind == b"eXIf":
            turn = _turn(body)
        elif not kind[0] & 0x20:  # a chunk that a decoder must know (11.1), and this one does not
            raise _Unknown
        ended = kind == b"IEND"
    if not ended:
        raise _Unknown
    if turn != 1:
        out.insert(2, _png_chunk(b"eXIf", _turned(turn)))
    return b"".join(out)


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = len(_PNG_HEAD)
    while at < len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        body = data[at + 8 : at + 8 + length]
        if len(body) != length:
            raise _Unknown
        yield kind, body
        if kind == b"IEND":
            return
        at += 12 + length


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


# ---------------------------------------------------------------- WebP


def _webp(data: bytes) -> bytes:
    (whole,) = struct.unpack_from("<I", data, 4)
    at, end = 12, min(len(data), 8 + whole)
    head, out, turn = b"", b"", 1
    while at < end:
        kind, length = struct.unpack_from("<4sI", data, at)
        body = data[at + 8 : at + 8 + length]
        if len(body) != length or kind in (b"ANIM", b"ANMF"):
            raise _Unknown
        if kind == b"VP8X":
            head = body
        elif kind in _WEBP_KEPT:
            out += _webp_chunk(kind, body)
        elif kind == b"EXIF":
            turn = _turn(body.removeprefix(_EXIF))
        at += 8 + length + length % 2
    if not out:
        raise _Unknown
    exif = _webp_chunk(b"EXIF", _turned(turn)) if turn != 1 and head else b""
    flags = bytes([(head[0] & 0x10) | (0x08 if exif else 0)]) + head[1:] if head else b""  # RFC 9649, 2.7.1: L, E
    inside = (_webp_chunk(b"VP8X", flags) if head else b"") + out + exif
    return b"RIFF" + struct.pack("<I", 4 + len(inside)) + b"WEBP" + inside


def _webp_chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\x00" * (len(body) % 2)


# ---------------------------------------------------------------- which way up


def _turn(tiff: bytes) -> int:
    """The orientation in an Exif block, 1 to 8; 1 where there is none."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1
    try:
        (at,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, at)
        for entry in range(at + 2, at + 2 + 12 * min(count, 200), 12):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tiff, entry)
            if tag == 0x0112 and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 1
    return 1


def _turned(turn: int) -> bytes:
    """An Exif block that says nothing but the orientation."""
    return b"MM\x00*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, turn, 0, 0)
