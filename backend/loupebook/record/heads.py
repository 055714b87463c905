"""Signed heads: one ECDSA P-256 signature over (chain, seq, hash) proves that entry and all before it."""

from __future__ import annotations

import base64
import binascii
import os
from functools import lru_cache
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature, encode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

from loupebook.record.hashes import head_message

HALF = 32
"""Bytes of each of r and s."""


class NoKey(ValueError):
    """The bytes are no P-256 public key."""


def base64url(data: bytes) -> str:
    """Base64url without padding."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unbase64url(text: str) -> bytes:
    """The bytes of base64url without padding. Raises ValueError."""
    if not text.isascii() or not set(text) <= _LETTERS:
        raise ValueError("not base64url")
    try:
        return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except binascii.Error as wrong:
        raise ValueError("not base64url") from wrong


_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_")


@lru_cache(maxsize=1024)
def _public(spki: bytes) -> ec.EllipticCurvePublicKey:
    try:
        key = serialization.load_der_public_key(spki)
    except (ValueError, UnsupportedAlgorithm) as wrong:
        raise NoKey("not a public key") from wrong
    if not isinstance(key, ec.EllipticCurvePublicKey) or not isinstance(key.curve, ec.SECP256R1):
        raise NoKey("not on P-256")
    return key


def verify_head(spki: bytes, chain: str, seq: int, hash: str, sig: str) -> bool:
    """Whether `sig` (raw r and s, base64url) is this key's signature of the head. Raises NoKey."""
    try:
        raw = unbase64url(sig)
    except ValueError:
        return False
    if len(raw) != 2 * HALF:
        return False
    r, s = int.from_bytes(raw[:HALF]), int.from_bytes(raw[HALF:])
    try:
        _public(spki).verify(encode_dss_signature(r, s), head_message(chain, seq, hash), ec.ECDSA(SHA256()))
    except InvalidSignature:
        return False
    return True


def sign_head(key: ec.EllipticCurvePrivateKey, chain: str, seq: int, hash: str) -> str:
    """The signature of a head: raw r and s, 64 bytes, base64url without padding."""
    r, s = decode_dss_signature(key.sign(head_message(chain, seq, hash), ec.ECDSA(SHA256())))
    return base64url(r.to_bytes(HALF) + s.to_bytes(HALF))


def make_key() -> ec.EllipticCurvePrivateKey:
    """A new P-256 key."""
    return ec.generate_private_key(ec.SECP256R1())


def public_der(key: ec.EllipticCurvePrivateKey) -> bytes:
    """The public half as SubjectPublicKeyInfo, DER: what a chain's id is the hash of."""
    return key.public_key().public_bytes(serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo)


def kept_key(path: Path) -> ec.EllipticCurvePrivateKey:
    """The key in `path`, made there (mode 0600, durable) where there is none. Raises NoKey for another key."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return _write_key(path)
    try:
        key = serialization.load_pem_private_key(data, None)
    except (ValueError, TypeError) as wrong:
        raise NoKey(f"{path.name} is no private key") from wrong
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise NoKey(f"{path.name} is not on P-256")
    return key


def _write_key(path: Path) -> ec.EllipticCurvePrivateKey:
    key = make_key()
    pem = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(pem)
        file.flush()
        os.fsync(file.fileno())
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return key
