"""Codes to print: made anew when the commands change, and read back by two readers at the size they are printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from loupebook import labels
from PIL import Image
from pyzbar import pyzbar

from demo_seed.drawn.plate import mark_of
from demo_seed.labels import CELL_MM, tag_of
from demo_seed.scopes import SCOPES, Scope

pytestmark = pytest.mark.breadth

ROOT = Path(__file__).resolve().parents[2]
DOTS_A_MM = 300 / 25.4
"""A plain office printer."""
QR_MM, BAR_MODULE_MM, BAR_HIGH_MM = 24.0, 0.254, 11.0
"""As command-sheet.svelte prints them; a quiet zone of 4 modules round a QR code (ISO/IEC 18004), 10 beside bars."""


def cards() -> list[dict[str, Any]]:
    return list(json.loads((ROOT / labels.WRITTEN).read_text("utf-8"))["cards"])


def printed(rows: list[str], quiet: int, wide_mm: float, high_mm: float | None = None) -> Image.Image:
    """The modules as dots on paper: scaled to the printed size, not to whole dots a module."""
    dark = np.array([[cell == "1" for cell in row] for row in rows])
    upright = quiet if len(rows) > 1 else 0
    image = Image.fromarray(np.where(np.pad(dark, ((upright, upright), (quiet, quiet))), 0, 255).astype(np.uint8))
    size = (round(wide_mm * DOTS_A_MM), round((high_mm or wide_mm) * DOTS_A_MM))
    paper = Image.new("L", (size[0] + 60, size[1] + 60), 255)
    paper.paste(image.resize(size, Image.Resampling.NEAREST), (30, 30))
    return paper


def read(paper: Image.Image) -> list[str]:
    """What zxing-cpp and pyzbar read, in that order."""
    first = [each.text for each in zxingcpp.read_barcodes(np.asarray(paper))]
    return [*first, *(each.data.decode() for each in pyzbar.decode(paper))]


def test_the_cards_are_what_the_commands_say() -> None:
    assert labels.stale_files(ROOT) == [], "run `loupebook schema` and commit what it wrote"


@pytest.mark.parametrize("card", cards(), ids=lambda card: card["command"])
def test_each_card_is_read_by_two_readers_at_its_printed_size(card: dict[str, Any]) -> None:
    wide = (len(card["bar"]) + 20) * BAR_MODULE_MM
    assert wide < 85, "two cards stand beside each other on A4"
    assert read(printed(card["qr"], 4, QR_MM)) == [card["text"]] * 2
    assert read(printed([card["bar"]], 10, wide, BAR_HIGH_MM)) == [card["text"]] * 2


@pytest.mark.parametrize("scope", SCOPES, ids=lambda scope: scope.tag)
def test_each_demo_plate_and_tag_is_read_at_its_printed_size(scope: Scope) -> None:
    """pyzbar knows no Data Matrix: the mark is read by the server's first reader alone."""
    tag = np.asarray(tag_of(scope).to_image(scale=1)) < 128
    assert read(paper_of(tag)) == [f"LB1:S:{scope.tag}"] * 2
    if scope.di is None:
        return
    [found] = zxingcpp.read_barcodes(np.asarray(paper_of(np.asarray(mark_of(scope.di, scope.serial).to_image()) < 128)))
    assert (found.symbology_identifier, found.bytes) == ("]d2", f"01{scope.di}21{scope.serial}".encode())


def paper_of(dark: np.ndarray[Any, Any]) -> Image.Image:
    """Modules of `CELL_MM` with their quiet zone, at 300 dots an inch."""
    dots = round(CELL_MM * 300 / 25.4)
    return Image.fromarray(np.kron(np.where(dark, 0, 255), np.ones((dots, dots))).astype("uint8"))
