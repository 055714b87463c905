"""A canvas twice as large as the photo, so that edges come out smooth; and the shaded bodies parts are made of."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont

WIDTH, HEIGHT = 960, 720
FINE = 2
"""Drawn at so many times the size of the photo."""
Colour = tuple[int, int, int]
TRAY, STEEL, BLACK, RUBBER, GLUE = (196, 204, 208), (172, 180, 184), (34, 37, 40), (44, 47, 49), (66, 46, 40)
WHITE, HOLE, BLUE = (228, 231, 232), (7, 8, 9), (40, 66, 110)


@lru_cache(maxsize=64)
def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size)


@dataclass
class Canvas:
    """Where a part is drawn. Places and sizes are in pixels of the photo."""

    chance: random.Random
    ground: Colour = TRAY
    image: Image.Image = field(init=False)

    def __post_init__(self) -> None:
        self.image = _tray(self.ground).copy()

    @property
    def draw(self) -> ImageDraw.ImageDraw:
        return ImageDraw.Draw(self.image)

    def at(self, *numbers: float) -> list[int]:
        """Pixels of the photo as pixels of the canvas."""
        return [round(number * FINE) for number in numbers]

    def rod(self, left: float, right: float, colour: Colour, half: float = 150, middle: float = HEIGHT / 2) -> None:
        """A lying cylinder: light from above, a bright line, a dark underside and its shadow on the tray."""
        box = self.at(left, middle - half, right, middle + half)
        self._shadow(box)
        wide, high = box[2] - box[0], box[3] - box[1]
        strip = Image.fromarray(_cylinder(high, colour)).resize((wide, high), Image.Resampling.NEAREST)
        self.image.paste(strip, (box[0], box[1]))

    def ball(self, x: float, y: float, r: float, colour: Colour, rim: Colour | None = None) -> None:
        """A round face seen from the front, lit from the upper left."""
        size = round(2 * r * FINE)
        disc = Image.fromarray(_disc(size, colour))
        mask = Image.new("L", (size, size), 0)
        ImageDraw.Draw(mask).ellipse((0, 0, size - 1, size - 1), fill=255)
        self.image.paste(disc, tuple(self.at(x - r, y - r)), mask)
        if rim:
            self.draw.ellipse(self.at(x - r, y - r, x + r, y + r), outline=rim, width=5)

    def disc(self, x: float, y: float, r: float, fill: Colour, rim: Colour | None = None, flat: float = 1) -> None:
        box = self.at(x - r, y - r * flat, x + r, y + r * flat)
        self.draw.ellipse(box, fill=fill, outline=rim, width=4 if rim else 0)

    def line(self, points: list[tuple[float, float]], fill: Colour, width: float = 2) -> None:
        self.draw.line([tuple(self.at(*each)) for each in points], fill=fill, width=round(width * FINE), joint="curve")

    def shape(self, points: list[tuple[float, float]], fill: Colour, rim: Colour | None = None) -> None:
        self.draw.polygon([tuple(self.at(*each)) for each in points], fill=fill, outline=rim, width=3 if rim else 0)

    def box(self, left: float, top: float, right: float, bottom: float, fill: Colour, round_by: float = 0) -> None:
        self.draw.rounded_rectangle(self.at(left, top, right, bottom), round(round_by * FINE), fill=fill)

    def block(self, left: float, top: float, right: float, bottom: float, colour: Colour, round_by: float) -> None:
        """A moulded body: as a cylinder, with round corners."""
        box = self.at(left, top, right, bottom)
        self._shadow(box)
        wide, high = box[2] - box[0], box[3] - box[1]
        mask = Image.new("L", (wide, high), 0)
        ImageDraw.Draw(mask).rounded_rectangle((0, 0, wide - 1, high - 1), round(round_by * FINE), fill=255)
        column = Image.fromarray(_cylinder(high, colour, soft=True))
        self.image.paste(column.resize((wide, high), Image.Resampling.NEAREST), (box[0], box[1]), mask)

    def text(self, x: float, y: float, words: str, size: float, fill: Colour, turn: int = 0) -> None:
        if not turn:
            self.draw.text(self.at(x, y), words, fill=fill, font=font(round(size * FINE)))
            return
        stamp = Image.new("L", tuple(self.at(size * len(words), size * 1.4)), 0)
        ImageDraw.Draw(stamp).text((0, 0), words, fill=255, font=font(round(size * FINE)))
        stamp = stamp.rotate(turn, expand=True)
        self.image.paste(fill, tuple(self.at(x, y)), stamp)

    def glow(self, x: float, y: float, r: float, colour: Colour, strength: float) -> None:
        """A soft patch of colour: a reflection, a stain, a film."""
        size = round(2 * r * FINE)
        run = np.linspace(-1, 1, size)
        away = np.sqrt(run[:, None] ** 2 + run[None, :] ** 2)
        mask = Image.fromarray((np.clip(1 - away, 0, 1) ** 0.7 * 255 * strength).astype(np.uint8))
        self.image.paste(colour, tuple(self.at(x - r, y - r)), mask)

    def _shadow(self, box: list[int]) -> None:
        down = 14 * FINE
        piece = self.image.crop((box[0], box[3], box[2], box[3] + down))
        self.image.paste(piece.point(lambda value: round(value * 0.72)), (box[0], box[3]))

    def photo(self) -> Image.Image:
        """The drawing at the photo's size."""
        return self.image.reduce(FINE)


@lru_cache(maxsize=8)
def _tray(colour: Colour) -> Image.Image:
    """A wet steel tray: brushed, lighter where the lamp stands."""
    rng = np.random.default_rng(7)
    brushed = rng.normal(0, 5, (HEIGHT // 2, 1)) + rng.normal(0, 2, (HEIGHT // 2, WIDTH // 4))
    lamp = np.linspace(14, -18, WIDTH // 4)[None, :] + np.linspace(8, -12, HEIGHT // 2)[:, None]
    small = np.clip(np.array(colour)[None, None, :] + (brushed + lamp)[..., None], 0, 255).astype(np.uint8)
    return Image.fromarray(small).resize((WIDTH * FINE, HEIGHT * FINE), Image.Resampling.BILINEAR)


@lru_cache(maxsize=64)
def _cylinder(high: int, colour: Colour, soft: bool = False) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """One column of a lying cylinder, lit from above: (high, 1, 3)."""
    across = np.linspace(-1, 1, high)
    facing = np.sqrt(1 - np.clip(across, -1, 1) ** 2)
    lit = np.clip(0.35 + 0.75 * (-0.55 * across + 0.83 * facing), 0, 1.3)
    shine = np.exp(-(((across + 0.52) / (0.3 if soft else 0.13)) ** 2)) * (40 if soft else 95)
    return np.clip(np.array(colour)[None, :] * lit[:, None] + shine[:, None], 0, 255).astype(np.uint8)[:, None, :]


@lru_cache(maxsize=64)
def _disc(size: int, colour: Colour) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """A slightly domed face: (size, size, 3)."""
    run = np.linspace(-1, 1, size, dtype=np.float32)
    lit = 1.05 - 0.22 * run[:, None] - 0.12 * run[None, :]
    down, along = (np.exp(-(((run + off) / 0.28) ** 2)) for off in (0.45, 0.4))
    spot = down[:, None] * along[None, :] * 26
    return np.stack([np.clip(each * lit + spot, 0, 255).astype(np.uint8) for each in colour], axis=-1)
