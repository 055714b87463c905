"""QR codes as rows of modules, for whoever draws them."""

from __future__ import annotations


def modules(text: str) -> list[str]:
    """The code of a text: one string a row, `1` dark, without a quiet zone; error correction M (15 %)."""
    import qrcode  # costs a while, and only a few answers need it

    picture = qrcode.QRCode(border=0, error_correction=qrcode.ERROR_CORRECT_M)
    picture.add_data(text)
    picture.make(fit=True)
    return ["".join("1" if dark else "0" for dark in row) for row in picture.get_matrix()]
