"""A sheet to try a camera on, from paper or a second screen: each scope's plate and mark, and the house's tag."""

from __future__ import annotations

from html import escape

import numpy as np
import zxingcpp

from demo_seed.drawn.plate import mark_of
from demo_seed.scopes import MAKER, SCOPES, Scope

CELL_MM = 0.9
"""A module's side on paper: larger than on a scope, so that a laptop's camera reads it."""
STYLE = """
@page { margin: 12mm }
body { margin: 0 auto; max-width: 186mm; font: 10.5pt/1.35 sans-serif; color: #0b1e29; background: #fff }
h1 { font-size: 15pt; margin: 4mm 0 1mm } p { margin: 0 0 5mm }
main { display: grid; grid-template-columns: 1fr; gap: 5mm }
article { display: grid; grid-template-columns: 112mm 62mm; gap: 6mm; break-inside: avoid }
.plate, .tag { border: .5mm solid #51646e; border-radius: 3mm; padding: 4mm; display: grid }
.plate, .tag { gap: 4mm; align-items: center }
.plate { grid-template-columns: 1fr auto } .tag { grid-template-columns: auto 1fr }
b { display: block; font-size: 13pt } small { display: block; font-size: 9pt } .tag b { font-size: 17pt }
"""
WORDS = (
    "Invented scopes of Harrow Lake Day Hospital. Left: what stands on the scope, for the serial photo. Right: the"
    " house's tag, for the first scan; it proves the tag, not the scope. Print at 100 %, or hold a tablet"
    " before this screen."
)


def labels_sheet() -> str:
    """One page of HTML that prints on A4 and on Letter: the narrower of the two decides its width."""
    rows = "".join(map(_row, SCOPES))
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Demo plates and tags</title>'
        f"<style>{STYLE}</style>"
        f"<h1>Demo plates and tags</h1><p>{WORDS}</p><main>{rows}</main></html>\n"
    )


def tag_of(scope: Scope) -> zxingcpp.Barcode:
    """The house's tag."""
    return zxingcpp.create_barcode(f"LB1:S:{scope.tag}", zxingcpp.BarcodeFormat.QRCode)


def _row(scope: Scope) -> str:
    mark = "" if scope.di is None else svg(mark_of(scope.di, scope.serial))
    di = "no code on this one: photograph it and type its last four" if scope.di is None else f"(01){scope.di}"
    return (
        f'<article><div class="plate"><div><small>{MAKER.upper()}</small>{escape(scope.words)} {scope.model}'
        f"<b>SN {scope.serial}</b><small>{di}</small></div>{mark}</div>"
        f'<div class="tag">{svg(tag_of(scope))}<b>{scope.tag}</b></div></article>'
    )


def svg(code: zxingcpp.Barcode, cell_mm: float = CELL_MM) -> str:
    """Dark modules as one path. Lines of the same row touch, so nothing shows between them."""
    dark = np.asarray(code.to_image()) < 128
    squares = "".join(f"M{x} {y}h1v1h-1z" for y, x in zip(*np.nonzero(dark), strict=True))
    high, wide = dark.shape
    size = f'width="{wide * cell_mm:.1f}mm" height="{high * cell_mm:.1f}mm" viewBox="0 0 {wide} {high}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} shape-rendering="crispEdges"><path d="{squares}"/></svg>'
