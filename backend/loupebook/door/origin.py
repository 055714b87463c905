"""Where a request says it comes from and goes to: names of the server, and writes from our own pages only. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from urllib.parse import urlsplit

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


@lru_cache(maxsize=256)
def host_name(host: str) -> str | None:
    """The name in a Host header, lower case, without port and brackets; None if it is no host."""
    if not host or any(sign in host for sign in "/@?#\\ ,"):
        return None
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port  # raises on a port that is no number
    except ValueError:
        return None
    return parts.hostname


def goes_by(host: str, names: frozenset[str]) -> bool:
    """Whether the server goes by this Host header: a name from the settings, or loopback.

    A page of a stranger that has its own name lead to this machine (DNS rebinding) sends its own name here.
    """
    name = host_name(host)
    return name is not None and (name in LOOPBACK or name in names)


def from_our_page(headers: Mapping[str, str], scheme: str, *, must_say: bool) -> bool:
    """Whether a write comes from a page of this very origin, as the browser (never a script) says it.

    Sec-Fetch-Site and Origin are forbidden header names of the Fetch standard: a page cannot set them.
    `must_say` where a cookie alone would let the writer in: then one of the two has to be there.
    """
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None and site != "same-origin":
        return False
    if origin is not None and not _same_origin(origin, scheme, headers.get("host", "")):
        return False
    return not must_say or site is not None or origin is not None


def _same_origin(origin: str, scheme: str, host: str) -> bool:
    default = {"http": 80, "https": 443}.get(scheme)
    try:
        there, here = urlsplit(origin), urlsplit(f"{scheme}://{host}")
        return (there.scheme, there.hostname, there.port or default) == (
            scheme,
            here.hostname,
            here.port or default,
        )
    except ValueError:
        return False
