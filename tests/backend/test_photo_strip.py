"""What a photo's file carries beside its picture never leaves: written by Pillow and by hand, read back by Pillow.

Carriers by Exif 2.32, XMP part 3, IPTC in APP13 (IIM 4.2), ICC.1:2022, T.81, ISO/IEC 15948 and RFC 9649.
"""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import numpy as np
import pytest
from loupebook.vault.strip import carries_only_the_picture, only_the_picture
from PIL import Image, ImageCms

pytestmark = pytest.mark.photos

NAME = b"Tobin Sarr room 4"
XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>" + NAME + b"</x:xmpmeta>"


def scene(mode: str = "RGB") -> Image.Image:
    y, x = np.mgrid[0:120, 0:160]
    return Image.fromarray(np.stack([x, y, (x * y) % 251], axis=2).astype(np.uint8)).convert(mode)


def exif(turn: int = 1) -> Image.Exif:
    """A description, a place, a maker's note and a small picture of its own."""
    found = Image.Exif()
    found[0x010E] = NAME.decode()
    found[0x0112] = turn
    found.get_ifd(0x8825)[1] = "N"
    found.get_ifd(0x8825)[2] = (52.0, 13.0, 7.0)
    found.get_ifd(0x8769)[0x927C] = NAME * 4
    return found


def profile() -> bytes:
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return made + NAME  # a text hung into the profile


def coded(kind: str, image: Image.Image | None = None, **options: Any) -> bytes:
    out = io.BytesIO()
    (image or scene()).save(out, kind, **options)
    return out.getvalue()


def segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def behind_soi(jpeg: bytes, *segments: bytes) -> bytes:
    return jpeg[:2] + b"".join(segments) + jpeg[2:]


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def with_chunk(png: bytes, kind: bytes, body: bytes) -> bytes:
    return png[:33] + png_chunk(kind, body) + png[33:]


PROGRESSIVE = coded("JPEG", progressive=True)
JPEG, PNG, WEBP = coded("JPEG"), coded("PNG"), coded("WEBP")
JFIF_WITH_PICTURE = b"JFIF\x00\x01\x01\x00\x00\x48\x00\x48\x02\x03" + NAME + b"\x00"

CARRYING: dict[str, bytes] = {
    "JPEG, Exif with a place and a maker's note": coded("JPEG", exif=exif()),
    "JPEG, XMP": coded("JPEG", xmp=XMP),
    "JPEG, comment": coded("JPEG", comment=NAME),
    "JPEG, colour profile with a text": coded("JPEG", icc_profile=profile()),
    "JPEG, IPTC in APP13": behind_soi(JPEG, segment(0xED, b"Photoshop 3.0\x008BIM\x04\x04" + NAME)),
    "JPEG, small picture in JFIF": JPEG[:2] + segment(0xE0, JFIF_WITH_PICTURE) + JPEG[20:],
    "JPEG, further pictures in APP2": coded("MPO", save_all=True, append_images=[scene()]) + NAME,
    "JPEG, unknown application data": behind_soi(JPEG, segment(0xEB, NAME), segment(0xEF, NAME)),
    "JPEG, text in the Adobe segment": coded("JPEG", scene("CMYK")).replace(
        segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x00"), segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x00" + NAME)
    ),
    "JPEG, comment between the scans": PROGRESSIVE.replace(b"\xff\xda", segment(0xFE, NAME) + b"\xff\xda"),
    "JPEG, a picture behind the picture": JPEG + coded("JPEG", comment=NAME),
    "JPEG, fill bytes before a comment": behind_soi(JPEG, b"\xff\xff" + segment(0xFE, NAME)),
    "PNG, Exif": coded("PNG", exif=exif()),
    "PNG, text": with_chunk(PNG, b"tEXt", b"Author\x00" + NAME),
    "PNG, international text": with_chunk(PNG, b"iTXt", b"XML:com.adobe.xmp\x00\x00\x00\x00\x00" + NAME),
    "PNG, private": with_chunk(PNG, b"prVt", NAME),
    "PNG, behind the end": PNG + NAME,
    "WebP, Exif": coded("WEBP", exif=exif()),
    "WebP, XMP": coded("WEBP", xmp=XMP),
    "WebP, colour profile": coded("WEBP", icc_profile=profile()),
    "WebP, behind the end": WEBP + NAME,
}  # fmt: skip


def pixels(data: bytes) -> np.ndarray[Any, Any]:
    return np.asarray(Image.open(io.BytesIO(data)))


@pytest.mark.parametrize("what", CARRYING)
def test_nothing_but_the_picture_is_left_and_the_picture_is_the_same(what: str) -> None:
    data = CARRYING[what]
    assert NAME in data, "the writer did not put it in"
    assert not carries_only_the_picture(data)
    left = only_the_picture(data)
    assert left is not None and NAME not in left
    again = Image.open(io.BytesIO(left))
    assert dict(again.getexif()) == {}
    assert not {"icc_profile", "comment", "xmp", "exif", "photoshop", "mp"} & set(again.info)
    assert (pixels(left) == pixels(data)).all()
    assert only_the_picture(left) == left


@pytest.mark.parametrize(
    "data",
    [
        JPEG, PNG, WEBP, PROGRESSIVE, coded("JPEG", scene("CMYK")), coded("JPEG", scene("L")),
        coded("WEBP", lossless=True), coded("PNG", scene("RGBA")),
    ],
)  # fmt: skip
def test_a_photo_that_carries_nothing_keeps_its_bytes(data: bytes) -> None:
    assert only_the_picture(data) == data and carries_only_the_picture(data)


def test_a_webp_with_transparency_keeps_it() -> None:
    image = scene("RGBA")
    image.putalpha(90)
    left = only_the_picture(coded("WEBP", image, exif=exif()))
    assert left is not None and Image.open(io.BytesIO(left)).convert("RGBA").getpixel((5, 5))[3] == 90  # type: ignore[index]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("turn", range(2, 9))
def test_which_way_up_it_stands_is_all_that_stays_of_exif(kind: str, turn: int) -> None:
    left = only_the_picture(coded(kind, exif=exif(turn)))
    assert left is not None and NAME not in left
    assert dict(Image.open(io.BytesIO(left)).getexif()) == {0x0112: turn}
    assert only_the_picture(left) == left


@pytest.mark.parametrize(
    "data",
    [
        b"", JPEG[:300], JPEG[:4], JPEG[:-2], PNG[:60], WEBP[:40], PNG[:8], b"\xff\xd8\xff\xd9",
        b"\xff\xd8\xff<script>alert(1)</script>", b"<html>" + NAME, coded("GIF"), with_chunk(PNG, b"EVIL", NAME),
        coded("WEBP", save_all=True, append_images=[scene().rotate(9)], duration=50),
    ],
)  # fmt: skip
def test_of_what_is_not_of_the_usual_build_nothing_is_given_out(data: bytes) -> None:
    assert only_the_picture(data) in (None, b"\xff\xd8\xff\xd9")


def test_no_bytes_stop_it() -> None:
    """Each byte of a photo changed, and each cut of it: an answer comes, and never the planted words."""
    rich = coded("JPEG", scene().resize((16, 12)), exif=exif(6), comment=NAME, xmp=XMP)
    for at in range(0, len(rich), 7):
        only_the_picture(rich[:at])
        only_the_picture(rich[:at] + bytes([rich[at] ^ 0xFF]) + rich[at + 1 :])
