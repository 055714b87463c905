"""The TLS the server answers with: one certificate a name, changed under a running server."""

from __future__ import annotations

import logging
import ssl
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Protocol

from loupebook.network.trouble import NetworkRefused

log = logging.getLogger("loupebook.network")


class Certificate(Protocol):
    """A certificate that is looked after."""

    own: bool

    @property
    def chain_file(self) -> Path:
        """PEM: the server's certificate, then those between it and the authority."""

    @property
    def key_file(self) -> Path | None:
        """PEM; None = in the same file."""

    @property
    def until(self) -> datetime:
        """When it ends."""

    def look(self, now: datetime) -> bool:
        """Whether another one is there now. Raises NetworkRefused or OSError; the old one goes on then."""


class Tls:
    """The contexts of a server. `context` is the one to listen with; every handshake asks it anew."""

    def __init__(self, certificate: Certificate, by_name: Mapping[str, Certificate] | None = None) -> None:
        self.certificate = certificate
        self._by_name = {name: (each, _context(each)) for name, each in (by_name or {}).items()}
        self._now = _context(certificate)
        self.context = _context(certificate)
        # Not load_cert_chain alone: a context keeps one certificate for each kind of key, so that after a change
        # from RSA to P-256 the old one would still be shown to some.
        self.context.sni_callback = self._choose

    def look(self, now: datetime) -> None:
        """Takes what was renewed into use. What cannot be used is told in the log, and the old one goes on."""
        if self._fresh(self.certificate, now):
            self._now = _context(self.certificate)
        for name, (each, _) in list(self._by_name.items()):
            if self._fresh(each, now):
                self._by_name[name] = (each, _context(each))

    def _fresh(self, certificate: Certificate, now: datetime) -> bool:
        try:
            changed = certificate.look(now)
        except (NetworkRefused, OSError) as trouble:
            why = trouble.so if isinstance(trouble, NetworkRefused) else trouble
            log.warning("the certificate in use goes on, until %s: %s", certificate.until.isoformat(), why)
            return False
        if changed:
            log.warning("another certificate is in use, until %s", certificate.until.isoformat())
        return changed

    def _choose(self, handshake: ssl.SSLObject | ssl.SSLSocket, name: str | None, _: ssl.SSLContext) -> None:
        found = self._by_name.get(name or "")
        handshake.context = self._now if found is None else found[1]


def _context(certificate: Certificate) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2  # ASVS 5.0.0 12.1.1
    context.set_alpn_protocols(["http/1.1"])
    context.load_cert_chain(certificate.chain_file, certificate.key_file)
    return context
