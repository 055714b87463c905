"""Draws the mark: a winding line, inked up to the loupe that sits on it. Writes the icons into public/.

Run from the checkout: .venv/bin/python frontend/build/draw_mark.py
Everything lies inside the inner 80 % circle that a maskable icon keeps (W3C app manifest, "icon masks").
"""

from __future__ import annotations

import math
from pathlib import Path

from PIL import Image, ImageDraw

PUBLIC = Path(__file__).resolve().parents[1] / "public"
BOX = 512
PAPER, INK, LOUPE, PENCIL = "#ffffff", "#0b1e29", "#ffc21f", "#c3ced3"
START, END, LEFT, RIGHT = 0.0, 2.5, 120.0, 392.0
CENTRE_Y, SWING = 256.0, 78.0
LOUPE_AT, LOUPE_R = 1.5, 62.0
Point = tuple[float, float]


def at(turn: float) -> Point:
    """The point of the line after `turn` half waves, in the 512 box."""
    share = (turn - START) / (END - START)
    return LEFT + share * (RIGHT - LEFT), CENTRE_Y + SWING * math.cos(turn * math.pi)


def line(first: float, last: float, steps: int = 160) -> list[Point]:
    """Points along the line between two turns."""
    return [at(first + (last - first) * step / steps) for step in range(steps + 1)]


def draw(size: int) -> Image.Image:
    """The mark in `size` pixels, drawn four times larger and reduced."""
    grain = 4 * size / BOX
    image = Image.new("RGB", (4 * size, 4 * size), PAPER)
    pen = ImageDraw.Draw(image)

    def disc(point: Point, radius: float, colour: str) -> None:
        x, y, r = point[0] * grain, point[1] * grain, radius * grain
        pen.ellipse((x - r, y - r, x + r, y + r), fill=colour)

    for points, colour in ((line(LOUPE_AT, END), PENCIL), (line(START, LOUPE_AT), INK)):
        for point in points:
            disc(point, 17, colour)
    for radius, colour in ((LOUPE_R, INK), (LOUPE_R - 9, LOUPE), (LOUPE_R - 27, INK), (LOUPE_R - 36, PAPER)):
        disc(at(LOUPE_AT), radius, colour)
    disc(at(LOUPE_AT), 13, INK)
    return image.resize((size, size), Image.Resampling.LANCZOS)


def svg() -> str:
    """The same mark as SVG."""

    def path(points: list[Point], colour: str) -> str:
        steps = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        return f'<polyline points="{steps}" fill="none" stroke="{colour}" stroke-width="34" stroke-linecap="round"/>'

    x, y = at(LOUPE_AT)
    rings = ((LOUPE_R, INK), (LOUPE_R - 9, LOUPE), (LOUPE_R - 27, INK), (LOUPE_R - 36, PAPER), (13, INK))
    circles = "".join(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" fill="{colour}"/>' for r, colour in rings)
    body = path(line(LOUPE_AT, END, 24), PENCIL) + path(line(START, LOUPE_AT, 36), INK) + circles
    ground = f'<rect width="512" height="512" rx="96" fill="{PAPER}"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 512 512">{ground}{body}</svg>\n'


def main() -> None:
    """Writes mark.svg, mark-192.png and mark-512.png."""
    PUBLIC.joinpath("mark.svg").write_text(svg(), "utf-8")
    for size in (192, 512):
        draw(size).save(PUBLIC / f"mark-{size}.png", optimize=True)


if __name__ == "__main__":
    main()
