"""The sheets as they are printed, or shown on a second screen, before a camera: each kind of code on them is read.

The pages are the product's own, drawn by Chromium at 96 dots an inch (a screen) and at 300 (a printer), then laid
askew, blurred and unevenly lit into the picture of a camera. They are read by the product's camera reader in another
Chromium; what has to come out is what stands in the lists the sheets are made from.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from browser.conftest import OpenBrowser, holds, settled
from browser.plates import film
from browser.sink import Hands, Sink
from browser.sink_house import C_14
from browser.test_scanner import TestPage, opened, served, told
from PIL import Image, ImageFilter
from playwright.sync_api import Locator, Page

from demo_seed.labels import labels_sheet

pytestmark = pytest.mark.breadth

__all__ = ["served"]
SCREEN, PRINTER = 1.0, 300 / 96
"""CSS pixels are 96 an inch (CSS Values and Units); printers of labels and offices have 300 and more."""
SEEN = (1000, 560)
"""How much of a camera's 1280 x 720 a label takes when it is held before it."""
CARD = "Nothing found"


def drawn(page: Page, what: Locator) -> Image.Image:
    """A part of the printed page as pixels, as many as the browser has to a CSS pixel."""
    page.emulate_media(media="print")
    picture = Image.open(io.BytesIO(what.screenshot(scale="device"))).convert("RGB")
    page.emulate_media(media="screen")
    return picture


def before_camera(label: Image.Image, turn: float) -> Image.Image:
    """The label as a camera has it: of its own size, a little turned, out of focus, darker to one side."""
    by = min(SEEN[0] / label.width, SEEN[1] / label.height)
    seen = label.resize((round(label.width * by), round(label.height * by)), Image.Resampling.BICUBIC)
    frame = Image.new("RGB", (1280, 720), (196, 192, 184))
    turned = seen.rotate(turn, Image.Resampling.BICUBIC, expand=True, fillcolor=(196, 192, 184))
    frame.paste(turned, ((1280 - turned.width) // 2, (720 - turned.height) // 2))
    shade = Image.linear_gradient("L").rotate(90).resize(frame.size).point(lambda value: 150 + value * 105 // 255)
    dark = Image.new("RGB", frame.size, (40, 38, 36))
    return Image.composite(frame, dark, shade).filter(ImageFilter.GaussianBlur(0.8))


def labels(page: Page) -> dict[str, Image.Image]:
    """C-14's plate with its Data Matrix and its tag with its QR code, off the demo's sheet."""
    page.set_content(labels_sheet())
    row = page.locator("article", has_text=f"SN {C_14.serial}")
    return {name: drawn(page, row.locator(f".{name}")) for name in ("plate", "tag")}


def card(hands: Hands) -> dict[str, Image.Image]:
    """One command card off the sheet: its QR code and its bars."""
    hands.page.evaluate("() => { location.hash = '#/hands-free'; }")
    settled(hands.page)
    one = hands.page.locator("figure", has=hands.page.locator("figcaption", has_text=CARD)).first
    return {"card": drawn(hands.page, one.locator(".qr")), "bars": drawn(hands.page, one.locator(".bar"))}


WANTED = {
    "plate": f"01{C_14.di}21{C_14.serial}",
    "tag": f"LB1:S:{C_14.tag}",
    "card": "LB1:C:nothing-found",
    "bars": "LB1:C:nothing-found",
}


@pytest.mark.parametrize(("where", "scale"), [("screen", SCREEN), ("paper", PRINTER)])
def test_every_kind_of_code_on_the_sheets_is_read_by_the_camera(
    sink: Sink, open_browser: OpenBrowser, served: TestPage, tmp_path: Path, screens: Path, where: str, scale: float
) -> None:
    station = {"screen": "Sink 2", "paper": "Sink 3"}[where]
    hands = sink.tablet(station, camera="none", device_scale_factor=scale)
    blank = sink.contexts[station].new_page()
    pictures = labels(blank) | card(hands)
    assert pictures["tag"].width == pytest.approx(62 / 25.4 * 96 * scale, abs=3), "62 mm, as the sheet says"
    blank.close()
    # The bars are for readers that read no squares: off the paper, by a decoder of its own. A camera has the square.
    bars = pictures.pop("bars")
    if where == "paper":
        (read,) = zxingcpp.read_barcodes(np.asarray(before_camera(bars, 2)))
        assert (read.format, read.text) == (zxingcpp.BarcodeFormat.Code128, WANTED["bars"])
    for name, picture in pictures.items():
        scenes = [before_camera(picture, turn) for turn in (2, -3)]
        scenes[0].save(screens / f"sheet-{where}-{name}.png")
        page = opened(open_browser, served, profile=name, camera=film(tmp_path / f"{name}.mjpeg", scenes, times=15))
        assert page.evaluate("readers.openCamera()") == "open"
        holds(page, "readers.told.codes.length > 0")
        assert told(page)["codes"][0]["text"] == WANTED[name], f"{where} {name}"
        page.context.close()
