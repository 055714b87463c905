"""Pieces that every page for paper is made of: its frame, photos with what is laid over them, a code as modules."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Literal

from loupebook.qr import modules
from loupebook.reading.packet import Ringed, Shown

Say = Callable[..., str]
"""A sentence by its key, with what stands in its braces; the key itself where there is none."""
Sheet = Literal["a4", "letter"]
SHEETS: dict[str, str] = {"a4": "210mm 297mm", "letter": "215.9mm 279.4mm"}
"""ISO 216 A4, ANSI/ASME Y14.1 Letter."""


def policy_of(style: str) -> str:
    """What a browser may load for this page: its own style by its hash, photos from here, nothing else."""
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


def page_html(title: str, style: str, parts: Iterable[str], kind: str) -> str:
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        '<link rel="icon" href="/mark.svg" type="image/svg+xml">'
        f'<style>{style}</style></head><body class="{kind}"><main>{"".join(parts)}</main></body></html>'
    )


def photos_html(figures: Sequence[str]) -> str:
    return f"<div class='photos'>{''.join(figures)}</div>" if figures else ""


def figure_html(shown: Shown, words: str, address: str) -> str:
    """A photo with what is laid over it: data over the picture, never in its bytes."""
    width, height = shown.width or 4, shown.height or 3
    rings = "".join(_ring(ring, width, height, *ink) for ring in shown.rings for ink in RING)
    over = f"<svg viewBox='0 0 {width} {height}'>{rings}</svg>" if rings else ""
    said = escape(words, quote=True)
    photo = f"<img src='{address}/photos/{shown.sha256}?size=640' alt='{said}'>"
    return f"<figure>{photo}{over}<figcaption>{said}</figcaption></figure>"


RING = (("#000", 0.016), ("#ffc21f", 0.008))
"""The loupe's ring between two ink lines: colour, and stroke as a share of the photo's width."""


def _ring(ring: Ringed, width: int, height: int, colour: str, share: float) -> str:
    x, y, r = ring.x * width / 10000, ring.y * height / 10000, ring.r * width / 10000
    stroke = f"fill='none' stroke='{colour}' stroke-width='{width * share:.1f}'"
    return f"<circle cx='{x:.1f}' cy='{y:.1f}' r='{r:.1f}' {stroke}/>"


def code_html(text: str, words: str) -> str:
    rows = modules(text)
    quiet = 4
    full = len(rows) + 2 * quiet
    dark = "".join(
        f"M{x + quiet} {y + quiet}h1v1h-1z" for y, row in enumerate(rows) for x, one in enumerate(row) if one == "1"
    )
    paths = f"<rect width='{full}' height='{full}' fill='#fff'/><path d='{dark}'/>"
    box = f"viewBox='0 0 {full} {full}' shape-rendering='crispEdges' role='img' aria-label='{escape(text)}'"
    return f"<div><svg class='code' {box}>{paths}</svg><p class='small'>{escape(words)}</p></div>"


def rows_html(rows: Sequence[tuple[str, object]]) -> str:
    return (
        "<dl>"
        + "".join(f"<dt>{escape(name)}</dt><dd>{escape(str(value))}</dd>" for name, value in rows if value)
        + "</dl>"
    )
