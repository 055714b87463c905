"""A certificate of the hospital's own: looked at before it is used, and again when its files change."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime, timedelta
from ipaddress import IPv4Address
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat, load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID

from loupebook.network.names import ip
from loupebook.network.trouble import NetworkRefused, refused

LEAST_RSA = 2048
LONGEST = timedelta(days=825)
"""Apple, support document 103769: RSA from 2048 bits, SHA-2, names in the SAN, EKU serverAuth, 825 days at most."""


class OwnCertificate:
    """A certificate and key in files that somebody else keeps. Raises NetworkRefused, in words, when they cannot be."""

    own = True

    def __init__(self, certificate: Path, key: Path, names: Sequence[str], now: datetime) -> None:
        self.chain_file = certificate
        self.key_file = key
        self.names = tuple(names)
        self.leaf = check(certificate, key, names, now)
        self._seen = _state(certificate, key)

    @property
    def until(self) -> datetime:
        """When it ends."""
        return self.leaf.not_valid_after_utc

    def look(self, now: datetime) -> bool:
        """Whether its files changed and hold one that can be used. Raises NetworkRefused; the old one goes on then."""
        state = _state(self.chain_file, self.key_file)
        if state == self._seen:
            return False
        self._seen = state  # told once, not each time it is looked at
        self.leaf = check(self.chain_file, self.key_file, self.names, now)
        return True


def _state(*files: Path) -> str:
    whole = hashlib.sha256()
    for each in files:
        try:
            whole.update(hashlib.sha256(each.read_bytes()).digest())
        except OSError:
            whole.update(b"not there")
    return whole.hexdigest()


def check(certificate: Path, key: Path, names: Sequence[str], now: datetime) -> x509.Certificate:
    """The server's certificate out of its file, fit for all `names`. Raises NetworkRefused with what is wrong."""
    leaf = _leaf(certificate)
    _key_fits(leaf, certificate, key)
    if now < leaf.not_valid_before_utc:
        raise _not_usable(certificate, f"holds from {leaf.not_valid_before_utc:%d %b %Y} only")
    if now >= leaf.not_valid_after_utc:
        raise _not_usable(certificate, f"ended on {leaf.not_valid_after_utc:%d %b %Y}")
    said = _said(leaf)
    for name in names:
        if not any(matches(name, each) for each in said):
            listed = ", ".join(said) or "no name at all"
            raise _not_usable(certificate, f"is not for {name}; it is for {listed}")
    if not _for_servers(leaf):
        raise _not_usable(certificate, "is not for servers: its extended key usage lacks serverAuth")
    return leaf


def notes(leaf: x509.Certificate) -> tuple[str, ...]:
    """What some tablets will not take, though others do."""
    if leaf.not_valid_after_utc - leaf.not_valid_before_utc > LONGEST:
        return (f"This certificate lasts longer than {LONGEST.days} days: iPads do not take it.",)
    return ()


def matches(name: str, pattern: str) -> bool:
    """Whether a name is the one a certificate says; `*` stands for one whole first label (RFC 9525, 6.3)."""
    star, _, rest = pattern.lower().partition(".")
    if star == "*" and ip(name) is None:
        first, _, others = name.partition(".")
        return bool(first) and others == rest
    return name == pattern.lower()


def _leaf(path: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificates(path.read_bytes())[0]
    except OSError as trouble:
        raise _no_file(path, trouble) from trouble
    except ValueError as trouble:
        raise _not_usable(path, "holds no certificate in PEM form") from trouble


def _key_fits(leaf: x509.Certificate, certificate: Path, path: Path) -> None:
    try:
        key = load_pem_private_key(path.read_bytes(), None)
    except OSError as trouble:
        raise _no_file(path, trouble) from trouble
    except TypeError as trouble:
        raise _not_usable(path, "is locked by a password; the server has nobody to ask for it") from trouble
    except ValueError as trouble:
        raise _not_usable(path, "holds no key in PEM form") from trouble
    form = (Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    if key.public_key().public_bytes(*form) != leaf.public_key().public_bytes(*form):
        raise _not_usable(path, f"is not the key of {certificate}")
    if isinstance(key, rsa.RSAPrivateKey) and key.key_size < LEAST_RSA:
        raise _not_usable(path, f"is an RSA key of {key.key_size} bits; tablets take {LEAST_RSA} and more")
    if not isinstance(key, rsa.RSAPrivateKey | ec.EllipticCurvePrivateKey):
        raise _not_usable(path, "is a kind of key that tablets do not take; RSA or P-256 will do")


def _said(leaf: x509.Certificate) -> list[str]:
    try:
        names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return []
    dns = names.get_values_for_type(x509.DNSName)
    return [*dns, *(str(a) for a in names.get_values_for_type(x509.IPAddress) if isinstance(a, IPv4Address))]


def _for_servers(leaf: x509.Certificate) -> bool:
    try:
        uses = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    except x509.ExtensionNotFound:
        return False
    return ExtendedKeyUsageOID.SERVER_AUTH in uses


def _no_file(path: Path, trouble: OSError) -> NetworkRefused:
    return refused(f"{path} cannot be read: {trouble.strerror}.", "Give a file this account may read.")


def _not_usable(path: Path, why: str) -> NetworkRefused:
    return refused(
        f"{path} {why}.",
        "Ask whoever made it for one that fits, or leave --certificate and --key out to use an authority of its own.",
    )
