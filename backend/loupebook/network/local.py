"""The local authority's files in the data folder: made at the first start, the server's certificate renewed in time."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import datetime, timedelta
from ipaddress import IPv4Address
from pathlib import Path

from cryptography import x509

from loupebook.network.authority import Pair, fingerprint, make_authority, make_leaf, names_of, read_pair, vouches
from loupebook.network.trouble import refused

FOLDER = "authority"
AUTHORITY = "authority.pem"
SERVER = "server.pem"
RENEW = timedelta(days=30)
"""How long before its end a certificate is made anew."""


class LocalCertificate:
    """A server's certificate from its own authority, both in `<data folder>/authority/<name>/`.

    `now` is the moment of the start; `new_authority` says that tablets have to be given its file.
    """

    own = False

    def __init__(self, folder: Path, name: str, addresses: Sequence[IPv4Address], now: datetime) -> None:
        self._folder = folder / FOLDER / name
        self.name = name
        self.addresses = tuple(addresses)
        _private_folder(folder / FOLDER)
        _private_folder(self._folder)
        found = _read(self._folder / AUTHORITY)
        self.new_authority = found is None or found.certificate.not_valid_after_utc - now < RENEW
        self.authority = make_authority(name, addresses, now) if found is None or self.new_authority else found
        if self.new_authority:
            _write_private(self._folder / AUTHORITY, self.authority.pem())
        leaf = _read(self._folder / SERVER)
        self.leaf = leaf if leaf is not None and self._fits(leaf.certificate) else self._issue(now)
        self.look(now)

    @property
    def chain_file(self) -> Path:
        """The certificate and its key, for a TLS context."""
        return self._folder / SERVER

    @property
    def key_file(self) -> None:
        """The key lies in the same file."""
        return None

    @property
    def until(self) -> datetime:
        """When the server's certificate ends."""
        return self.leaf.certificate.not_valid_after_utc

    @property
    def fingerprint(self) -> str:
        """Of the authority: what a person compares before they trust it."""
        return fingerprint(self.authority.certificate)

    def not_covered(self) -> tuple[str, ...]:
        """Addresses this machine got after its authority was made; there only the name is vouched for."""
        names = names_of(self.name, self.addresses)
        return tuple(str(each.value) for each in names if not vouches(self.authority.certificate, each))

    def look(self, now: datetime) -> bool:
        """Renews the server's certificate when its end is near; whether it did. Raises OSError (disk full)."""
        if self.until - now > RENEW or self.until == self.authority.certificate.not_valid_after_utc:
            return False
        self.leaf = self._issue(now)
        return True

    def _issue(self, now: datetime) -> Pair:
        leaf = make_leaf(self.authority, self.name, self.addresses, now)
        _write_private(self.chain_file, leaf.pem())
        return leaf

    def _fits(self, leaf: x509.Certificate) -> bool:
        """Whether it is from this authority and names what the server goes by now."""
        try:
            leaf.verify_directly_issued_by(self.authority.certificate)
        except Exception:  # its own tree of errors: by whatever reason it is not ours
            return False
        said = set(leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)
        names = names_of(self.name, self.addresses)
        return said == {each for each in names if vouches(self.authority.certificate, each)}


def _read(path: Path) -> Pair | None:
    try:
        return read_pair(path.read_bytes())
    except FileNotFoundError:
        return None
    except (ValueError, OSError) as trouble:
        raise refused(
            f"{path} cannot be read.",
            "Bring it back from a backup; or remove it, and give each tablet the new authority's file.",
        ) from trouble


def _private_folder(folder: Path) -> None:
    folder.mkdir(mode=0o700, exist_ok=True)
    if os.name == "posix":
        folder.chmod(0o700)


def _write_private(path: Path, content: bytes) -> None:
    """For this account's eyes only from its first byte on; a cut leaves the old file or the new one."""
    side = path.with_suffix(".new")
    side.unlink(missing_ok=True)
    with open(os.open(side, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    side.replace(path)
