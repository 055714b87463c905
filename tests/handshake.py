"""A TLS handshake in memory: OpenSSL on both sides, so that what we made is judged by somebody else."""

from __future__ import annotations

import ssl
from pathlib import Path

from cryptography import x509


def shown(server: ssl.SSLContext, authority: Path, name: str, *, sni: bool = True) -> x509.Certificate:
    """The certificate the server shows for `name` to a client that trusts only `authority`.

    Raises ssl.SSLCertVerificationError with OpenSSL's own reason. `sni` False: the client does not say the name
    beforehand, and checks nothing but the chain.
    """
    context = ssl.create_default_context(cafile=str(authority))
    context.check_hostname = sni
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    client = context.wrap_bio(to_client, to_server, server_hostname=name if sni else None)
    answering = server.wrap_bio(to_server, to_client, server_side=True)
    for _ in range(10):
        for side in (client, answering):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue
        if client.version() is not None and client.getpeercert(True) is not None and not to_server.pending:
            break
    der = client.getpeercert(True)
    assert der is not None, "no certificate was shown"
    return x509.load_der_x509_certificate(der)
