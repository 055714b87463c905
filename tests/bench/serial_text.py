"""Measures how well offline readers read an engraved serial number: whether one is good enough to offer its reading.

    python tests/bench/serial_text.py [--each N] [--save FOLDER]

Readers are those found on this machine; neither is part of the product: `tesseract` (Debian's tesseract-ocr with its
English data) on the PATH, and the Python package `rapidocr` (its models lie in the package) with `onnxruntime`.

The bar, set before anything was measured: in the middle class 90 of 100 numbers come whole, and of what a reader would
offer (its own score 0.95 or more) at most 1 in 100 is another number, in every class. A wrong number that looks right
is worse than none: the person would confirm it. Plates are drawn here, with a seed: brushed metal with a shade over it,
glyphs cut, laser-marked or dotted, turned, blurred, with sensor noise, as the 1120 x 420 round the
plate of a photo of 2560 x 1920. Real plates are curved, worn and wet: expect worse.
"""

from __future__ import annotations

import argparse
import difflib
import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

SIZE = (1120, 420)
OFFER_FROM = 0.95
FONTS = ("DejaVuSans-Bold", "DejaVuSansMono", "DejaVuSansCondensed", "DejaVuSansMono-Bold")
FONT_FOLDER = Path("/usr/share/fonts/truetype/dejavu")
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
CLASSES: dict[str, dict[str, tuple[float, float]]] = {
    "easy": {"height": (40, 72), "contrast": (0.45, 0.7), "turn": (-3, 3), "blur": (0.4, 0.9)},
    "middle": {"height": (26, 44), "contrast": (0.22, 0.45), "turn": (-8, 8), "blur": (0.8, 1.5)},
    "hard": {"height": (16, 28), "contrast": (0.1, 0.25), "turn": (-20, 20), "blur": (1.2, 2.2)},
}
"""Height of the capitals in pixels, contrast as a share of the metal's grey, degrees, pixels."""

Reading = tuple[str, float]
Reader = Callable[[Image.Image], list[Reading]]


@dataclass(frozen=True)
class Plate:
    image: Image.Image
    truth: str


def plate(kind: str, seed: int) -> Plate:
    """One drawn plate with its number."""
    chance = np.random.default_rng([seed, list(CLASSES).index(kind)])
    of = {name: float(chance.uniform(*span)) for name, span in CLASSES[kind].items()}
    truth = _number(chance)
    metal = _metal(chance)
    mask = _words(chance, truth, of["height"])
    cut = np.asarray(mask.rotate(of["turn"], Image.Resampling.BICUBIC), dtype=float) / 255
    edge = np.roll(cut, (2, 2), (0, 1)) * (1 - cut) if chance.random() < 0.6 else 0
    grey = metal * (1 - of["contrast"] * cut + 0.5 * of["contrast"] * edge)
    soft = Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(of["blur"]))
    noisy = np.asarray(soft, dtype=float) + chance.normal(0, 4, metal.shape)
    return Plate(Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8)), truth)


def _number(chance: np.random.Generator) -> str:
    """Seven digits, or letters and digits of any kind, those that are mistaken for each other among them."""
    if chance.random() < 0.5:
        return "".join(chance.choice(list("0123456789"), 7))
    head = "".join(chance.choice(list(LETTERS), int(chance.integers(1, 4))))
    tail = "".join(chance.choice(list("0123456789" + LETTERS), 3)) + "".join(chance.choice(list("0123456789"), 4))
    return head + ("-" if chance.random() < 0.3 else "") + tail


def _metal(chance: np.random.Generator) -> Any:
    width, height = SIZE
    strokes = (
        chance.normal(0, 1, (height, 1)) * np.ones((1, width))
        + chance.normal(0, 0.6, (height, width // 40 + 1))[:, np.arange(width) // 40]
    )
    x, y = np.linspace(-1, 1, width)[None, :], np.linspace(-1, 1, height)[:, None]
    shade = chance.uniform(20, 60) * x * chance.choice([-1, 1]) + chance.uniform(10, 50) * y
    glare = chance.uniform(10, 60) * np.exp(-((x - chance.uniform(-1, 1)) ** 2 * 6))
    return np.clip(chance.uniform(110, 170) + strokes * chance.uniform(2, 7) + shade + glare, 20, 250)


def _words(chance: np.random.Generator, truth: str, height: float) -> Image.Image:
    """The number, with or without "SN" before it, a line above and one below; strokes or dots."""
    font = ImageFont.truetype(str(FONT_FOLDER / f"{chance.choice(FONTS)}.ttf"), round(height / 0.73))
    mask = Image.new("L", SIZE)
    draw = ImageDraw.Draw(mask)
    line = f"SN {truth}" if chance.random() < 0.5 else truth
    left, middle = int(chance.integers(160, 300)), int(chance.integers(150, 210))
    draw.text((left, middle - 2.1 * height), f"REF {chance.choice(['A180', 'C22', 'B9L'])}", 255, font)
    draw.text((left, middle), line, 255, font)
    if chance.random() < 0.5:
        draw.text((left, middle + 2.1 * height), "2019-04", 255, font)
    if chance.random() < 0.3:
        step = max(3, round(height / 9))
        dots = Image.new("L", SIZE)
        on, dotted = np.asarray(mask) > 128, ImageDraw.Draw(dots)
        for y in range(0, SIZE[1], step):
            for x in range(0, SIZE[0], step):
                if on[y, x]:
                    dotted.ellipse((x - step * 0.42, y - step * 0.42, x + step * 0.42, y + step * 0.42), fill=255)
        return dots
    return mask


def flat(image: Image.Image) -> Image.Image:
    """Shade taken out: a little blur, less a wide blur, stretched."""
    grey = image.convert("L")
    fine, wide = (np.asarray(grey.filter(ImageFilter.GaussianBlur(r)), dtype=float) for r in (1.2, 25))
    low, high = np.percentile(fine - wide, (0.5, 99.5))
    return Image.fromarray(np.clip((fine - wide - low) / max(high - low, 1) * 255, 0, 255).astype(np.uint8))


# ---------------------------------------------------------------- readers


def tesseract() -> Reader | None:
    if shutil.which("tesseract") is None:
        return None

    def read(image: Image.Image) -> list[Reading]:
        with tempfile.NamedTemporaryFile(suffix=".png") as file:
            image.save(file.name)
            told = subprocess.run(
                ["tesseract", file.name, "-", "--psm", "11", "-c",
                 f"tessedit_char_whitelist={LETTERS}0123456789-", "tsv"],
                capture_output=True, text=True, timeout=60, check=True,
            ).stdout  # fmt: skip
        lines: dict[str, list[Reading]] = {}
        for row in (line.split("\t") for line in told.splitlines()[1:]):
            if len(row) == 12 and row[11].strip():
                lines.setdefault("/".join(row[2:5]), []).append((row[11], float(row[10]) / 100))
        return [(" ".join(word for word, _ in words), min(score for _, score in words)) for words in lines.values()]

    return read


def rapidocr() -> Reader | None:
    try:
        from rapidocr import RapidOCR
    except ImportError:
        return None
    engine = RapidOCR(params={"Global.log_level": "error", "EngineConfig.onnxruntime.intra_op_num_threads": 2})

    def read(image: Image.Image) -> list[Reading]:
        told = engine(np.asarray(image.convert("RGB")))
        return list(zip(told.txts or (), (float(score) for score in told.scores or ()), strict=True))

    return read


def picked(readings: list[Reading]) -> Reading:
    """The line that is most likely the number: after "SN", else the longest that has four digits and no date's form."""
    fitting = []
    for text, score in readings:
        bare = re.sub(r"[\s:.]", "", text.upper())
        said = re.match(r"^S/?N?[O0]?(?=[A-Z0-9-]{5})", bare) if bare.startswith(("SN", "S/N")) else None
        number = bare[said.end() :] if said else bare
        if re.fullmatch(r"[A-Z0-9-]{5,14}", number) and sum(sign.isdigit() for sign in number) >= 4:
            if not re.fullmatch(r"\d{4}-\d\d", number) and not number.startswith("REF"):
                fitting.append((said is not None, len(number), score, number))
    if not fitting:
        return "", 0.0
    _, _, score, number = max(fitting)
    return number, score


def right(truth: str, read: str) -> int:
    """Characters of the number that stand in the reading, in order."""
    return sum(block.size for block in difflib.SequenceMatcher(None, truth, read, autojunk=False).get_matching_blocks())


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--each", type=int, default=60, help="plates of each class")
    options.add_argument("--save", type=Path, help="keep the first five plates of each class here")
    given = options.parse_args()
    readers = {"tesseract": tesseract(), "rapidocr": rapidocr()}
    for name, reader in readers.items():
        if reader is None:
            print(json.dumps({"reader": name, "not_measured": "not on this machine"}))
    good = {name: True for name, reader in readers.items() if reader is not None}
    for kind in CLASSES:
        plates = [plate(kind, seed) for seed in range(given.each)]
        if given.save is not None:
            given.save.mkdir(parents=True, exist_ok=True)
            for number, each in enumerate(plates[:5]):
                each.image.save(given.save / f"{kind}-{number}-{each.truth}.png")
        for name, reader in readers.items():
            for way, change in (("as taken", lambda image: image), ("flattened", flat)):
                if reader is None:
                    continue
                began = time.perf_counter()
                told = [(each.truth, *picked(reader(change(each.image)))) for each in plates]
                ms = (time.perf_counter() - began) * 1000 / len(plates)
                print(json.dumps(row(name, kind, way, told) | {"ms": round(ms)}), flush=True)
                if way == "flattened":
                    good[name] = good[name] and passes(kind, told)
    for name, enough in good.items():
        print(json.dumps({"reader": name, "good_enough": enough}))
    return 0


def row(name: str, kind: str, way: str, told: list[tuple[str, str, float]]) -> dict[str, object]:
    offered = [(truth, read) for truth, read, score in told if read and score >= OFFER_FROM]
    signs = sum(len(truth) for truth, _, _ in told)
    return {
        "reader": name, "class": kind, "way": way, "plates": len(told),
        "characters_right": round(sum(right(truth, read) for truth, read, _ in told) / signs, 3),
        "whole": sum(truth == read for truth, read, _ in told),
        "read_otherwise": sum(read not in ("", truth) for truth, read, _ in told),
        "offered": len(offered), "offered_wrong": sum(truth != read for truth, read in offered),
        "wrong_ones": [f"{truth} as {read}" for truth, read in offered if truth != read][:6],
    }  # fmt: skip


def passes(kind: str, told: list[tuple[str, str, float]]) -> bool:
    """The bar of this file's head."""
    offered = [(truth, read) for truth, read, score in told if read and score >= OFFER_FROM]
    whole = sum(truth == read for truth, read, _ in told)
    wrong = sum(truth != read for truth, read in offered)
    return wrong * 100 <= len(offered) and (kind != "middle" or whole * 100 >= 90 * len(told))


if __name__ == "__main__":
    sys.exit(main())
