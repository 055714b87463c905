"""SHA-256 by domain: what an entry, a chain, a head's message and a text are named by.

Prefixes keep the domains apart: no entry can be shown as a head, no key as an entry. Photos and pinned
texts are hashed plain, so that anybody can check them with a standard tool.
"""

from __future__ import annotations

import hashlib

ENTRY_PREFIX = b"loupebook/entry/1\n"
CHAIN_PREFIX = b"loupebook/chain/1\n"
HEAD_PREFIX = "loupebook/head/1\n"

_ENTRY = hashlib.sha256(ENTRY_PREFIX)


def entry_hash(line: bytes) -> str:
    """The identity of an entry: over the line's own bytes, without the line feed. Lower-case hex."""
    hashing = _ENTRY.copy()
    hashing.update(line)
    return hashing.hexdigest()


def chain_id(spki: bytes) -> str:
    """A chain's id from its P-256 public key (SubjectPublicKeyInfo, DER)."""
    return hashlib.sha256(CHAIN_PREFIX + spki).hexdigest()


def head_message(chain: str, seq: int, hash: str) -> bytes:
    """What a head's signature is over; `seq` decimal."""
    return f"{HEAD_PREFIX}{chain}\n{seq}\n{hash}".encode()


def text_hash(text: str) -> str:
    """The pin of a catalogue, a policy, a frequency table: plain SHA-256 of its UTF-8 text."""
    return hashlib.sha256(text.encode()).hexdigest()
