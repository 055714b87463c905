"""All of it joined: under which name, at which addresses and with which certificate the building is served."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from ipaddress import IPv4Address
from pathlib import Path

from cryptography import x509

from loupebook.network import own, served
from loupebook.network.authority import fingerprint
from loupebook.network.local import LocalCertificate
from loupebook.network.names import addresses_of, checked_name, machine_name, own_addresses
from loupebook.network.own import OwnCertificate
from loupebook.network.served import HTTPS, Served
from loupebook.network.tls import Tls
from loupebook.network.trouble import refused

FIRST_PORT = 8643
"""The https port in the building while nobody gave another."""


@dataclass(frozen=True)
class Wanted:
    """What the settings ask for; "" and None = nothing was given, port 0 = the one tablets know."""

    lan: bool
    name: str = ""
    addresses: str = ""
    port: int = 0
    certificate: Path | None = None
    key: Path | None = None
    moved_from: str = ""


@dataclass(frozen=True)
class Building:
    """How tablets reach the server. `tls` None: a proxy stands before the loopback address and has the certificate."""

    served: Served
    old: Served | None = None
    addresses: tuple[IPv4Address, ...] = ()
    bind: tuple[str, ...] = ()
    tls: Tls | None = None
    authority: x509.Certificate | None = None
    notes: tuple[str, ...] = ()
    help_address: str | None = None

    @property
    def address(self) -> str:
        """The one address of all tablets."""
        return self.served.address

    @property
    def hosts(self) -> frozenset[str]:
        """Every name the server goes by."""
        names = [self.served.name, *map(str, self.addresses)]
        return frozenset(names if self.old is None else [*names, self.old.name])

    @property
    def ports(self) -> tuple[int, ...]:
        """The https ports, the old one too while it drains."""
        return tuple(dict.fromkeys([self.served.port] if self.old is None else [self.served.port, self.old.port]))

    @property
    def fingerprint(self) -> str | None:
        """Of the local authority, where there is one."""
        return None if self.authority is None else fingerprint(self.authority)


def open_building(
    folder: Path,
    wanted: Wanted,
    now: datetime,
    machine: Callable[[], str] = machine_name,
    own_ones: Callable[[], tuple[IPv4Address, ...]] = own_addresses,
) -> Building | None:
    """What is served to the building; None = nothing is. Makes the local authority when there is none yet.

    Raises NetworkRefused. The folder remembers the address only by `remember`, once its port is had.
    """
    before = served.kept(folder)
    if not wanted.lan and not wanted.name:
        if wanted.moved_from or wanted.certificate or wanted.key:
            raise refused("These options are for tablets in the building.", "Add --lan.")
        return None
    name = checked_name(wanted.name) if wanted.name else before.name if before else machine()
    now_served = Served(name, _port(wanted, before))
    old = served.moved(before, now_served, wanted.moved_from)
    if not wanted.lan:
        return Building(now_served, old)
    given = addresses_of(wanted.addresses)
    addresses = given or own_ones()
    if not addresses:
        raise refused(
            "This machine has no address in the building.", "Connect it to the network, or give one: --addresses."
        )
    bind = tuple(map(str, given)) or ("0.0.0.0",)
    names = (name,) if old is None or old.name == name else (name, old.name)
    notes = () if wanted.name or before is None or machine() == name else (_renamed(machine(), name),)
    if wanted.certificate is not None or wanted.key is not None:
        return _with_own(wanted, now_served, old, addresses, bind, names, notes, now)
    return _with_local(folder, now_served, old, addresses, bind, names, notes, now)


def remember(folder: Path, building: Building) -> None:
    """From now on tablets know the record at this address."""
    served.keep(folder, building.served)


def known_elsewhere(folder: Path) -> str | None:
    """What is said at a start that serves this machine only, though tablets know an address."""
    before = served.kept(folder)
    if before is None:
        return None
    return f"Tablets know this record at {before.address}. They cannot reach it now: add --lan."


def _port(wanted: Wanted, before: Served | None) -> int:
    if wanted.port:
        return wanted.port
    if before is not None:
        return before.port
    return FIRST_PORT if wanted.lan else HTTPS


def _renamed(machine: str, name: str) -> str:
    return f"This machine goes by {machine} now; tablets know it as {name} and have to find it under that name."


def _with_own(
    wanted: Wanted, now_served: Served, old: Served | None, addresses: tuple[IPv4Address, ...],
    bind: tuple[str, ...], names: tuple[str, ...], notes: tuple[str, ...], now: datetime,
) -> Building:  # fmt: skip
    if wanted.certificate is None or wanted.key is None:
        raise refused("A certificate and its key belong together.", "Give both: --certificate FILE --key FILE.")
    certificate = OwnCertificate(wanted.certificate, wanted.key, names, now)
    said = (*notes, *own.notes(certificate.leaf))
    return Building(now_served, old, addresses, bind, Tls(certificate), None, said)


def _with_local(
    folder: Path, now_served: Served, old: Served | None, addresses: tuple[IPv4Address, ...],
    bind: tuple[str, ...], names: tuple[str, ...], notes: tuple[str, ...], now: datetime,
) -> Building:  # fmt: skip
    certificate, *others = [LocalCertificate(folder, name, addresses, now) for name in names]
    said = list(notes)
    if certificate.new_authority:
        said.append("The authority is new: each tablet has to be given its file once, from the set-up page.")
    if outside := certificate.not_covered():
        late = ", ".join(outside)
        said.append(f"{late} came after the authority was made; tablets reach the server by {now_served.name} only.")
    tls = Tls(certificate, {each.name: each for each in others})
    return Building(now_served, old, addresses, bind, tls, certificate.authority.certificate, tuple(said))
