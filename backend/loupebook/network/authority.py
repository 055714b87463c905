"""A small certificate authority for one server: it can vouch for this server's names and for nothing else. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv4Network

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, load_pem_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY = timedelta(days=3650)
LEAF = timedelta(days=396)
"""Whole life of a server's certificate. Apple takes 825 days at most from an authority installed by hand
(support document 103769) and others less; 398 is the shortest limit known to us (from memory)."""
EARLY = timedelta(days=1)
"""Begun a day back, so that a tablet whose clock is behind takes it."""

NO_NAME = "nothing.invalid"
"""Stands where no DNS name is allowed: `.invalid` is never given out (RFC 2606, 2)."""
NO_ADDRESS = IPv4Network("192.0.2.255/32")
"""Stands where no address is allowed: TEST-NET-1 is never given out (RFC 5737)."""

Name = x509.DNSName | x509.IPAddress


@dataclass(frozen=True)
class Pair:
    """A certificate and its key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    def pem(self) -> bytes:
        """Both in one text, the key first, so that one rename replaces both."""
        key = self.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        return key + self.certificate.public_bytes(Encoding.PEM)


def read_pair(pem: bytes) -> Pair:
    """What `Pair.pem` wrote. Raises ValueError."""
    key = load_pem_private_key(pem, None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ValueError("not a P-256 key")
    return Pair(x509.load_pem_x509_certificate(pem), key)


def make_authority(name: str, addresses: Sequence[IPv4Address], now: datetime) -> Pair:
    """An authority that may vouch for `name` (a DNS name or an address) and `addresses` only (RFC 5280, 4.2.1.10)."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _subject(f"Loupebook authority of {name}"[:64])
    built = (
        _begun(subject, subject, key.public_key(), now - EARLY, now - EARLY + AUTHORITY)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_signs(certificates=True), critical=True)
        .add_extension(x509.NameConstraints(_allowed(name, addresses), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return Pair(built.sign(key, SHA256()), key)


def make_leaf(authority: Pair, name: str, addresses: Sequence[IPv4Address], now: datetime) -> Pair:
    """A server's certificate for what of `name` and `addresses` the authority may vouch for."""
    key = ec.generate_private_key(ec.SECP256R1())
    until = min(now - EARLY + LEAF, authority.certificate.not_valid_after_utc)
    issuer = authority.certificate.subject
    names = [each for each in names_of(name, addresses) if vouches(authority.certificate, each)]
    built = (
        _begun(_subject(name[:64]), issuer, key.public_key(), now - EARLY, until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signs(certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False)
    )
    return Pair(built.sign(authority.key, SHA256()), key)


def vouches(authority: x509.Certificate, name: Name) -> bool:
    """Whether the authority's constraints allow this name or address."""
    allowed = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or ()
    return any(_within(name, each) for each in allowed)


def _within(name: Name, allowed: x509.GeneralName) -> bool:
    if isinstance(name, x509.DNSName) and isinstance(allowed, x509.DNSName):
        return name.value == allowed.value or name.value.endswith(f".{allowed.value}")
    if isinstance(name, x509.IPAddress) and isinstance(allowed, x509.IPAddress):
        net = allowed.value
        return isinstance(net, IPv4Network) and isinstance(name.value, IPv4Address) and name.value in net
    return False


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate as browsers and tablets show it: pairs of hex digits, capitals, colons."""
    return certificate.fingerprint(SHA256()).hex(":").upper()


def _subject(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def names_of(name: str, addresses: Sequence[IPv4Address]) -> list[Name]:
    """A server's name (or fixed address) and addresses as a certificate writes them, each once."""
    own: list[Name] = [] if _is_address(name) else [x509.DNSName(name)]
    every = [IPv4Address(name), *addresses] if _is_address(name) else list(addresses)
    return own + [x509.IPAddress(each) for each in dict.fromkeys(every)]


def _allowed(name: str, addresses: Sequence[IPv4Address]) -> list[x509.GeneralName]:
    """What a constraint does not mention is free, so each form is mentioned; one IPv4 form shuts IPv6 out too."""
    names = names_of(name, addresses)
    dns = [each for each in names if isinstance(each, x509.DNSName)] or [x509.DNSName(NO_NAME)]
    nets = [IPv4Network(each.value) for each in names if isinstance(each.value, IPv4Address)] or [NO_ADDRESS]
    return [*dns, *map(x509.IPAddress, nets)]


def _is_address(name: str) -> bool:
    return name.replace(".", "").isdecimal()


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, since: datetime, until: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(since)
        .not_valid_after(until)
    )


def _signs(*, certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not certificates, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=certificates, crl_sign=certificates,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
