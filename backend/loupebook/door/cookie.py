"""The one cookie: a session's token. Over https it is locked to this host; over http it lives on loopback only."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie

from loupebook.door.origin import LOOPBACK, host_name
from loupebook.door.words import not_encrypted

PLAIN = "loupebook"
HOST = "__Host-loupebook"


def cookie_name(scheme: str, host: str) -> str:
    """The cookie's name on this connection. Trouble `not_encrypted` for http anywhere but on loopback."""
    if scheme == "https":
        return HOST
    if host_name(host) in LOOPBACK:
        return PLAIN
    raise not_encrypted()


def set_cookie(name: str, token: str, seconds: int) -> str:
    """The Set-Cookie value that signs in (ASVS 5.0.0 3.3.1-3.3.4); `seconds` 0 signs out."""
    secure = "; Secure" if name == HOST else ""
    return f"{name}={token}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}"


def read_cookie(header: str, name: str) -> str | None:
    """The token in a Cookie header under this name."""
    jar = SimpleCookie()
    try:
        jar.load(header)
    except CookieError:
        return None
    return jar[name].value or None if name in jar else None
