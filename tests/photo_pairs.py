"""Pairs of pictures whose laying over each other is known: parts of real photos, as two looks at one thing would be.

The photos are those that come in scikit-image's own package (skimage.data). A pair is two squares cut from one photo,
turned, sized and shifted against each other, lit otherwise, with noise and blur of their own. Pictures alone are drawn
by scikit-image's warp, at third order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from skimage import color, data, filters, img_as_float, transform

SIDE = 256
PHOTOS = (
    "astronaut", "brick", "camera", "cat", "coffee", "coins", "grass", "gravel", "hubble_deep_field",
    "immunohistochemistry", "moon", "retina", "rocket", "clock", "cell",
)  # fmt: skip
"""In the package itself, at least 250 px: photographs, no drawings."""
Array = np.ndarray[Any, Any]
MIDDLE = (SIDE - 1) / 2
TO_MIDDLE = np.array([[1, 0, -MIDDLE], [0, 1, -MIDDLE], [0, 0, 1]])


@dataclass(frozen=True)
class Cut:
    """A picture 4:3 in its square: grey values 0 to 255, what belongs to it, and from its pixels to the source's."""

    values: Array
    inside: Array
    to_source: Array


@dataclass(frozen=True)
class Pair:
    """`known` goes from then's square to now's, both from their middles; None where they show different things."""

    name: str
    then: Cut
    now: Cut
    known: Array | None


def photos() -> dict[str, Array]:
    found = {name: getattr(data, name)() for name in PHOTOS}
    grey = {name: color.rgb2gray(one[..., :3]) if one.ndim == 3 else one for name, one in found.items()}
    return {name: img_as_float(one).astype(np.float64) for name, one in grey.items()}


def cut(
    source: Array, middle: tuple[float, float], step: float, turn: float, random: np.random.Generator,
    gain: float = 1, gamma: float = 1, noise: float = 3, blur: float = 0,
) -> Cut:  # fmt: skip
    """A picture of `source` round `middle`, `step` of its pixels to one of the square."""
    c, s = step * math.cos(turn), step * math.sin(turn)
    to_source = np.array([[c, -s, middle[0]], [s, c, middle[1]], [0, 0, 1]]) @ TO_MIDDLE
    soft = filters.gaussian(source, step / 2) if step > 1 else source
    to = transform.AffineTransform(to_source)
    seen = transform.warp(soft, to, output_shape=(SIDE, SIDE), order=3, mode="reflect")
    seen = filters.gaussian(seen, blur) if blur else seen
    grey = 255 * np.clip(seen * gain, 0, 1) ** gamma + random.normal(0, noise, seen.shape)
    inside = np.zeros((SIDE, SIDE), np.uint8)
    inside[SIDE // 8 : SIDE - SIDE // 8] = 1
    return Cut(np.where(inside == 1, np.clip(np.round(grey), 0, 255), 0).astype(np.float32), inside, to_source)


def known_pairs(count: int, seed: int) -> list[Pair]:
    """Turned up to 20 degrees, sized 0.8 to 1.25, shifted up to 12 % of the side, as a hand may do it."""
    random, sources = np.random.default_rng(seed), photos()
    names = list(sources)
    return [_known(names[nth % len(names)], sources[names[nth % len(names)]], random) for nth in range(count)]


def _known(name: str, source: Array, random: np.random.Generator) -> Pair:
    height, width = source.shape
    step = min(width, height * 4 / 3) / SIDE * random.uniform(0.5, 0.62)
    x, y = width / 2 + random.uniform(-0.05, 0.05) * width, height / 2 + random.uniform(-0.05, 0.05) * height
    then = cut(source, (x, y), step, 0, random, noise=2)
    shift = random.uniform(-0.12, 0.12, 2) * SIDE * step
    now = cut(
        source, (x + shift[0], y + 0.75 * shift[1]), step / math.exp(random.uniform(math.log(0.8), math.log(1.25))),
        math.radians(random.uniform(-20, 20)), random, gain=random.uniform(0.75, 1.1), gamma=random.uniform(0.8, 1.25),
        noise=4, blur=random.uniform(0, 0.8),
    )  # fmt: skip
    known = TO_MIDDLE @ np.linalg.inv(now.to_source) @ then.to_source @ np.linalg.inv(TO_MIDDLE)
    return Pair(name, then, now, known)


def unrelated_pairs(count: int, seed: int) -> list[Pair]:
    """Pictures of two different things."""
    random, sources = np.random.default_rng(seed), photos()
    names = list(sources)
    pairs: list[Pair] = []
    while len(pairs) < count:
        one, two = (str(name) for name in random.choice(names, 2, replace=False))
        pairs.append(Pair(f"{one} / {two}", _somewhere(sources[one], random), _somewhere(sources[two], random), None))
    return pairs


def _somewhere(source: Array, random: np.random.Generator) -> Cut:
    height, width = source.shape
    step = min(width, height * 4 / 3) / SIDE * random.uniform(0.5, 0.9)
    middle = (width / 2 + random.uniform(-0.04, 0.04) * width, height / 2 + random.uniform(-0.04, 0.04) * height)
    return cut(source, middle, step, math.radians(random.uniform(-20, 20)), random)


def written(pairs: list[Pair], folder: Path) -> None:
    """pairs.bin, as align_twin.mjs reads it."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "pairs.bin").open("wb") as out:
        for one in (each for pair in pairs for each in (pair.then, pair.now)):
            out.write(one.values.tobytes() + one.inside.tobytes())


def off(pair: Pair, a: float, b: float, x0: float, y0: float) -> float:
    """How far a laying puts the picture's corners from where they belong, the most of the four, px of the square."""
    assert pair.known is not None
    half, quarter = SIDE / 2, SIDE * 3 / 8
    corners = np.array([[x, y, 1] for x in (-half, half) for y in (-quarter, quarter)]).T
    laid = np.array([[a, -b, x0], [b, a, y0], [0, 0, 1]])
    return float(np.max(np.hypot(*((laid - pair.known) @ corners)[:2])))
