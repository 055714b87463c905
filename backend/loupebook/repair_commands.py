"""A lead opens a repair, confirms one that was opened by phone, or ends one."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sqlalchemy import Connection

from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.trouble import Trouble
from loupebook.log.log import Log
from loupebook.record.kinds import RepairClosed, RepairOpened
from loupebook.repairs.tables.repairs import repair_words
from loupebook.rules.repair import Repair, repair_of


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

    return ToWrite(closed, check)


def _key(command: Command) -> str:
    key = command.about.scope
    if not isinstance(key, str):
        raise not_complete()
    return key


def _stands(connection: Connection, key: str) -> Repair | None:
    return repair_of([word.event for word in repair_words(connection, [key])[key]], serial_photo=True)


def _meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Something else was said of this scope's repair a moment ago.",
        "It stands; yours was not written.", "Look at it, then decide.",
    )  # fmt: skip


REPAIR_READERS: Mapping[str, Callable[[str, Command, Log, object, str], ToWrite]] = {
    "repair.opened": _opened,
    "repair.closed": _closed,
}
