"""QR codes and Data Matrix as rows of modules, for whoever draws them."""

from __future__ import annotations

from typing import Final, Literal

Level = Literal["L", "M", "Q"]
_LEVELS: Final[dict[Level, str]] = {"L": "ERROR_CORRECT_L", "M": "ERROR_CORRECT_M", "Q": "ERROR_CORRECT_Q"}


def modules(text: str, level: Level = "M") -> list[str]:
    """The code of a text: one string a row, `1` dark, without a quiet zone.

    `level` is the error correction: L 7 %, M 15 %, Q 25 % (ISO/IEC 18004). Q is for what is stuck on and wears.
    """
    import qrcode  # costs a while, and only a few answers need it

    picture = qrcode.QRCode(border=0, error_correction=getattr(qrcode, _LEVELS[level]))
    picture.add_data(text)
    picture.make(fit=True)
    return ["".join("1" if dark else "0" for dark in row) for row in picture.get_matrix()]


def matrix(text: str) -> list[str]:
    """The same as a Data Matrix (ECC 200, ISO/IEC 16022): for a mark that must stay small."""
    import numpy as np  # both cost a while, and only printing needs them
    import zxingcpp

    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix)
    return [
        "".join("1" if value < 128 else "0" for value in row)
        for row in np.asarray(code.to_image(scale=1, add_quiet_zones=False))
    ]
