"""A sheet of labels to try a camera on: each scope's own mark (GS1 DataMatrix) and the house's tag (QR)."""

from __future__ import annotations

import numpy as np
import zxingcpp

from demo_seed.house import SCOPES, Scope

CELL_MM = 0.9
"""A module's side on paper: larger than on a scope, so that a laptop's camera reads it."""
TEXT = 'font-family="sans-serif" fill="#0b1e29"'


def labels_sheet() -> str:
    """One A4 page as SVG (millimetres), to be printed or held before a camera."""
    rows = "".join(_row(scope, 34 + index * 62) for index, scope in enumerate(SCOPES))
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297">'
        '<rect width="210" height="297" fill="#ffffff"/>'
        f'<text x="15" y="18" font-size="6" font-weight="700" {TEXT}>Demo labels, invented scopes</text>'
        f"{rows}</svg>"
    )


def mark_of(scope: Scope) -> zxingcpp.Barcode:
    """The scope's own mark: DI and serial number."""
    content = f"(01){scope.di}(21){scope.serial}"
    return zxingcpp.create_barcode(content, zxingcpp.BarcodeFormat.DataMatrix, gs1=True)


def tag_of(scope: Scope) -> zxingcpp.Barcode:
    """The house's tag."""
    return zxingcpp.create_barcode(f"LB1:S:{scope.tag}", zxingcpp.BarcodeFormat.QRCode)


def _row(scope: Scope, top: float) -> str:
    return (
        f'<g transform="translate(15 {top})">{_modules(mark_of(scope))}'
        f'<text x="30" y="10" font-size="5" font-weight="700" {TEXT}>SN {scope.serial}</text>'
        f'<text x="30" y="17" font-size="4" {TEXT}>the mark on the scope</text></g>'
        f'<g transform="translate(115 {top})">{_modules(tag_of(scope))}'
        f'<text x="34" y="10" font-size="5" font-weight="700" {TEXT}>{scope.tag}</text>'
        f'<text x="34" y="17" font-size="4" {TEXT}>the house&#8217;s tag</text></g>'
    )


def _modules(code: zxingcpp.Barcode) -> str:
    """Dark modules as one path. Lines of the same row touch, so nothing shows between them."""
    dark = np.asarray(code.to_image()) < 128
    squares = "".join(f"M{x} {y}h1v1h-1z" for y, x in zip(*np.nonzero(dark), strict=True))
    return f'<path transform="scale({CELL_MM})" fill="#000000" d="{squares}"/>'
