"""Planning against the record, and writing a plan: all of it or none, and once, however often it is sent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import msgspec
from sqlalchemy import Connection, insert, select

from loupebook.bulk.fates import Plan, Write
from loupebook.bulk.tables import Brought
from loupebook.door.door import new_id
from loupebook.door.people import keep_name, proof_of
from loupebook.door.trouble import Trouble
from loupebook.door.who import PersonHere
from loupebook.log.declared import table_of
from loupebook.log.log import Log
from loupebook.log.writer import Transaction
from loupebook.record.kinds import About, PersonAdded

PlanOn = Callable[[Connection], Plan]
"""The plan of one file against what the record says now."""

_brought = table_of(Brought)


@dataclass(frozen=True)
class Written:
    """How many entries; who was added; whether this very plan was written before."""

    entries: int
    people: tuple[str, ...]
    before: bool


def written_before(read: Connection, plan: str) -> Written | None:
    """What was answered when this plan was written, if it was."""
    row = read.execute(select(_brought).where(_brought.c.plan == plan)).one_or_none()
    return Written(row.written, tuple(msgspec.json.decode(row.people, type=list[str])), True) if row else None


def write_plan(log: Log, wanted: str, plan_on: PlanOn, lead: PersonHere, now_ms: int) -> Written:
    """Writes the plan of that id in one transaction. Trouble `record_changed` where the record no longer gives it.

    Sent again (the answer was lost, the page was reloaded), it says the same and writes nothing.
    """

    def act(transaction: Transaction) -> Written:
        transaction.flush()
        done = written_before(transaction.connection, wanted)
        if done is not None:
            return done
        plan = plan_on(transaction.connection)
        if plan.id != wanted:
            raise _record_changed()
        people = [_one(log, transaction, write, lead) for write in plan.writes]
        transaction.flush()
        added = [person for person in people if person is not None]
        transaction.connection.execute(
            insert(_brought).values(
                plan=wanted, what=plan.what, person=lead.person, at_ms=now_ms, written=len(plan.writes),
                people=msgspec.json.encode(added).decode(),
            )
        )  # fmt: skip
        return Written(len(plan.writes), tuple(added), False)

    return log.write(act)


def _one(log: Log, transaction: Transaction, write: Write, lead: PersonHere) -> str | None:
    """One entry; the id of the person it adds, if it adds one."""
    proof = proof_of(lead)
    if not isinstance(write.body, PersonAdded):
        about = About(scope=write.about)
        log.server.append(transaction, "scope.described", about, write.body, lead.person, proof, None)
        return None
    person = new_id("p")

    def keep(connection: Connection) -> None:
        keep_name(connection, person, write.about)

    body = PersonAdded(person, write.body.roles)
    log.server.append(transaction, "person.added", About(), body, lead.person, proof, keep)
    return person


def _record_changed() -> Trouble:
    return Trouble(
        409, "record_changed", "The record changed since this file was looked at.", "Nothing of the file was written.",
        "Look at the rows again, then write them.",
    )  # fmt: skip
