"""Frames for the fake camera: a drawn control body with an engraved number and a code written by zint.

zint is an encoder independent of every reader in the product. The DI is the public sample string of
HL7's and FDA's UDI examples; the serial numbers are invented.
"""

from __future__ import annotations

import hashlib
import io
import random
import subprocess
from pathlib import Path

from PIL import Image, ImageDraw, ImageFilter, ImageFont

DI = "51022222233336"
"""Public sample DI (FDA/HL7 UDI format examples), check digit 6 by GS1 mod 10."""
SIZE = (1280, 720)


def udi(serial: str, di: str = DI) -> str:
    """The element string in its bracketed form, as zint takes it."""
    return f"[01]{di}[21]{serial}"


def zint_code(data: str, folder: Path, symbology: str = "DATAMATRIX") -> Image.Image:
    """A code written by zint, black on white, with a quiet zone of 30 px."""
    name = hashlib.sha256(f"{symbology} {data}".encode()).hexdigest()[:16]
    target = folder / f"code-{name}.png"
    gs1 = ["--gs1"] if data.startswith("[") and symbology != "GS1_128" else []
    subprocess.run(
        ["zint", "-b", symbology, *gs1, "--scale", "4", "-o", str(target), "-d", data], check=True, capture_output=True
    )
    code = Image.open(target).convert("RGB")
    framed = Image.new("RGB", (code.width + 60, code.height + 60), "white")
    framed.paste(code, (30, 30))
    return framed


def plate(serial: str, folder: Path, code: str | None) -> Image.Image:
    """A serial plate on a dark body under uneven light; `code` is zint's input; nothing = an engraved number alone."""
    picture = _surface(seed=7)
    draw = ImageDraw.Draw(picture)
    draw.text((90, 120), "ALDER colonoscope C2", fill=(196, 204, 206), font=_font(44))
    draw.text((90, 200), "working length 1680 mm  3.7 mm", fill=(170, 178, 180), font=_font(34))
    draw.text((90, 290), f"SN {serial}", fill=(225, 230, 231), font=_font(92))
    if code is not None:
        mark = zint_code(code, folder)
        picture.paste(mark.rotate(4, expand=True, fillcolor=(60, 66, 70)), (860, 330))
    return picture.filter(ImageFilter.GaussianBlur(0.6))


def printed(pdf: bytes, folder: Path, name: str) -> list[Image.Image]:
    """The pages of a PDF as paper: drawn by poppler at 203 dots an inch, the coarsest of label printers."""
    (folder / f"{name}.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "203", "-png", f"{name}.pdf", name], check=True, cwd=folder)
    return [Image.open(path).convert("RGB") for path in sorted(folder.glob(f"{name}-*.png"))]


def held(paper: Image.Image) -> Image.Image:
    """A small paper before the camera: twice as large as it was printed, a little aslant, out of focus by a little."""
    picture = _surface(seed=11)
    near = paper.resize((2 * paper.width, 2 * paper.height), Image.Resampling.BICUBIC)
    near = near.rotate(3, Image.Resampling.BICUBIC, expand=True, fillcolor=(60, 66, 70))
    picture.paste(near, ((SIZE[0] - near.width) // 2, (SIZE[1] - near.height) // 2))
    return picture.filter(ImageFilter.GaussianBlur(0.8))


def tube() -> Image.Image:
    """A piece of insertion tube with depth marks and a peeling spot."""
    picture = _surface(seed=3)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 220, 1280, 520), fill=(30, 34, 37))
    for x, mark in ((240, "60"), (820, "70")):
        draw.rectangle((x, 220, x + 12, 520), fill=(230, 230, 225))
        draw.text((x + 40, 330), mark, fill=(230, 230, 225), font=_font(72))
    draw.ellipse((560, 330, 680, 420), fill=(140, 116, 92), outline=(16, 16, 16), width=6)
    return picture.filter(ImageFilter.GaussianBlur(0.6))


def film(target: Path, frames: list[Image.Image], times: int = 10) -> Path:
    """Writes the frames one after another as motion JPEG; Chromium plays it at 30 a second and loops."""
    with target.open("wb") as out:
        for frame in frames:
            data = io.BytesIO()
            frame.convert("RGB").resize(SIZE).save(data, "JPEG", quality=90, subsampling=2)
            for _ in range(times):
                out.write(data.getvalue())
    return target


def _surface(seed: int) -> Image.Image:
    noise = random.Random(seed)
    small = Image.new("RGB", (64, 36))
    for y in range(36):
        for x in range(64):
            shade = 50 + x // 4 + noise.randrange(0, 9)
            small.putpixel((x, y), (shade, shade + 5, shade + 9))
    return small.resize(SIZE, Image.Resampling.BICUBIC)


def _font(size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype("DejaVuSansMono.ttf", size)
