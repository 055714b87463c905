"""Photos of the demo: a drawing under the light and the hand of one moment. Nobody takes them for real ones."""

from __future__ import annotations

import hashlib
import io
import random
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image, ImageChops

from demo_seed.drawn.canvas import HEIGHT, WIDTH, Canvas
from demo_seed.drawn.flaws import FLAWS, place_of
from demo_seed.drawn.parts import shape_of
from demo_seed.drawn.plate import plate

EDGE = 24
"""How many pixels the hand may stray: the photo is cut out of the drawing."""
WIDE, HIGH = WIDTH - EDGE, HEIGHT - EDGE
"""Size of a photo in pixels."""
GRAIN = 8
GRAINS = 4
"""How many patterns of noise there are; with light and hand no two photos are alike."""
QUALITY = 80
TEN_THOUSAND = 10_000


@dataclass(frozen=True)
class Picture:
    """A JPEG and what an entry says of it. `ring`: round the flaw, in ten-thousandths as a ring is recorded."""

    data: bytes
    shows: str
    ring: tuple[int, int, int] | None = None

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()

    def named(self) -> dict[str, object]:
        return {
            "sha256": self.sha256,
            "bytes": len(self.data),
            "type": "image/jpeg",
            "width": WIDE,
            "height": HIGH,
            "shows": self.shows,
        }


@dataclass(frozen=True)
class Plate:
    """What stands on a scope."""

    maker: str
    words: str
    model: str
    serial: str
    di: str | None


def part_picture(
    part: str, key: str, flaw: str | None = None, thin: bool = False, text: str = "", shows: str = ""
) -> Picture:
    """A photo of a part; `key` moves light and hand, so that no two are alike."""
    image, cut = _shot(_drawn_part(part, flaw, thin, text), key)
    ring = None if flaw is None else _ring(part, cut)
    return Picture(_jpeg(image), shows or ("part" if flaw is None else "finding"), ring)


def serial_picture(of: Plate, key: str) -> Picture:
    """A photo of the number, as sharp as a code in it has to be."""
    image, _ = _shot(_drawn_plate(of), key)
    return Picture(_jpeg(image), "serial")


@lru_cache(maxsize=256)
def _drawn_part(part: str, flaw: str | None, thin: bool, text: str) -> Image.Image:
    canvas = Canvas(random.Random(f"{part} {flaw} {thin} {text}"))
    shape_of(part, thin)(canvas, text)
    if flaw is not None:
        FLAWS[flaw](canvas, *place_of(part))
    return canvas.photo()


@lru_cache(maxsize=64)
def _drawn_plate(of: Plate) -> Image.Image:
    canvas = Canvas(random.Random(of.serial))
    plate(canvas, of.maker, of.words, of.model, of.serial, of.di)
    return canvas.photo()


def _shot(drawing: Image.Image, key: str) -> tuple[Image.Image, tuple[int, int]]:
    """The drawing as one photo: cut a little differently, a little lighter or darker, with the grain of a sensor."""
    chance = random.Random(key)
    left, top = chance.randrange(EDGE), chance.randrange(EDGE)
    image = drawing.crop((left, top, left + WIDE, top + HIGH))
    return ImageChops.add(image, _grain(chance.randrange(GRAINS)), 1, chance.randrange(-14, 15) - GRAIN), (left, top)


@lru_cache(maxsize=GRAINS)
def _grain(which: int) -> Image.Image:
    """Noise of a sensor, as large as a photo, its mean at GRAIN."""
    noise = np.random.default_rng(which).standard_normal((HIGH, WIDE), dtype=np.float32) * 2.2 + GRAIN
    return Image.fromarray(np.clip(noise, 0, 2 * GRAIN).astype(np.uint8)).convert("RGB")


def _ring(part: str, cut: tuple[int, int]) -> tuple[int, int, int]:
    x, y, r = place_of(part)
    at = ((x - cut[0]) / WIDE, (y - cut[1]) / HIGH, r * 1.35 / WIDE)
    return (round(at[0] * TEN_THOUSAND), round(at[1] * TEN_THOUSAND), round(at[2] * TEN_THOUSAND))


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()
