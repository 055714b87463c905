"""What is laid over a photo, drawn for paper: rings, arrows and lengths over the picture, a length also in words."""

from __future__ import annotations

from math import hypot

from loupebook.inspections.tables.laid import Over
from loupebook.reading.say import Say
from loupebook.record.kinds import Arrow, Length, Ring, Spot
from loupebook.rules.measure import mm_said, said_by

INK = (("#000", 0.016), ("#ffc21f", 0.008))
"""The loupe's yellow between two ink lines: colour, and stroke as a share of the photo's width."""
CROSS = 0.016
"""Half of the stroke across the end of a length, and a third of an arrow's head, as a share of the longer side."""


def over_svg(over: Over, width: int, height: int) -> str:
    """All of it over a picture of so many pixels; nothing where nothing lies over it."""
    shapes = [
        *(_ring(ring, width, height) for ring in over.rings),
        *(_arrow(arrow, width, height) for arrow in over.arrows),
        *(_length(length, width, height) for length in over.lengths),
    ]
    drawn = "".join(_inked(shape, width, *ink) for ink in INK for shape in shapes)
    return f"<svg viewBox='0 0 {width} {height}'>{drawn}</svg>" if drawn else ""


def _inked(shape: str, width: int, colour: str, share: float) -> str:
    stroke = f"stroke='{colour}' stroke-width='{width * share:.1f}' stroke-linecap='round'"
    return f"<{shape} fill='none' {stroke}/>"


def _ring(ring: Ring, width: int, height: int) -> str:
    x, y, r = ring.x * width / 10000, ring.y * height / 10000, ring.r * width / 10000
    return f"circle cx='{x:.1f}' cy='{y:.1f}' r='{r:.1f}'"


def _arrow(arrow: Arrow, width: int, height: int) -> str:
    """A line with two strokes back from its tip."""
    (x, y), along, across = _line(arrow.tail, arrow.tip, width, height)
    head = "".join(
        f"M{x - 2 * along[0] + side * across[0]:.1f} {y - 2 * along[1] + side * across[1]:.1f}L{x:.1f} {y:.1f}"
        for side in (1, -1)
    )
    return f"path d='{_between(arrow.tail, arrow.tip, width, height)}{head}'"


def _length(length: Length, width: int, height: int) -> str:
    """A line with a stroke across each end, and the same over what it is measured against."""
    lines = ((length.a, length.b), (length.against.a, length.against.b))
    strokes = []
    for a, b in lines:
        strokes.append(_between(a, b, width, height))
        for start, end in ((a, b), (b, a)):
            (x, y), _, (up, down) = _line(start, end, width, height)
            strokes.append(f"M{x - up:.1f} {y - down:.1f}L{x + up:.1f} {y + down:.1f}")
    return f"path d='{''.join(strokes)}'"


def _between(a: Spot, b: Spot, width: int, height: int) -> str:
    (x0, y0), (x1, y1) = ((spot.x * width / 10000, spot.y * height / 10000) for spot in (a, b))
    return f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"


def _line(a: Spot, b: Spot, width: int, height: int) -> tuple[tuple[float, float], ...]:
    """The end `b` in pixels, a short step along the line, and one across it."""
    (x0, y0), (x1, y1) = ((spot.x * width / 10000, spot.y * height / 10000) for spot in (a, b))
    long, step = hypot(x1 - x0, y1 - y0) or 1, CROSS * max(width, height)
    along = ((x1 - x0) / long * step, (y1 - y0) / long * step)
    return (x1, y1), along, (-along[1], along[0])


def length_said(length: Length, say: Say) -> str:
    """What a length says, as the screens say it; without its millimetres where its points say nothing."""
    said = said_by(length)
    if said is None:
        return say("laid.no_mm")
    mm, off = mm_said(said)
    told = say("laid.mm", mm=mm, off=off)
    return say("laid.length_is", length=told, against=say(f"laid.against.{length.against.what}"))
