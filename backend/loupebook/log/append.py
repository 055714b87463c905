"""Writes one entry and what follows from it: its row, its verdict, the photos it names, the rows of its folds."""

from __future__ import annotations

from msgspec import UNSET
from sqlalchemy import bindparam, delete, insert
from sqlalchemy.dialects import sqlite

from loupebook.log.pins import Pins
from loupebook.log.port import Counted, Folds, Statement
from loupebook.log.states import part_of, target_of
from loupebook.log.tables import chains, entries, heads, photos_named, strays, unsettled, verdicts
from loupebook.log.verdicts import Verdict
from loupebook.log.writer import Transaction
from loupebook.record.kinds import Entry
from loupebook.record.lines import Line, LineRefused

ADD_ENTRY = Statement(insert(entries))
ADD_VERDICT = Statement(insert(verdicts))
ADD_HEAD = Statement(sqlite.insert(heads).on_conflict_do_nothing())
ADD_STRAY = Statement(sqlite.insert(strays).on_conflict_do_nothing())
ADD_UNSETTLED = Statement(sqlite.insert(unsettled).on_conflict_do_nothing())
DROP_UNSETTLED = Statement(delete(unsettled).where(unsettled.c.position == bindparam("settled")))
NAME_PHOTO = Statement(sqlite.insert(photos_named).on_conflict_do_nothing())
_chain = sqlite.insert(chains)
PUT_CHAIN = Statement(
    _chain.on_conflict_do_update(
        index_elements=[chains.c.chain],
        set_={name: _chain.excluded[name] for name in ("seq", "hash", "received_at", "build")},
    )
)
"""`on_conflict` is written alike in SQLite and PostgreSQL; the clause compiles for either."""


class Appender:
    """Adds entries with their verdicts and runs the folds of those that count."""

    def __init__(self, folds: Folds, pins: Pins, build: str) -> None:
        self._folds = folds
        self._pins = pins
        self._build = build

    def entry(
        self,
        transaction: Transaction,
        chain: str,
        seq: int,
        hash: str,
        raw: bytes,
        line: Line | LineRefused,
        verdict: Verdict,
        received_at: str,
    ) -> int:
        """One line and its first verdict; the position it got."""
        position = transaction.next_position()
        entry = line.entry
        row: dict[str, str | int | bytes | None] = {
            "position": position, "chain": chain, "seq": seq, "hash": hash, "received_at": received_at, "line": raw,
            "kind": None, "person": None, "scope": None, "inspection": None, "target": None, "at": None,
        }  # fmt: skip
        if entry is not None:
            part = part_of(chain, entry, hash)
            scope = entry.about.scope
            row.update(
                kind=entry.kind,
                person=entry.person,
                scope=None if scope is UNSET else str(scope),
                inspection=part[1] if part else None,
                target=target_of(line.body) if isinstance(line, Line) else None,
                at=entry.at,
            )
            self.name_photos(transaction, hash, entry)
        transaction.add(ADD_ENTRY, row)
        self.verdict(transaction, position, 1, verdict, None, position, received_at)
        if verdict.verdict == "counted" and isinstance(line, Line):
            self.fold(transaction, position, position, hash, line, verdict, received_at)
        return position

    def verdict(
        self,
        transaction: Transaction,
        position: int,
        n: int,
        verdict: Verdict,
        settled: str | None,
        changed: int,
        at: str,
    ) -> None:
        """What is now said of an entry."""
        transaction.add(
            ADD_VERDICT,
            {
                "position": position, "n": n, "verdict": verdict.verdict, "reason": verdict.reason,
                "settled": settled, "changed": changed, "build": self._build, "at": at,
            },
        )  # fmt: skip
        if verdict.verdict == "aside" and settled != "leave_out":
            transaction.add(ADD_UNSETTLED, {"position": position})
        elif n > 1:
            transaction.add(DROP_UNSETTLED, {"settled": position})

    def fold(
        self,
        transaction: Transaction,
        position: int,
        changed: int,
        hash: str,
        line: Line,
        verdict: Verdict,
        received_at: str,
    ) -> None:
        """The row changes of an entry that counts."""
        folds = self._folds.get(line.entry.kind)
        if not folds:
            return
        counted = Counted(position, changed, hash, line.entry, line.body, received_at, self._pins, verdict.target)
        for fold in folds:
            transaction.extend(fold(counted))

    def stray(self, transaction: Transaction, chain: str, seq: int, hash: str, raw: bytes, at: str) -> None:
        """A whole line of a forked chain."""
        transaction.add(ADD_STRAY, {"hash": hash, "chain": chain, "seq": seq, "received_at": at, "line": raw})

    def name_photos(self, transaction: Transaction, hash: str, entry: Entry) -> None:
        """The photos a line names may now be sent."""
        for photo in entry.photos:
            transaction.add(
                NAME_PHOTO, {"sha256": photo.sha256, "entry": hash, "bytes": photo.bytes, "type": photo.type}
            )

    def chain(self, transaction: Transaction, chain: str, seq: int, hash: str, at: str, build: str | None) -> None:
        """How far a chain is."""
        transaction.add(
            PUT_CHAIN,
            {"chain": chain, "seq": seq, "hash": hash, "received_at": at, "build": build, "backed_up_seq": 0},
        )

    def head(self, transaction: Transaction, chain: str, seq: int, hash: str, sig: str, at: str) -> None:
        """A signed head."""
        transaction.add(ADD_HEAD, {"chain": chain, "seq": seq, "hash": hash, "sig": sig, "received_at": at})
