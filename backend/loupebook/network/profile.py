"""The authority as a configuration profile, which is how an iPad takes it."""

from __future__ import annotations

import plistlib
import uuid

from cryptography import x509
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding

SPACE = uuid.UUID("5f1c7f5e-5a1b-4d55-9b1c-6a0f3f6c2f11")
"""Drawn once, so that the same authority is the same profile and replaces itself."""


def profile(authority: x509.Certificate, name: str) -> bytes:
    """A profile with this one root certificate (Apple, "Configuration Profile Reference": Root payload)."""
    digest = authority.fingerprint(SHA256()).hex()
    inner, outer = (str(uuid.uuid5(SPACE, f"{part} {digest}")).upper() for part in ("root", "profile"))
    root = {
        "PayloadType": "com.apple.security.root",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"loupebook.{digest[:16]}.root",
        "PayloadUUID": inner,
        "PayloadDisplayName": f"Loupebook authority of {name}",
        "PayloadCertificateFileName": "loupebook-authority.crt",
        "PayloadContent": authority.public_bytes(Encoding.DER),
    }
    whole = {
        "PayloadType": "Configuration",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"loupebook.{digest[:16]}",
        "PayloadUUID": outer,
        "PayloadDisplayName": f"Loupebook at {name}",
        "PayloadDescription": f"Lets this iPad trust the Loupebook server {name}, and no other server.",
        "PayloadRemovalDisallowed": False,
        "PayloadContent": [root],
    }
    return plistlib.dumps(whole)
