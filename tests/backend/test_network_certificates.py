"""The certificates of tablets in the building. What is made is judged by OpenSSL (RFC 5280), not by our own code."""

from __future__ import annotations

import logging
import os
import ssl
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from handshake import shown
from loupebook.network.authority import LEAF, Pair, fingerprint, make_authority, make_leaf
from loupebook.network.local import LocalCertificate
from loupebook.network.own import OwnCertificate, check, matches, notes
from loupebook.network.tls import Tls
from loupebook.network.trouble import NetworkRefused

pytestmark = pytest.mark.breadth

NAME = "harrow.local"
HERE = IPv4Address("10.20.0.7")
NOW = datetime.now(UTC).replace(microsecond=0)
"""The real moment: OpenSSL looks at the machine's own clock."""


def file_of(folder: Path, authority: x509.Certificate) -> Path:
    path = folder / "authority.crt"
    path.write_bytes(authority.public_bytes(Encoding.PEM))
    return path


def context_of(folder: Path, pair: Pair) -> ssl.SSLContext:
    path = folder / "server.pem"
    path.write_bytes(pair.pem())
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(path)
    return context


Key = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey | ed25519.Ed25519PrivateKey


def signed(
    authority: Pair | None,
    names: Sequence[x509.GeneralName],
    *,
    key: Key | None = None,
    days: tuple[int, int] = (-1, 90),
    uses: Sequence[x509.ObjectIdentifier] = (ExtendedKeyUsageOID.SERVER_AUTH,),
) -> tuple[x509.Certificate, Key]:
    """A certificate by somebody else's hand; `authority` None = a hospital's authority made on the spot."""
    by = authority or hospital()
    key = key or ec.generate_private_key(ec.SECP256R1())
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "of the test")]))
        .issuer_name(by.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW + timedelta(days=days[0]))
        .not_valid_after(NOW + timedelta(days=days[1]))
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(by.key.public_key()), critical=False)
    )
    if names:
        builder = builder.add_extension(x509.SubjectAlternativeName(names), critical=False)
    if uses:
        builder = builder.add_extension(x509.ExtendedKeyUsage(uses), critical=False)
    return builder.sign(by.key, SHA256()), key


def hospital() -> Pair:
    """An authority without constraints, as a hospital has."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Harrow Lake authority")])
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=3000))
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return Pair(builder.sign(key, SHA256()), key)


def written(folder: Path, certificate: x509.Certificate, key: Key, password: bytes | None = None) -> tuple[Path, Path]:
    """A certificate and its key as two files."""
    folder.mkdir(exist_ok=True)
    lock = BestAvailableEncryption(password) if password else NoEncryption()
    chain, private = folder / "site.crt", folder / "site.key"
    chain.write_bytes(certificate.public_bytes(Encoding.PEM))
    private.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock))
    return chain, private


# ---------------------------------------------------------------- the local authority


@pytest.mark.parametrize("name", [NAME, str(HERE)])
def test_a_server_is_trusted_by_its_name_and_by_its_address(tmp_path: Path, name: str) -> None:
    authority = make_authority(NAME, [HERE], NOW)
    context = context_of(tmp_path, make_leaf(authority, NAME, [HERE], NOW))
    assert shown(context, file_of(tmp_path, authority.certificate), name)


@pytest.mark.parametrize(
    "stranger",
    [x509.DNSName("bank.example"), x509.IPAddress(IPv4Address("10.20.0.8")), x509.DNSName("xharrow.local")],
    ids=lambda name: str(name.value),
)
def test_whoever_steals_the_authority_can_pose_as_no_other_server(tmp_path: Path, stranger: x509.GeneralName) -> None:
    """Name constraints, RFC 5280 4.2.1.10; the refusal is OpenSSL's."""
    authority = make_authority(NAME, [HERE], NOW)
    certificate, key = signed(authority, [stranger])
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    context = context_of(tmp_path, Pair(certificate, key))
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shown(context, file_of(tmp_path, authority.certificate), str(stranger.value))  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("name", "addresses", "stranger"),
    [(NAME, (), x509.IPAddress(HERE)), (str(HERE), (), x509.DNSName("bank.example"))],
    ids=["no address", "no name"],
)
def test_a_form_of_name_that_is_not_used_is_shut_too(
    tmp_path: Path, name: str, addresses: tuple[IPv4Address, ...], stranger: x509.GeneralName
) -> None:
    """What a constraint does not mention is free, so an authority without addresses has to name one anyway."""
    authority = make_authority(name, addresses, NOW)
    certificate, key = signed(authority, [stranger])
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    context = context_of(tmp_path, Pair(certificate, key))
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shown(context, file_of(tmp_path, authority.certificate), str(stranger.value))  # type: ignore[attr-defined]


def test_another_authority_is_not_trusted(tmp_path: Path) -> None:
    leaf = make_leaf(make_authority(NAME, [HERE], NOW), NAME, [HERE], NOW)
    other = make_authority(NAME, [HERE], NOW)
    with pytest.raises(ssl.SSLCertVerificationError):
        shown(context_of(tmp_path, leaf), file_of(tmp_path, other.certificate), NAME)


def test_the_certificate_is_one_that_tablets_take() -> None:
    """Apple, support document 103769: SHA-2, EC or RSA from 2048, names in the SAN, EKU serverAuth, 825 days at most.
    396 days is the product's own shorter limit."""
    leaf = make_leaf(make_authority(NAME, [HERE], NOW), NAME, [HERE], NOW).certificate
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == LEAF == timedelta(days=396)
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert list(names) == [x509.DNSName(NAME), x509.IPAddress(HERE)]
    uses = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(uses) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert isinstance(leaf.signature_hash_algorithm, SHA256)
    key = leaf.public_key()
    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert isinstance(key.curve, ec.SECP256R1)


def test_a_fingerprint_reads_as_browsers_show_it() -> None:
    certificate = make_authority(NAME, [], NOW).certificate
    said = fingerprint(certificate)
    assert said == ":".join(f"{byte:02X}" for byte in certificate.fingerprint(SHA256()))
    assert len(said) == 95


@pytest.mark.skipif(os.name != "posix", reason="modes of files are POSIX's")
def test_keys_are_readable_by_the_server_s_account_only(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        LocalCertificate(tmp_path, NAME, [HERE], NOW)
    finally:
        os.umask(before)
    found = {path.relative_to(tmp_path).as_posix(): path.stat().st_mode & 0o777 for path in tmp_path.rglob("*")}
    assert found == {
        "authority": 0o700,
        f"authority/{NAME}": 0o700,
        f"authority/{NAME}/authority.pem": 0o600,
        f"authority/{NAME}/server.pem": 0o600,
    }


def test_a_second_start_goes_on_with_the_same_certificates(tmp_path: Path) -> None:
    first = LocalCertificate(tmp_path, NAME, [HERE], NOW)
    second = LocalCertificate(tmp_path, NAME, [HERE], NOW + timedelta(days=1))
    assert (first.new_authority, second.new_authority) == (True, False)
    assert second.fingerprint == first.fingerprint
    assert second.leaf.certificate == first.leaf.certificate


def test_the_certificate_is_renewed_thirty_days_before_its_end_under_a_running_server(tmp_path: Path) -> None:
    """The last 395 of its 396 days lie ahead when it is made, so its 365th is the first to renew on."""
    certificate = LocalCertificate(tmp_path, NAME, [HERE], NOW)
    trusted = file_of(tmp_path, certificate.authority.certificate)
    tls = Tls(certificate)
    old = shown(tls.context, trusted, NAME)
    tls.look(NOW + timedelta(days=364))
    assert shown(tls.context, trusted, NAME) == old

    # The clock that is moved is the product's; OpenSSL's own still finds what was made a year ahead not yet begun.
    tls.look(NOW + timedelta(days=365))
    renewed = certificate.leaf.certificate
    assert renewed.not_valid_after_utc == NOW + timedelta(days=365 + 395)
    with pytest.raises(ssl.SSLCertVerificationError, match="not yet valid"):
        shown(tls.context, trusted, NAME)
    renewed.verify_directly_issued_by(certificate.authority.certificate)
    assert LocalCertificate(tmp_path, NAME, [HERE], NOW + timedelta(days=366)).leaf.certificate == renewed


def test_a_renewal_that_cannot_be_written_leaves_the_old_one_in_use(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    certificate = LocalCertificate(tmp_path, NAME, [HERE], NOW)
    trusted = file_of(tmp_path, certificate.authority.certificate)
    tls = Tls(certificate)
    old = shown(tls.context, trusted, NAME)
    (certificate.chain_file.with_suffix(".new")).mkdir()  # in the way, for root too
    with caplog.at_level(logging.WARNING, "loupebook.network"):
        tls.look(NOW + timedelta(days=380))
    assert "the certificate in use goes on" in caplog.text
    assert shown(tls.context, trusted, NAME) == old


def test_an_authority_near_its_end_is_made_anew_at_a_start_and_says_so(tmp_path: Path) -> None:
    first = LocalCertificate(tmp_path, NAME, [HERE], NOW)
    late = first.authority.certificate.not_valid_after_utc - timedelta(days=20)
    again = LocalCertificate(tmp_path, NAME, [HERE], late)
    assert again.new_authority
    assert again.fingerprint != first.fingerprint
    again.leaf.certificate.verify_directly_issued_by(again.authority.certificate)


def test_an_address_that_came_later_is_not_vouched_for_and_named(tmp_path: Path) -> None:
    late = IPv4Address("10.20.0.99")
    LocalCertificate(tmp_path, NAME, [HERE], NOW)
    moved = LocalCertificate(tmp_path, NAME, [late], NOW)
    assert moved.not_covered() == (str(late),)
    trusted = file_of(tmp_path, moved.authority.certificate)
    assert shown(Tls(moved).context, trusted, NAME)
    with pytest.raises(ssl.SSLCertVerificationError, match="IP address mismatch"):
        shown(Tls(moved).context, trusted, str(late))


def test_two_names_are_answered_each_by_its_own_authority(tmp_path: Path) -> None:
    """What a tablet trusted at the old name goes on being shown there; without a name the new one is shown."""
    now_, old = (LocalCertificate(tmp_path, name, [HERE], NOW) for name in ("new.local", "old.local"))
    context = Tls(now_, {"old.local": old}).context
    (tmp_path / "o").mkdir()
    trusts_new, trusts_old = (
        file_of(tmp_path, now_.authority.certificate), file_of(tmp_path / "o", old.authority.certificate),
    )  # fmt: skip
    assert shown(context, trusts_old, "old.local") == old.leaf.certificate
    assert shown(context, trusts_new, "new.local") == now_.leaf.certificate
    assert shown(context, trusts_new, "new.local", sni=False) == now_.leaf.certificate
    with pytest.raises(ssl.SSLCertVerificationError):
        shown(context, trusts_old, "new.local")


def test_a_damaged_authority_is_not_replaced_in_silence(tmp_path: Path) -> None:
    LocalCertificate(tmp_path, NAME, [HERE], NOW)
    path = tmp_path / "authority" / NAME / "authority.pem"
    path.write_bytes(path.read_bytes()[:40])
    with pytest.raises(NetworkRefused, match="cannot be read"):
        LocalCertificate(tmp_path, NAME, [HERE], NOW)


# ---------------------------------------------------------------- the hospital's own files


SITE = [x509.DNSName("loupebook.harrow.example"), x509.IPAddress(HERE)]


@pytest.mark.parametrize("make", [lambda: ec.generate_private_key(ec.SECP256R1()),
                                  lambda: rsa.generate_private_key(65537, 2048)], ids=["P-256", "RSA"])  # fmt: skip
def test_a_fit_certificate_is_taken_and_shown(tmp_path: Path, make: object) -> None:
    by = hospital()
    certificate, key = signed(by, SITE, key=make())  # type: ignore[operator]
    mine = OwnCertificate(*written(tmp_path / "site", certificate, key), ["loupebook.harrow.example"], NOW)
    trusted = file_of(tmp_path, by.certificate)
    assert shown(Tls(mine).context, trusted, "loupebook.harrow.example") == certificate


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"days": (-90, -2)}, "ended on"),
        ({"days": (2, 90)}, "holds from"),
        ({"names": [x509.DNSName("other.harrow.example")]}, "is not for loupebook.harrow.example; it is for other"),
        ({"names": []}, "it is for no name at all"),
        ({"uses": [ExtendedKeyUsageOID.CLIENT_AUTH]}, "is not for servers"),
        ({"uses": []}, "is not for servers"),
        ({"key": rsa.generate_private_key(65537, 1024)}, "1024 bits"),
        ({"key": ed25519.Ed25519PrivateKey.generate()}, "a kind of key that tablets do not take"),
    ],
    ids=["ended", "not begun", "another name", "no name", "for clients", "for nothing", "short key", "Ed25519"],
)
def test_a_certificate_that_cannot_be_used_is_named_before_the_start(
    tmp_path: Path, wrong: dict[str, object], said: str
) -> None:
    given: dict[str, object] = {"names": SITE, **wrong}
    certificate, key = signed(None, **given)  # type: ignore[arg-type]
    with pytest.raises(NetworkRefused, match=said) as refusal:
        check(*written(tmp_path / "site", certificate, key), ["loupebook.harrow.example"], NOW)
    assert "Nothing was started." in str(refusal.value)


def test_a_key_of_another_certificate_is_named(tmp_path: Path) -> None:
    certificate, _ = signed(None, SITE)
    files = written(tmp_path / "site", certificate, ec.generate_private_key(ec.SECP256R1()))
    with pytest.raises(NetworkRefused, match=r"site\.key is not the key of .*site\.crt"):
        check(*files, ["loupebook.harrow.example"], NOW)


def test_a_locked_key_is_named_and_nobody_is_asked_for_a_password(tmp_path: Path) -> None:
    files = written(tmp_path / "site", *signed(None, SITE), password=b"harrow")
    with pytest.raises(NetworkRefused, match="locked by a password"):
        check(*files, ["loupebook.harrow.example"], NOW)


@pytest.mark.parametrize("name", ["site.crt", "site.key"])
def test_files_that_are_missing_or_hold_something_else_are_named(tmp_path: Path, name: str) -> None:
    files = written(tmp_path / "site", *signed(None, SITE))
    (tmp_path / "site" / name).write_text("a letter")
    with pytest.raises(NetworkRefused, match=rf"{name} holds no"):
        check(*files, ["loupebook.harrow.example"], NOW)
    (tmp_path / "site" / name).unlink()
    with pytest.raises(NetworkRefused, match=rf"{name} cannot be read: No such file"):
        check(*files, ["loupebook.harrow.example"], NOW)


@pytest.mark.parametrize(
    ("name", "pattern", "fits"),
    [
        ("a.harrow.example", "*.harrow.example", True),
        ("a.b.harrow.example", "*.harrow.example", False),
        ("harrow.example", "*.harrow.example", False),
        ("a.harrow.example", "A.Harrow.Example", True),
        ("10.20.0.7", "*.20.0.7", False),
    ],
)
def test_a_star_stands_for_one_label(name: str, pattern: str, fits: bool) -> None:
    """RFC 9525, 6.3: one whole label, the first; never in an address."""
    assert matches(name, pattern) is fits


def test_renewed_files_are_taken_into_use_without_a_restart(tmp_path: Path) -> None:
    """From RSA to P-256, where a context that only loads a second chain would go on showing the first to some."""
    by = hospital()
    trusted = file_of(tmp_path, by.certificate)
    before, rsa_key = signed(by, SITE, key=rsa.generate_private_key(65537, 2048))
    mine = OwnCertificate(*written(tmp_path / "site", before, rsa_key), ["loupebook.harrow.example"], NOW)
    tls = Tls(mine)
    assert shown(tls.context, trusted, "loupebook.harrow.example") == before

    after, key = signed(by, SITE)
    written(tmp_path / "site", after, key)
    tls.look(NOW)
    assert shown(tls.context, trusted, "loupebook.harrow.example") == after
    assert shown(tls.context, trusted, "loupebook.harrow.example", sni=False) == after


def test_renewed_files_that_cannot_be_used_leave_the_old_ones_in_use(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    by = hospital()
    trusted = file_of(tmp_path, by.certificate)
    before, key = signed(by, SITE)
    tls = Tls(OwnCertificate(*written(tmp_path / "site", before, key), ["loupebook.harrow.example"], NOW))
    written(tmp_path / "site", *signed(by, [x509.DNSName("other.harrow.example")]))
    with caplog.at_level(logging.WARNING, "loupebook.network"):
        tls.look(NOW)
        tls.look(NOW)
    assert [record.getMessage().count("it is for other") for record in caplog.records] == [1], "told once"
    assert shown(tls.context, trusted, "loupebook.harrow.example") == before


def test_a_certificate_too_long_for_ipads_is_said() -> None:
    assert notes(signed(None, SITE, days=(-1, 825))[0]) != ()
    assert notes(signed(None, SITE, days=(-1, 824))[0]) == ()
