"""A station's public key as it arrives."""

from __future__ import annotations

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    PublicFormat,
    load_der_public_key,
)

from loupebook.door.words import bad_key
from loupebook.record.heads import unbase64url


def spki_of(text: str) -> bytes:
    """The SubjectPublicKeyInfo (DER, 91 bytes) behind base64url without padding.

    Trouble `bad_key` unless it is a P-256 point in the one encoding a browser exports (RFC 5480, uncompressed):
    the chain's id is a hash of these bytes, so a second encoding of one key would be a second chain.
    """
    try:
        given = unbase64url(text)
        key = load_der_public_key(given)
    except (ValueError, UnsupportedAlgorithm):
        raise bad_key() from None
    if not isinstance(key, EllipticCurvePublicKey) or not isinstance(key.curve, SECP256R1):
        raise bad_key()
    if key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo) != given:
        raise bad_key()
    return given
