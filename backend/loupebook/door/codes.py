"""One-time codes read off a screen and typed with wet hands: 12 signs, 60 bits, no letter that looks like a digit.

Letters are Crockford's Base32: I and L are read as 1, O as 0, case and dashes do not matter.
"""

from __future__ import annotations

import hashlib
import hmac
import io
import secrets

SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 12
_ALIKE = str.maketrans({"O": "0", "I": "1", "L": "1", "-": None, " ": None})


def new_code(length: int = LENGTH) -> str:
    """A fresh code in groups of four, five bits a sign: `7K2M-QX4T-93AB`."""
    signs = "".join(secrets.choice(SIGNS) for _ in range(length))
    return "-".join(signs[i : i + 4] for i in range(0, length, 4))


def as_typed(text: str) -> str:
    """The code behind what a person typed; not checked."""
    return text.upper().translate(_ALIKE)


def code_hash(text: str) -> str:
    """What is kept of a code, and compared."""
    return hashlib.sha256(b"loupebook/code/1\n" + as_typed(text).encode()).hexdigest()


def same(kept_hash: str, text: str) -> bool:
    """Whether `text` is the code behind the hash; takes as long whether or not it is."""
    return hmac.compare_digest(kept_hash, code_hash(text))


def code_picture(text: str) -> str:
    """A QR code for a terminal, drawn with half blocks. Give it the bare code, never an address that holds it."""
    import qrcode  # only at start, and only when a picture is asked for

    drawn = io.StringIO()
    picture = qrcode.QRCode(border=2)
    picture.add_data(text)
    picture.print_ascii(out=drawn, invert=True)
    return drawn.getvalue()
