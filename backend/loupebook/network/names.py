"""What the server is called in the building, and which addresses it has there. IPv4 only."""

from __future__ import annotations

import re
import socket
from collections.abc import Iterable, Sequence
from ipaddress import AddressValueError, IPv4Address

from loupebook.network.trouble import refused

LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)")
"""One part of a host name (RFC 1123, 2.1)."""

ANYWHERE = (IPv4Address("192.0.2.1"), IPv4Address("10.255.255.255"))
"""Asking for the way to these sends nothing; the system says from which address it would. The first is TEST-NET-1."""


def default_name(host: str) -> str:
    """What the server is called when nobody says: the machine's own name, in `.local` when it has no domain.

    `.local` names are found without a name server (RFC 6762).
    """
    plain = host.lower().rstrip(".")
    return plain if "." in plain else f"{plain}.local"


def machine_name() -> str:
    """The name this machine goes by when nobody gives one."""
    return default_name(socket.gethostname())


def checked_name(text: str) -> str:
    """A host name or an IPv4 address as it stands in an address, lower case. Raises NetworkRefused."""
    name = text.strip().lower().rstrip(".")
    if ip(name) is not None:
        return name
    labels = name.split(".")
    if len(name) > 253 or not all(LABEL.fullmatch(label) for label in labels) or labels[-1].isdecimal():
        raise refused(
            f"{text!r} is not a name a server can have.",
            "Give one of letters, digits, dashes and dots, without https:// and without a port: --name NAME.",
        )
    return name


def ip(text: str) -> IPv4Address | None:
    """The address a text is, if it is one."""
    try:
        return IPv4Address(text)
    except AddressValueError:
        return None


def addresses_of(text: str) -> tuple[IPv4Address, ...]:
    """The addresses of a comma-separated list. Raises NetworkRefused."""
    found = [(each.strip(), ip(each.strip())) for each in text.split(",") if each.strip()]
    for given, address in found:
        if address is None:
            raise refused(f"{given!r} is not an IPv4 address.", "Give one as 10.20.0.7: --addresses 10.20.0.7.")
    return tuple(address for _, address in found if address is not None)


def own_addresses() -> tuple[IPv4Address, ...]:
    """The addresses this machine has in the building, the one of its usual way first."""
    return in_building([*filter(None, map(_towards, ANYWHERE)), *_by_name()])


def in_building(found: Iterable[str]) -> tuple[IPv4Address, ...]:
    """Those a tablet can reach: no loopback, no self-given ones (RFC 3927); each once, in their order."""
    addresses = [address for address in map(ip, found) if address is not None]
    return tuple(dict.fromkeys(a for a in addresses if not (a.is_loopback or a.is_link_local or a.is_unspecified)))


def _towards(there: IPv4Address) -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        try:
            sock.connect((str(there), 9))
        except OSError:
            return None
        return str(sock.getsockname()[0])


def _by_name() -> Sequence[str]:
    try:
        return [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        return []
