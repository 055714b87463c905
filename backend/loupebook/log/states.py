"""Chain-rule states of inspection parts: remembered while they are worked on, made again from the log when not.

States are values and only a memory: after anything was undone they are all made again.
"""

from __future__ import annotations

from collections import OrderedDict

from msgspec import Struct
from sqlalchemy import and_, bindparam, func, select

from loupebook.log.port import Statement
from loupebook.log.tables import entries, verdicts
from loupebook.log.writer import Transaction
from loupebook.record.kinds import Entry
from loupebook.record.lines import parse_line
from loupebook.rules.chain import advance
from loupebook.rules.chain_state import NOTHING, Live, State

REMEMBERED = 512
"""Parts remembered: some 60 KB each at their longest, so about 30 MB."""

Part = tuple[str, str]
"""A chain, and the begun entry of one of its inspection parts."""

_newest = (
    select(func.max(verdicts.c.n)).where(verdicts.c.position == entries.c.position).correlate(entries).scalar_subquery()
)
CURRENT = and_(verdicts.c.position == entries.c.position, verdicts.c.n == _newest)
"""Joins an entry with what was last said of it."""

PART = Statement(
    select(entries.c.hash, entries.c.line)
    .join(verdicts, CURRENT)
    .where(
        entries.c.inspection == bindparam("inspection"),
        entries.c.chain == bindparam("chain"),
        verdicts.c.verdict == "counted",
    )
    .order_by(entries.c.seq)
)
ONE = Statement(
    select(entries.c.line, entries.c.inspection, verdicts.c.verdict, verdicts.c.settled)
    .join(verdicts, CURRENT)
    .where(entries.c.hash == bindparam("hash"), entries.c.chain == bindparam("chain"))
    .order_by(entries.c.position)
    .limit(1)
)
TAKEN_BACK = Statement(
    select(entries.c.position)
    .join(verdicts, CURRENT)
    .where(
        entries.c.target == bindparam("hash"),
        entries.c.chain == bindparam("chain"),
        entries.c.kind == "entry.withdrawn",
        verdicts.c.verdict == "counted",
    )
)


class States:
    """The states of all parts as the running transaction sees them. Used on the writer's thread only."""

    def __init__(self) -> None:
        self._known: OrderedDict[Part, State] = OrderedDict()
        self._uncommitted = False

    def get(self, transaction: Transaction, part: Part, begins: bool = False) -> State:
        """The state of an inspection part; NOTHING where no begun entry counts, and where the part `begins`."""
        if begins:
            return NOTHING
        state = self._known.get(part)
        if state is None:
            return _made_again(transaction, part)
        self._known.move_to_end(part)
        return state

    def put(self, part: Part, state: State) -> None:
        """The state after an entry that counts."""
        self._uncommitted = True
        self._known[part] = state
        self._known.move_to_end(part)
        if len(self._known) > REMEMBERED:
            self._known.popitem(last=False)

    def committed(self) -> None:
        """What was put is durable."""
        self._uncommitted = False

    def undone(self) -> None:
        """A job or a transaction was undone: what was put may not be so. All is made again from the log."""
        if self._uncommitted:
            self._known.clear()


def loose(transaction: Transaction, chain: str, target: str | None) -> State:
    """What is needed of the entries of a chain that name no inspection: the one that is spoken of, if it counts."""
    row = transaction.row(ONE, hash=target, chain=chain) if target is not None else None
    if target is None or row is None or row[1] is not None or row[2] != "counted":
        return NOTHING
    if transaction.row(TAKEN_BACK, hash=target, chain=chain) is not None:
        return NOTHING
    entry, body = parse_line(row[0])
    return State(live={target: Live(entry.kind, body, bool(entry.photos))})


def unsettled(transaction: Transaction, chain: str, hash: str) -> bool:
    """Whether this entry of the chain is put aside and no lead has settled it."""
    row = transaction.row(ONE, hash=hash, chain=chain)
    return row is not None and row[2] == "aside" and row[3] is None


def _made_again(transaction: Transaction, part: Part) -> State:
    chain, inspection = part
    state = NOTHING
    for hash, line in transaction.rows(PART, inspection=inspection, chain=chain):
        entry, body = parse_line(line)
        state = advance(state, entry, body, hash)
    return state


def part_of(chain: str, entry: Entry, hash: str) -> Part | None:
    """The inspection part an entry belongs to; None for what names no inspection."""
    if entry.kind == "inspection.begun":
        return chain, hash
    inspection = entry.about.inspection
    return (chain, inspection) if isinstance(inspection, str) else None


def target_of(body: Struct) -> str | None:
    """The entry a withdrawal or a correction speaks of."""
    target = getattr(body, "entry", None)
    return target if isinstance(target, str) else None
