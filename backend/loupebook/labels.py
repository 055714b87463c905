"""Codes as rows of modules, to be printed: the command cards.

Whoever prints draws them; nothing here knows of paper. `1` is dark, no quiet zone.
"""

from __future__ import annotations

import json
from pathlib import Path

from loupebook.qr import modules
from loupebook.rules.codes_shape import COMMANDS

WRITTEN = "shared/cards/commands.json"


def bar_row(text: str) -> str:
    """Code 128, for readers that read no squares."""
    import numpy as np  # both cost a while, and only printing needs them
    import zxingcpp

    image = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128).to_image(scale=1, add_quiet_zones=False)
    return "".join("1" if value < 128 else "0" for value in np.asarray(image)[0])


def cards_text() -> str:
    """The text of commands.json: each command a card may ask for, as QR code and as Code 128."""
    cards = [
        {"command": command, "text": text, "qr": modules(text), "bar": bar_row(text)}
        for command in COMMANDS
        if (text := f"LB1:C:{command}")
    ]
    lines = ",\n".join(f"  {json.dumps(card)}" for card in cards)
    return f'{{\n "v": 1,\n "cards": [\n{lines}\n ]\n}}\n'


def stale_files(root: Path) -> list[str]:
    """The cards' file below the checkout, if it is not what the commands say now."""
    path = root / WRITTEN
    return [] if path.exists() and path.read_text("utf-8") == cards_text() else [WRITTEN]


def write_cards(root: Path) -> list[str]:
    """Writes the cards anew if they are stale; the paths written."""
    stale = stale_files(root)
    for name in stale:
        (root / name).parent.mkdir(exist_ok=True)
        (root / name).write_text(cards_text(), "utf-8")
    return stale
