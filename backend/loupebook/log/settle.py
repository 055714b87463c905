"""What a lead settles of the entries put aside, and what waits on them. Verdicts are only ever added."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import bindparam, or_, select

from loupebook.log.append import Appender
from loupebook.log.port import Statement
from loupebook.log.states import CURRENT, States, loose, target_of
from loupebook.log.tables import entries, verdicts
from loupebook.log.trouble import CannotCount, NotAside, RuleStands
from loupebook.log.verdicts import DOOR_REASONS, NEVER_COUNTS, Judge, Verdict
from loupebook.log.writer import Transaction
from loupebook.record.kinds import AsideSettled
from loupebook.record.lines import LineRefused, parse_line
from loupebook.rules.chain import advance
from loupebook.rules.chain_state import NOTHING, State


class Standing(NamedTuple):
    """An entry and what is said of it now."""

    position: int
    chain: str
    hash: str
    inspection: str | None
    received_at: str
    line: bytes
    verdict: str
    reason: str | None
    settled: str | None
    n: int


_columns = (
    entries.c.position, entries.c.chain, entries.c.hash, entries.c.inspection, entries.c.received_at, entries.c.line,
    verdicts.c.verdict, verdicts.c.reason, verdicts.c.settled, verdicts.c.n,
)  # fmt: skip
_standing = select(*_columns).join(verdicts, CURRENT).order_by(entries.c.position)
_aside = verdicts.c.verdict == "aside"

_open = or_(verdicts.c.settled.is_(None), verdicts.c.settled == "count")
ASIDE = Statement(_standing.where(entries.c.hash == bindparam("hash"), _aside, _open))
OF_PART = Statement(
    _standing.where(entries.c.chain == bindparam("chain"), entries.c.inspection == bindparam("inspection"))
)
WAITING = Statement(_standing.where(entries.c.chain == bindparam("chain"), _aside, verdicts.c.reason == "waits"))


LET_IN: tuple[str, ...] = ("station_revoked", "person_unknown", "person_inactive", "role_may_not", "waits")
"""Who wrote it, or where, was in doubt: that a lead can say."""


class Settler:
    """Carries out `aside.settled`."""

    def __init__(self, states: States, judge: Judge, appender: Appender) -> None:
        self._states = states
        self._judge = judge
        self._appender = appender

    def settle(self, transaction: Transaction, body: AsideSettled, changed: int, at: str) -> None:
        """Lets an entry count (as far as the chain rules do) or leaves it out, and judges anew what waited on it.

        What the door held back is let in from now on: where a rule stands against it, or what it names is not settled,
        it counts as soon as that is. What a rule of its chain put aside counts only if that rule no longer does.
        `changed` is the position of the `aside.settled`. Raises NotAside, CannotCount, RuleStands.
        """
        row = transaction.row(ASIDE, hash=body.entry)
        if row is None:
            raise NotAside
        named = Standing(*row)
        if body.outcome == "count" and named.reason in NEVER_COUNTS:
            raise CannotCount
        if body.outcome == "leave_out":
            left_out = Verdict("aside", named.reason)
            self._appender.verdict(transaction, named.position, named.n + 1, left_out, "leave_out", changed, at)
        self._judge_again(transaction, named, body.outcome == "count", changed, at)
        if body.outcome == "count" and named.reason not in LET_IN:
            self._has_come_in(transaction, body.entry)

    def _has_come_in(self, transaction: Transaction, hash: str) -> None:
        """Raises RuleStands where the entry still does not count: nothing is settled then."""
        row = transaction.row(ASIDE, hash=hash)
        if row is not None and Standing(*row).reason != "waits":  # the verdicts above are undone with the job
            raise RuleStands

    def _judge_again(self, transaction: Transaction, named: Standing, counts: bool, changed: int, at: str) -> None:
        """In chain order: the entry itself, if it may count, and everything put aside by a chain rule or waiting."""
        states: dict[str, State] = {}
        for each in self._concerned(transaction, named):
            itself = counts and each.position == named.position
            state = states.get(each.inspection, NOTHING) if each.inspection is not None else None
            if each.verdict == "counted":
                if state is not None:
                    states[str(each.inspection)] = advance(state, *parse_line(each.line), each.hash)
                continue
            if not itself and (each.settled == "leave_out" or each.reason in DOOR_REASONS):
                continue
            after = self._once_more(transaction, each, state, "count" if itself else each.settled, changed, at)
            if each.inspection is not None and after is not None:
                states[each.inspection] = after
        for inspection, state in states.items():
            self._states.put((named.chain, inspection), state)

    def _once_more(
        self,
        transaction: Transaction,
        each: Standing,
        state: State | None,
        settled: str | None,
        changed: int,
        at: str,
    ) -> State | None:
        """Judges one entry; the state after it. A verdict is added only where it, or who settled it, is another."""
        try:
            line = parse_line(each.line)
        except LineRefused:
            return state
        if state is None:
            state = loose(transaction, each.chain, target_of(line.body))
        verdict, after = self._judge.with_state(transaction, each.chain, line, each.hash, state)
        if (verdict.verdict, verdict.reason, settled) != (each.verdict, each.reason, each.settled):
            self._appender.verdict(transaction, each.position, each.n + 1, verdict, settled, changed, at)
        if verdict.verdict == "counted":
            self._appender.fold(transaction, each.position, changed, each.hash, line, verdict, each.received_at)
        return after

    def _concerned(self, transaction: Transaction, named: Standing) -> list[Standing]:
        """The entry, its whole part, and the parts of everything of its chain that waits; in chain order."""
        waiting = [Standing(*row) for row in transaction.rows(WAITING, chain=named.chain)]
        parts = dict.fromkeys(_parts([named, *waiting]))
        found = [
            Standing(*row) for part in parts for row in transaction.rows(OF_PART, chain=named.chain, inspection=part)
        ]
        alone = [each for each in (named, *waiting) if each.inspection is None]
        return sorted({each.position: each for each in (*alone, *found)}.values())


def _parts(standings: Iterable[Standing]) -> Iterable[str]:
    return (each.inspection for each in standings if each.inspection is not None)
