"""The plate on a scope: who made it, what it is, its number, and the mark that a reader reads, where it has one."""

from __future__ import annotations

from functools import lru_cache

import zxingcpp
from PIL import Image

from demo_seed.drawn.canvas import BLACK, FINE, Canvas

GREY, DARK = (216, 220, 222), (24, 28, 32)


def mark_of(di: str, serial: str) -> zxingcpp.Barcode:
    """A scope's own mark, DI and serial number, as GS1 DataMatrix."""
    return zxingcpp.create_barcode(f"(01){di}(21){serial}", zxingcpp.BarcodeFormat.DataMatrix, gs1=True)


@lru_cache(maxsize=64)
def data_matrix(di: str, serial: str) -> Image.Image:
    """The mark, one pixel a module, with its quiet zone."""
    return Image.fromarray(mark_of(di, serial).to_image(scale=1))


def plate(canvas: Canvas, maker: str, words: str, model: str, serial: str, di: str | None) -> None:
    """Engraved steel on the control body. Without a DI there is no mark: plain text is legal too (21 CFR 801.45)."""
    canvas.block(-60, 60, 1020, 660, BLACK, 90)
    canvas.block(110, 190, 850, 540, GREY, 22)
    canvas.box(122, 202, 838, 528, (208, 213, 215), 16)
    for x, y in ((142, 222), (818, 222), (142, 508), (818, 508)):
        canvas.disc(x, y, 10, (150, 156, 160), (96, 102, 106))
    canvas.text(180, 224, maker.upper(), 44, DARK)
    canvas.text(180, 290, words.upper(), 30 if len(words) <= 18 else 20, DARK)
    canvas.text(180, 342, model, 34, DARK)
    canvas.text(180, 424, f"SN {serial}", 60 if di is None or len(serial) <= 7 else 48, DARK)
    if di is not None:
        mark = data_matrix(di, serial)
        side = 230 * FINE // mark.width * mark.width
        canvas.image.paste(
            mark.resize((side, side), Image.Resampling.NEAREST).convert("RGB").point(_engraved),
            tuple(canvas.at(580, 250)),
        )


def _engraved(value: int) -> int:
    return 26 if value < 128 else 208
