"""A demo station: a chain with its own key, written and signed as a tablet writes and signs it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

from cryptography.hazmat.primitives.asymmetric import ec
from loupebook.record.hashes import chain_id, entry_hash
from loupebook.record.heads import base64url, public_der, sign_head
from loupebook.record.lines import write_line

from demo_seed.pictures import Picture

BATCH = 100
BUILD = "demo"


def key_of_seed(seed: str) -> ec.EllipticCurvePrivateKey:
    """A key that anybody can make again, so that the demo comes out the same. It proves nothing."""
    number = int.from_bytes(hashlib.sha256(seed.encode()).digest()) % (2**255)
    return ec.derive_private_key(number + 1, ec.SECP256R1())


class Writer:
    """Appends entries and keeps the photos they name, until both are handed over."""

    def __init__(self, seed: str) -> None:
        self._key = key_of_seed(seed)
        self._spki = public_der(self._key)
        self.chain = chain_id(self._spki)
        self.lines: list[bytes] = []
        self.hashes: list[str] = []
        self.photos: dict[str, bytes] = {}
        self.at = datetime.fromtimestamp(0, UTC)

    @property
    def public_key(self) -> str:
        """As a browser sends it."""
        return base64url(self._spki)

    def write(
        self,
        kind: str,
        person: str,
        about: Mapping[str, object],
        body: Mapping[str, object],
        pictures: Sequence[Picture] = (),
        after_s: int = 8,
        basis: str | None = None,
    ) -> str:
        """One entry, so many seconds after the one before; its hash. `basis`: the entry it builds on."""
        self.at += timedelta(seconds=after_s)
        at = self.at.isoformat(timespec="milliseconds")
        line = write_line(
            {
                "v": 1,
                "chain": self.chain,
                "seq": len(self.lines) + 1,
                "prev": self.hashes[-1] if self.hashes else self.chain,
                "kind": kind,
                "at": at,
                "clock": {"ahead_ms": 0, "checked_at": at},
                "person": person,
                "proof": {"how": "pin", "where": "offline"},
                "build": BUILD,
                "about": about,
                **({} if basis is None else {"basis": basis}),
                "body": body,
                "photos": [each.named() for each in pictures],
            }
        )
        self.lines.append(line)
        self.hashes.append(entry_hash(line))
        self.photos |= {each.sha256: each.data for each in pictures}
        return self.hashes[-1]

    def batches(self) -> list[tuple[int, bytes]]:
        """What a tablet sends: (first seq, lines and the signed head)."""
        found = []
        for start in range(0, len(self.lines), BATCH):
            lines = self.lines[start : start + BATCH]
            seq, hash = start + len(lines), self.hashes[start + len(lines) - 1]
            head = {"head": {"seq": seq, "hash": hash, "sig": sign_head(self._key, self.chain, seq, hash)}}
            found.append((start + 1, b"\n".join([*lines, json.dumps(head).encode()]) + b"\n"))
        return found
