"""A lead opens a repair, confirms one that was opened by phone, answers an estimate, or ends one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from sqlalchemy import Connection

from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.trouble import Trouble
from loupebook.log.log import Log
from loupebook.record.kinds import RepairApproved, RepairClosed, RepairOpened
from loupebook.repairs.tables.repairs import told_of
from loupebook.rules.repair import Due, Repair


def _opened(_: str, command: Command, __: Log, ___: object, ____: str) -> ToWrite:
    """With `over`, all that asks for it now and nothing else; without, only where nothing asks for one."""
    opened, key = read(command.body, RepairOpened), _key(command)
    if not opened.reason.strip():
        raise not_complete()

    def check(connection: Connection) -> None:
        now = _stands(connection, key)
        if set(opened.over) != set(now.openers if now else ()):
            raise _meanwhile()

    return ToWrite(opened, check)


def _closed(_: str, command: Command, __: Log, ___: object, ____: str) -> ToWrite:
    """All that asks for it or opened it is named: nothing is closed unseen."""
    closed, key = read(command.body, RepairClosed), _key(command)
    if not closed.reason.strip():
        raise not_complete()

    def check(connection: Connection) -> None:
        now = _stands(connection, key)
        if now is None or set(closed.over) != set(now.openers):
            raise _meanwhile()
        if closed.outcome == "done" and now.owes:
            raise _owes(now.owes)

    return ToWrite(closed, check)


def _approved(_: str, command: Command, __: Log, ___: object, ____: str) -> ToWrite:
    """Only estimates that nobody answered yet."""
    approved, key = read(command.body, RepairApproved), _key(command)
    if not approved.reason.strip():
        raise not_complete()

    def check(connection: Connection) -> None:
        now = _stands(connection, key)
        if now is None or not set(approved.over) <= set(now.undecided):
            raise _meanwhile()

    return ToWrite(approved, check)


def _key(command: Command) -> str:
    key = command.about.scope
    if not isinstance(key, str):
        raise not_complete()
    return key


def _stands(connection: Connection, key: str) -> Repair | None:
    return told_of(connection, [key])[key].repair


def _meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Something else was said of this scope's repair a moment ago.",
        "It stands; yours was not written.", "Look at it, then decide.",
    )  # fmt: skip


OWED: Mapping[Due, str] = {
    "back": "it is not back",
    "serial": "its serial number is not the one that left",
    "accepted": "no acceptance inspection after the repair let it go on",
    "processed": "it is not processed since its acceptance",
}


def _owes(owed: Sequence[Due]) -> Trouble:
    lacks = "; ".join(OWED[each] for each in owed)
    return Trouble(
        409, "not_released", f"This scope can not be released after repair: {lacks}.",
        "The repair stays open; nothing was written.", "Do what is named, then release it; or end it in another way.",
    )  # fmt: skip


REPAIR_READERS: Mapping[str, Callable[[str, Command, Log, object, str], ToWrite]] = {
    "repair.opened": _opened,
    "repair.approved": _approved,
    "repair.closed": _closed,
}
