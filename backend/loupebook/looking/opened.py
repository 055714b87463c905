"""A photo opened by Pillow within limits. Runs in the child process only."""

from __future__ import annotations

import io
import warnings
from typing import Final, Literal, cast

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from loupebook.looking.look import CannotReason
from loupebook.vault import PhotoType, sniff

MOST_PIXELS: Final = 50_000_000
"""Pixels decoded at most. A tablet's photo has 5 million, a camera's 12 to 48 (ours)."""

_FORMATS: Final = ("JPEG", "PNG", "WEBP")
"""The only decoders ever asked, whatever the file says it is."""

_ORIENTATION_TAG: Final = 0x0112  # Exif 2.32, 4.6.4 A
_UPRIGHT: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class CannotOpen(Exception):
    """The photo cannot be shown, and why."""

    def __init__(self, reason: CannotReason) -> None:
        super().__init__(reason)
        self.reason: CannotReason = reason


class Opened:
    """A photo whose header was read: its type, its upright size, and its pixels at the sizes asked for.

    A JPEG is decoded anew for each size, since its decoder gives an eighth, a quarter or a half at a fraction
    of the cost; the other two are decoded once.
    """

    def __init__(self, data: bytes) -> None:
        kind = sniff(data)
        if kind is None:
            raise CannotOpen("not_a_photo")
        self.type: PhotoType = kind
        self._data = data
        image = _header(data)
        if image.width * image.height > MOST_PIXELS:
            raise CannotOpen("too_many_pixels")
        self._turn = _UPRIGHT.get(_orientation(image))
        self._stored = image.size
        turned = self._turn is not None and self._turn >= Image.Transpose.ROTATE_90
        sideways = turned and self._turn != Image.Transpose.ROTATE_180
        self.size = (image.height, image.width) if sideways else image.size
        self._pixels: Image.Image | None = None

    def upright(self, edge: int, resample: Image.Resampling) -> Image.Image:
        """RGB, upright, long edge at most `edge` pixels, with nothing attached."""
        small = self._decoded("RGB", edge).resize(_within(self._stored, edge), resample)
        turned = small if self._turn is None else small.transpose(self._turn)
        turned.info = {}  # Pillow writes an old comment into a new JPEG
        return turned

    def grey(self, edge: int) -> NDArray[np.uint8]:
        """Grey as stored (not turned), near `edge` pixels long or the next decodable size above; (height, width)."""
        return np.asarray(self._decoded("L", edge), dtype=np.uint8)

    def _decoded(self, mode: Literal["RGB", "L"], edge: int) -> Image.Image:
        if self.type == "image/jpeg":
            image = _header(self._data)
            image.draft(mode, _within(self._stored, edge))
            return _load(image).convert(mode)
        if self._pixels is None:
            self._pixels = _load(_header(self._data)).convert("RGB")
        wanted = _within(self._stored, edge)
        factor = max(1, min(self._stored[0] // wanted[0], self._stored[1] // wanted[1]))
        return self._pixels.reduce(factor).convert(mode)


def _header(data: bytes) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return Image.open(io.BytesIO(data), formats=_FORMATS)
        except Image.DecompressionBombError:
            raise CannotOpen("too_many_pixels") from None
        except MemoryError:
            raise CannotOpen("too_much_memory") from None
        except Exception:
            raise CannotOpen("broken_file") from None


def _load(image: Image.Image) -> Image.Image:
    try:
        image.load()
    except MemoryError:
        raise CannotOpen("too_much_memory") from None
    except Exception:  # decoders raise whatever they like on hostile bytes
        raise CannotOpen("broken_file") from None
    return image


def _orientation(image: Image.Image) -> int:
    """The EXIF orientation, 1 to 8; 1 where there is none or it cannot be read."""
    try:
        return cast(int, image.getexif().get(_ORIENTATION_TAG, 1))
    except Exception:
        return 1


def _within(size: tuple[int, int], edge: int) -> tuple[int, int]:
    """The size shrunk to a long edge of at most `edge`, never enlarged, never under one pixel."""
    longest = max(size)
    if longest <= edge:
        return size
    return max(1, round(size[0] * edge / longest)), max(1, round(size[1] * edge / longest))
