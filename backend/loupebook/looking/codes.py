"""Codes in a grey picture: zxing-cpp first, zbar where that found nothing. Runs in the child process only."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import zxingcpp
from numpy.typing import NDArray

from loupebook.looking.look import Code, Symbology

try:
    from pyzbar import pyzbar as _zbar
except ImportError:  # the C library libzbar0 is not there; zxing-cpp alone reads all but a few QR codes
    _zbar = None

HAS_ZBAR: Final[bool] = _zbar is not None

_F = zxingcpp.BarcodeFormat
_ZXING_KINDS: Final[dict[zxingcpp.BarcodeFormat, Symbology]] = {
    _F.DataMatrix: "DataMatrix",
    _F.QRCode: "QRCode",
    _F.Code128: "Code128",
    _F.Code39: "Code39",
}
_ZXING_FORMATS: Final = zxingcpp.BarcodeFormats(
    # Standard only: plain Code39 would give a serial of six characters as a pharmacy number (Code 32),
    # so that SN0042 came out as A826278018.
    [_F.DataMatrix, _F.QRCode, _F.Code128, _F.Code39Std]
)
_ZBAR_KINDS: Final[dict[str, Symbology]] = {"QRCODE": "QRCode", "CODE128": "Code128"}


def read_zxing(grey: NDArray[np.uint8]) -> tuple[Code, ...]:
    """Codes of the four named symbologies. Text as stored in the symbol (Plain), never with brackets for people."""
    found = zxingcpp.read_barcodes(grey, formats=_ZXING_FORMATS, text_mode=zxingcpp.TextMode.Plain)
    return _each_once(Code(b.text, _ZXING_KINDS[b.symbology], b.bytes.hex(), b.symbology_identifier) for b in found)


def read_zbar(grey: NDArray[np.uint8]) -> tuple[Code, ...]:
    """QR and Code 128 with plain ASCII only: zbar gives other letters for UTF-8 without a sign of it."""
    if _zbar is None:
        return ()
    symbols = [_zbar.ZBarSymbol.QRCODE, _zbar.ZBarSymbol.CODE128]
    found = _zbar.decode(grey, symbols=symbols)
    return _each_once(
        Code(symbol.data.decode("ascii"), _ZBAR_KINDS[symbol.type], symbol.data.hex(), "")
        for symbol in found
        if symbol.data.isascii()
    )


def _each_once(codes: Iterable[Code]) -> tuple[Code, ...]:
    return tuple(dict.fromkeys(codes))
