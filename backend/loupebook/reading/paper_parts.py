"""Pieces that every page for paper is made of: its frame, photos with what is laid over them, a code as modules."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from html import escape
from typing import Literal, Protocol
from zoneinfo import ZoneInfo

from loupebook.qr import modules
from loupebook.reading.packet import Shown
from loupebook.reading.paper_laid import length_said, over_svg
from loupebook.reading.say import Say

Sheet = Literal["a4", "letter"]
SHEETS: dict[str, str] = {"a4": "210mm 297mm", "letter": "215.9mm 279.4mm"}
"""ISO 216 A4, ANSI/ASME Y14.1 Letter."""


class Printed(Protocol):
    """What a page for paper knows besides its rows: whose name stands for an id, and the facility's zone."""

    @property
    def names(self) -> Mapping[str, str]: ...
    @property
    def zone(self) -> str: ...


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


def figure_html(shown: Shown, words: str, told: Printed, say: Say, address: str) -> str:
    """A photo with what is laid over it: data over the picture, never in its bytes. Under it stand its lengths, when
    and how it was taken, and who kept it."""
    width, height = shown.width or 4, shown.height or 3
    lengths = (length_said(length, say) for length in shown.over.lengths)
    under = escape(" · ".join([words, *lengths, taken_said(shown, told, say)]))
    photo = f"<img src='{address}/photos/{shown.sha256}?size=640' alt='{escape(words, quote=True)}'>"
    return f"<figure>{photo}{over_svg(shown.over, width, height)}<figcaption>{under}</figcaption></figure>"


def taken_said(shown: Shown, told: Printed, say: Say) -> str:
    """When, how and with what a photo was taken, who kept it, and what was told against it then."""
    taken = shown.taken
    moment = taken.at if taken is not None and isinstance(taken.at, str) else shown.at
    time = f"{datetime.fromisoformat(moment).astimezone(ZoneInfo(told.zone)):%Y-%m-%d %H:%M}"
    said = [say("taken.at", time=time)]
    if taken is not None:
        said.append(say(f"taken.way.{taken.way}"))
        said += [say("taken.with", tool=taken.tool)] if isinstance(taken.tool, str) else []
        said += [say(f"photo.{each}").lower() for each in taken.told]
    return ", ".join([*said, say("taken.kept_by", person=told.names.get(shown.person, shown.person))])


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
