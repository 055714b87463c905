"""Photographs to blur, shake, dim and fog by known amounts: those that scikit-image carries in its own package.

scikit-image 0.26, `skimage/data`: in the public domain or under CC0, but for `brick`, `grass`, `gravel` (CC0, texture
photographs), `chelsea` (CC0), `motorcycle_left` (Middlebury stereo set 2014, free for research, cited as Scharstein
et al., GCPR 2014) and `hubble_deep_field`, `moon`, `rocket`, `astronaut` (NASA, public domain); each is described in
`skimage/data/_fetchers.py`. None shows a scope: what is measured is how blur shows in photographs of many things.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter
from scipy.signal import fftconvolve

Picture = np.ndarray[Any, np.dtype[np.float64]]
Frame = np.ndarray[Any, np.dtype[np.uint8]]

NAMES = (
    "astronaut.png", "brick.png", "camera.png", "cell.png", "chelsea.png", "coffee.png", "coins.png", "grass.png",
    "gravel.png", "hubble_deep_field.jpg", "ihc.png", "moon.png", "motorcycle_left.png", "page.png", "retina.jpg",
    "rocket.jpg", "text.png",
)  # fmt: skip
EDGE = 640


@cache
def photograph(name: str) -> Picture:
    """Its greys, 640 pixels at most, as the measured picture of a camera has."""
    spec = find_spec("skimage")
    assert spec is not None and spec.origin is not None, "scikit-image is not installed: tests/requirements.lock"
    image = Image.open(Path(spec.origin).parent / "data" / name).convert("L")
    if max(image.size) > EDGE:
        share = EDGE / max(image.size)
        image = image.resize((round(image.width * share), round(image.height * share)), Image.Resampling.BOX)
    return np.asarray(image, dtype=float)


def defocused(picture: Picture, sigma: float) -> Picture:
    """Blurred by a Gaussian of this deviation in pixels."""
    return np.asarray(gaussian_filter(picture, sigma)) if sigma else picture


def shaken(picture: Picture, length: float, angle: float) -> Picture:
    """Moved evenly over `length` pixels in one direction while the shutter was open."""
    if length <= 1:
        return picture
    kernel = np.zeros((41, 41))
    for t in np.linspace(-(length - 1) / 2, (length - 1) / 2, 4 * int(length) + 1):
        x, y = 20 + t * np.cos(angle), 20 + t * np.sin(angle)
        left, top = int(np.floor(x)), int(np.floor(y))
        for down, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
            weight = abs(1 - down - (y - top)) * abs(1 - right - (x - left))
            kernel[top + down, left + right] += weight
    return np.asarray(fftconvolve(np.pad(picture, 20, mode="edge"), kernel / kernel.sum(), mode="valid"))


def fogged(picture: Picture, share: float) -> Picture:
    """A veil over the lens: `share` of the light comes from everywhere, as much of the rest is scattered near by."""
    return (1 - share) * ((1 - share) * picture + share * gaussian_filter(picture, 6)) + share * 170


def exposed(picture: Picture, gain: float, noise: float, random: np.random.Generator) -> Frame:
    """A frame of the camera: gain, sensor noise (deviation in greys), whole greys from 0 to 255."""
    return np.clip(np.round(picture * gain + random.normal(0, noise, picture.shape)), 0, 255).astype(np.uint8)
