"""A batch of lines from a station: head first, then place, then verdicts; a receipt for every line.

Nothing that was signed with the chain's key is ever refused for what it says: it is counted, put aside or kept as a
stray, and its bytes stay as they came.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

import msgspec
from msgspec import UNSET, Struct, UnsetType
from sqlalchemy import bindparam, select

from loupebook.log.append import Appender
from loupebook.log.moments import Now, moment
from loupebook.log.port import Epoch, Statement
from loupebook.log.states import CURRENT
from loupebook.log.tables import chains, entries, photos, verdicts
from loupebook.log.trouble import Gap, HeadWrong, NotUnderstood, OtherStation, TooMuch, UnknownChain
from loupebook.log.verdicts import Doorkeeper, Judge, Verdict, line_reason
from loupebook.log.writer import Transaction
from loupebook.record.chain import Place, after
from loupebook.record.hashes import entry_hash
from loupebook.record.heads import NoKey, verify_head
from loupebook.record.lines import Line, LineRefused, parse_line

MOST_LINES = 200
MOST_BYTES = 2 * 1024 * 1024


class SentHead(Struct, frozen=True):
    """The head as the last line of a body says it."""

    seq: int
    hash: str
    sig: str


class _HeadLine(Struct, frozen=True):
    head: SentHead


class Receipt(Struct, frozen=True):
    """What became of one line. It repeats the hash, so that a lost or swapped answer is seen."""

    seq: int
    hash: str
    state: Literal["stored", "already", "stray"]
    verdict: str
    reason: str | UnsetType = UNSET


class Result(Struct, frozen=True, omit_defaults=True):
    """The answer to a batch: how far the chain is now, a receipt a line, the photos still wanted."""

    epoch: dict[str, int | str]
    seq: int
    hash: str | None
    receipts: list[Receipt]
    wanted: list[str]
    forked: bool | UnsetType = UNSET


HEAD = Statement(select(chains.c.seq, chains.c.hash).where(chains.c.chain == bindparam("chain")))
THERE = Statement(
    select(entries.c.seq, entries.c.hash, verdicts.c.verdict, verdicts.c.reason)
    .join(verdicts, CURRENT)
    .where(
        entries.c.chain == bindparam("chain"),
        entries.c.seq.between(bindparam("first"), bindparam("last")),
    )
    .order_by(entries.c.seq)
)
ASKED_AT_ONCE = (8, 40)
"""Photos asked for in one question: what a batch of a shift names, and what a long one does."""
HERE = {
    size: Statement(select(photos.c.sha256).where(photos.c.sha256.in_([bindparam(f"p{n}") for n in range(size)])))
    for size in ASKED_AT_ONCE
}


class Arrived(NamedTuple):
    """One line as it came: its seq by its place, its bytes, their hash, what it reads as."""

    seq: int
    raw: bytes
    hash: str
    line: Line | LineRefused


def read_body(first: int, body: bytes) -> tuple[list[Arrived], SentHead]:
    """The lines of a body and its head. Raises NotUnderstood, TooMuch. Lines that cannot be read are lines too."""
    if len(body) > MOST_BYTES:
        raise TooMuch
    raw = body.split(b"\n")
    if raw[-1] == b"":
        raw.pop()
    if not raw or first < 1:
        raise NotUnderstood
    try:
        head = msgspec.json.decode(raw.pop(), type=_HeadLine).head
    except (msgspec.DecodeError, UnicodeDecodeError):
        raise NotUnderstood from None
    if len(raw) > MOST_LINES:
        raise TooMuch
    return [Arrived(first + index, line, entry_hash(line), _read(line)) for index, line in enumerate(raw)], head


def _read(line: bytes) -> Line | LineRefused:
    try:
        return parse_line(line)
    except LineRefused as refused:
        return refused


class Intake:
    """What a batch is checked against and written with; one for all batches."""

    def __init__(
        self, doorkeeper: Doorkeeper, judge: Judge, appender: Appender, epoch: Callable[[], Epoch], now: Now
    ) -> None:
        self.doorkeeper = doorkeeper
        self.judge = judge
        self.appender = appender
        self.epoch = epoch
        self.now = now


class Batch:
    """One batch as a job of the writer. All it writes goes through the transaction, so it may be run again."""

    repeatable = True

    def __init__(self, intake: Intake, chain: str, first: int, body: bytes, station: str) -> None:
        """Reads and hashes the lines where the batch arrives, while the writer may be at work.

        Raises NotUnderstood, TooMuch.
        """
        self._intake = intake
        self._chain = chain
        self._first = first
        self._station = station
        self._arrived, self._head = read_body(first, body)
        self._at = moment(intake.now())

    def run(self, transaction: Transaction) -> Result:
        """Checks the head, finds what is new, judges and writes it."""
        state = self._intake.doorkeeper.station(transaction.connection, self._chain)
        if state is None:
            raise UnknownChain
        if state.station != self._station:
            raise OtherStation
        head = self._check_head(state.spki)
        row = transaction.row(HEAD, chain=self._chain)
        here = Place(self._chain, row[0] + 1, row[1]) if row else Place(self._chain, 1, self._chain)
        if self._first > here.seq:
            raise Gap(here.seq - 1, here.prev if row else None)
        known = [each for each in self._arrived if each.seq < here.seq]
        receipts = self._already(transaction, known)
        new = self._arrived[len(receipts) :]
        forked = len(receipts) < len(known) or (bool(new) and _forks(new[0], here))
        if forked:
            receipts += self._strays(transaction, new)
        elif new:
            receipts += self._write(transaction, new, here, state.revoked)
            here = Place(self._chain, new[-1].seq + 1, new[-1].hash)
            self._intake.appender.head(transaction, self._chain, head.seq, head.hash, head.sig, self._at)
        return Result(
            self._intake.epoch()._asdict(),
            here.seq - 1,
            here.prev if here.seq > 1 else None,
            receipts,
            self._wanted(transaction),
            True if forked else UNSET,
        )

    def _check_head(self, spki: bytes) -> SentHead:
        head, last = self._head, self._arrived[-1] if self._arrived else None
        fits = last is None or (head.seq == last.seq and head.hash == last.hash)
        try:
            if not fits or not verify_head(spki, self._chain, head.seq, head.hash, head.sig):
                raise HeadWrong
        except NoKey:
            raise HeadWrong from None
        return head

    def _already(self, transaction: Transaction, known: Sequence[Arrived]) -> list[Receipt]:
        """Receipts for lines that are here with the same hash, up to the first that is not."""
        if not known:
            return []
        receipts: list[Receipt] = []
        rows = transaction.rows(THERE, chain=self._chain, first=known[0].seq, last=known[-1].seq)
        for line, (seq, hash, verdict, reason) in zip(known, rows, strict=True):
            if line.hash != hash:
                break
            receipts.append(Receipt(seq, hash, "already", verdict, reason or UNSET))
        return receipts

    def _strays(self, transaction: Transaction, lines: Sequence[Arrived]) -> list[Receipt]:
        receipts: list[Receipt] = []
        for seq, raw, hash, line in lines:
            self._intake.appender.stray(transaction, self._chain, seq, hash, raw, self._at)
            if line.entry is not None:
                self._intake.appender.name_photos(transaction, hash, line.entry)
            receipts.append(Receipt(seq, hash, "stray", "aside", "forked"))
        return receipts

    def _write(self, transaction: Transaction, lines: Sequence[Arrived], here: Place, revoked: bool) -> list[Receipt]:
        receipts: list[Receipt] = []
        build: str | None = None
        for seq, raw, hash, line in lines:
            verdict = self._verdict(transaction, line, hash, here, revoked)
            self._intake.appender.entry(transaction, self._chain, seq, hash, raw, line, verdict, self._at)
            receipts.append(Receipt(seq, hash, "stored", verdict.verdict, verdict.reason or UNSET))
            build = line.entry.build if line.entry else build
            here = after(here, hash)
        self._intake.appender.chain(transaction, self._chain, lines[-1].seq, lines[-1].hash, self._at, build)
        return receipts

    def _verdict(
        self, transaction: Transaction, line: Line | LineRefused, hash: str, here: Place, revoked: bool
    ) -> Verdict:
        reason = line_reason(line, here)
        if reason is None and isinstance(line, Line):
            reason = self._intake.doorkeeper.reason(transaction.connection, line.entry, revoked)
            if reason is None:
                return self._intake.judge.judged(transaction, self._chain, line, hash)
        return Verdict("aside", reason)

    def _wanted(self, transaction: Transaction) -> list[str]:
        """Photos the lines name whose bytes are not here, in the order named."""
        photos_named = (photo for each in self._arrived if each.line.entry for photo in each.line.entry.photos)
        wanted = list(dict.fromkeys(photo.sha256 for photo in photos_named))
        here: set[str] = set()
        most = ASKED_AT_ONCE[-1]
        for start in range(0, len(wanted), most):
            some = wanted[start : start + most]
            size = next(size for size in ASKED_AT_ONCE if len(some) <= size)
            asked = {f"p{number}": sha256 for number, sha256 in enumerate(some + some[:1] * (size - len(some)))}
            here.update(sha256 for (sha256,) in transaction.rows(HERE[size], **asked))
        return [sha256 for sha256 in wanted if sha256 not in here]


def _forks(line: Arrived, here: Place) -> bool:
    """Whether a line that should be the next was written after another line than the one we have."""
    entry = line.line.entry
    if entry is None or here.seq == 1:
        return False
    return entry.chain == here.chain and entry.seq == here.seq and entry.prev != here.prev
