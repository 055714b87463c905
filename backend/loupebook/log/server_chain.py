"""The server's own chain: what a lead or the door decides, checked and written in one transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

import msgspec
from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
from msgspec import Struct
from sqlalchemy import Connection

from loupebook.log.append import Appender
from loupebook.log.intake import HEAD
from loupebook.log.moments import Now, moment
from loupebook.log.port import Appended
from loupebook.log.settle import Settler
from loupebook.log.trouble import NotAllowedHere
from loupebook.log.verdicts import Verdict
from loupebook.log.writer import Transaction
from loupebook.record.hashes import chain_id, entry_hash
from loupebook.record.heads import public_der, sign_head
from loupebook.record.kinds import SERVER_KINDS, About, AsideSettled, Proof
from loupebook.record.lines import Line, LineRefused, NotWritable, parse_line, write_line

T = TypeVar("T")
Check = Callable[[Connection], None]
Body = Struct | Mapping[str, object] | Callable[[Connection], Struct]
"""What an entry says, or what finds it within the transaction that writes it."""


class ServerChain:
    """Writes the server's entries. What such an entry proves is the server's word."""

    def __init__(
        self, key: EllipticCurvePrivateKey, appender: Appender, settler: Settler, build: str, now: Now
    ) -> None:
        self._key = key
        self.spki = public_der(key)
        self.chain = chain_id(self.spki)
        self._appender = appender
        self._settler = settler
        self._build = build
        self._now = now

    def append(
        self,
        transaction: Transaction,
        kind: str,
        about: About,
        body: Body,
        person: str,
        proof: Proof,
        check: Check | None,
    ) -> Appended:
        """One entry, its folds, and what `check` writes, or nothing of it. Raises NotAllowedHere, what `check` raises,
        and for `aside.settled` NotAside and CannotCount."""
        if kind not in SERVER_KINDS:
            raise NotAllowedHere
        if check is not None:
            transaction.flush()
            check(transaction.connection)
        if callable(body):
            transaction.flush()
            body = body(transaction.connection)
        row = transaction.row(HEAD, chain=self.chain)
        seq, prev = (row[0] + 1, row[1]) if row else (1, self.chain)
        at = moment(self._now())
        raw, line = self._line(kind, about, body, person, proof, seq, prev, at)
        hash = entry_hash(raw)
        counted = Verdict("counted")
        position = self._appender.entry(transaction, self.chain, seq, hash, raw, line, counted, at)
        self._appender.chain(transaction, self.chain, seq, hash, at, self._build)
        self._appender.head(transaction, self.chain, seq, hash, sign_head(self._key, self.chain, seq, hash), at)
        if isinstance(line.body, AsideSettled):
            self._settler.settle(transaction, line.body, position, at)
        return Appended(position, hash)

    def _line(
        self,
        kind: str,
        about: About,
        body: Struct | Mapping[str, object],
        person: str,
        proof: Proof,
        seq: int,
        prev: str,
        at: str,
    ) -> tuple[bytes, Line]:
        fields: dict[str, object] = {
            "v": 1, "chain": self.chain, "seq": seq, "prev": prev, "kind": kind, "at": at, "clock": None,
            "person": person, "proof": proof, "build": self._build, "about": about, "body": body, "photos": [],
        }  # fmt: skip
        try:
            raw = write_line(fields)
            return raw, parse_line(raw)
        except (NotWritable, LineRefused, msgspec.ValidationError, TypeError) as wrong:
            raise NotAllowedHere from wrong
