"""Drawn photos: what a part of a colonoscope looks like, plain enough that nobody takes it for a real one."""

from __future__ import annotations

import hashlib
import io
import random
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image, ImageDraw, ImageFont

WIDTH, HEIGHT = 1280, 960
Draw = ImageDraw.ImageDraw
STEEL, DARK, BAND, RUBBER = (168, 178, 182), (28, 32, 36), (74, 58, 62), (33, 38, 40)


@dataclass(frozen=True)
class Picture:
    """A JPEG and what an entry says of it."""

    data: bytes
    shows: str

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()

    def named(self) -> dict[str, object]:
        return {
            "sha256": self.sha256,
            "bytes": len(self.data),
            "type": "image/jpeg",
            "width": WIDTH,
            "height": HEIGHT,
            "shows": self.shows,
        }


def picture(part: str, key: str, shows: str = "part", flaw: str | None = None, text: str = "") -> Picture:
    """A photo of a part; `key` moves the light and the hand a little, so that no two are alike."""
    chance = random.Random(f"{part} {key}")
    image = Image.new("RGB", (WIDTH, HEIGHT), (203, 210, 213))
    SHAPES.get(part, _tube)(ImageDraw.Draw(image), chance, text)
    if flaw:
        FLAWS[flaw](ImageDraw.Draw(image), chance)
    # Turned at half size and brought up again: soft as a hand-held photo, and four times as quick.
    half = image.reduce(2).rotate(chance.uniform(-3, 3), Image.Resampling.BILINEAR, fillcolor=(203, 210, 213))
    light = Image.effect_noise((WIDTH // 4, HEIGHT // 4), 18).resize(half.size).convert("RGB")
    image = Image.blend(half, light, 0.06).resize((WIDTH, HEIGHT), Image.Resampling.BILINEAR)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    return Picture(out.getvalue(), shows)


def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size)


def _rod(draw: Draw, colour: tuple[int, int, int], left: int, right: int, half: int = 190) -> None:
    """A piece of tube across the picture, with a light along it."""
    middle = HEIGHT // 2
    draw.rectangle((left, middle - half, right, middle + half), fill=colour)
    shine = tuple(min(255, c + 60) for c in colour)
    draw.rectangle((left, middle - half // 2, right, middle - half // 3), fill=shine)
    shade = tuple(c * 2 // 3 for c in colour)
    draw.rectangle((left, middle + half * 2 // 3, right, middle + half), fill=shade)


def _tube(draw: Draw, chance: random.Random, text: str) -> None:
    _rod(draw, RUBBER, 0, WIDTH)
    first = int(text) - 10 if text else chance.randrange(20, 90, 10)
    for index in range(3):
        x = 180 + index * 430
        draw.rectangle((x, HEIGHT // 2 - 190, x + 14, HEIGHT // 2 + 190), fill=(222, 226, 228))
        draw.text((x + 30, HEIGHT // 2 - 60), str(first + index * 10), fill=(222, 226, 228), font=_font(96))


def _band(draw: Draw, chance: random.Random, text: str) -> None:
    edge = 500 + chance.randrange(-30, 30)
    _rod(draw, STEEL, 0, edge)
    _rod(draw, BAND, edge, edge + 260)
    _rod(draw, RUBBER, edge + 260, WIDTH)
    for x in range(edge + 290, WIDTH, 46):
        draw.arc((x, HEIGHT // 2 - 190, x + 30, HEIGHT // 2 + 190), 270, 90, fill=(12, 14, 16), width=5)


def _tip(draw: Draw, chance: random.Random, text: str) -> None:
    x, y, r = WIDTH // 2 + chance.randrange(-20, 20), HEIGHT // 2, 400
    draw.ellipse((x - r, y - r, x + r, y + r), fill=DARK, outline=STEEL, width=26)
    for dx, dy, size, colour in (
        (-40, -130, 120, (40, 62, 96)), (-210, 60, 66, (236, 238, 228)), (150, -190, 66, (236, 238, 228)),
        (120, 130, 130, (6, 8, 9)), (-120, 210, 40, (90, 96, 100)), (240, 20, 30, (90, 96, 100)),
    ):  # fmt: skip
        draw.ellipse((x + dx - size, y + dy - size, x + dx + size, y + dy + size), fill=colour, outline=STEEL, width=6)


def _port(draw: Draw, chance: random.Random, text: str) -> None:
    draw.polygon(((260, 960), (520, 300), (820, 300), (1060, 960)), fill=DARK)
    draw.ellipse((480, 180, 860, 430), fill=STEEL, outline=(96, 104, 108), width=14)
    draw.ellipse((570, 240, 770, 375), fill=(8, 9, 10))


def _plug(draw: Draw, chance: random.Random, text: str) -> None:
    draw.rounded_rectangle((160, 220, 900, 740), 60, fill=DARK)
    for index in range(4):
        draw.rectangle((900, 290 + index * 110, 1120, 330 + index * 110), fill=STEEL)


def _body(draw: Draw, chance: random.Random, text: str) -> None:
    draw.rounded_rectangle((120, 260, 1160, 720), 120, fill=DARK)
    for x in (380, 640):
        draw.ellipse((x - 90, 330, x + 90, 510), fill=(58, 64, 68), outline=STEEL, width=8)
    draw.ellipse((820, 350, 1060, 620), fill=(44, 48, 52), outline=(96, 104, 108), width=16)


def _serial(draw: Draw, chance: random.Random, text: str) -> None:
    draw.rounded_rectangle((60, 60, 1220, 900), 120, fill=DARK)
    draw.rounded_rectangle((230, 320, 1050, 640), 24, fill=(214, 218, 220), outline=(120, 126, 130), width=6)
    draw.text((270, 350), "ALDER  COLONOSCOPE", fill=(40, 44, 48), font=_font(56))
    draw.text((270, 470), f"SN {text}", fill=(24, 28, 32), font=_font(120))


def _chip(draw: Draw, chance: random.Random) -> None:
    draw.polygon(((610, 430), (668, 400), (700, 470), (672, 560), (618, 540), (598, 480)), fill=(214, 196, 160))
    draw.line(((640, 400), (632, 340), (644, 300)), fill=(20, 18, 18), width=5)


def _scratch(draw: Draw, chance: random.Random) -> None:
    draw.line(((520, 410), (600, 470), (760, 540)), fill=(168, 172, 174), width=6)


def _peel(draw: Draw, chance: random.Random) -> None:
    draw.polygon(((600, 360), (720, 340), (780, 430), (700, 520), (590, 470)), fill=(120, 112, 96))
    draw.line(((600, 360), (720, 340), (780, 430)), fill=(196, 190, 176), width=8)


def _debris(draw: Draw, chance: random.Random) -> None:
    for _ in range(14):
        x, y = chance.randrange(560, 780), chance.randrange(230, 380)
        draw.ellipse((x, y, x + chance.randrange(10, 26), y + chance.randrange(8, 20)), fill=(120, 88, 48))


SHAPES: dict[str, Callable[[Draw, random.Random, str], None]] = {
    "band_tip": _band,
    "band_tube": _band,
    "lens": _tip,
    "distal_tip": _tip,
    "biopsy_port": _port,
    "light_guide_plug": _plug,
    "contacts": _plug,
    "control_body": _body,
    "serial": _serial,
}
FLAWS: dict[str, Callable[[Draw, random.Random], None]] = {
    "band_chip": _chip,
    "scratch": _scratch,
    "peeling_coat": _peel,
    "debris": _debris,
}
