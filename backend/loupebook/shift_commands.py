"""A lead's commands about shifts: what stands open is answered, a shift is closed, what came later is noted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Literal
from zoneinfo import ZoneInfo

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType
from sqlalchemy import Connection

from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.log.log import Log
from loupebook.reading.port import Sources
from loupebook.reading.shift import board_of
from loupebook.reading.shift_page import noted_now
from loupebook.record.kinds import HeadNamed, Sha256, ShiftAdded, ShiftAnswered, ShiftClosed
from loupebook.shift_log import Logs
from loupebook.shifts.rules import exceptions_of, that_fit
from loupebook.shifts.tables import Closing, closing_of, closings

if TYPE_CHECKING:
    from loupebook.commands import InForceOf

SHIFT_KINDS = frozenset(("shift.answered", "shift.closed", "shift.added"))
Reader = Callable[[str, Command, Log, "InForceOf", str], ToWrite]


class Close(Struct, frozen=True):
    """What a lead says when they close a shift; all else the server finds. `counted`: scopes that came, by hand;
    `logs`: what was read of logs of washers, by the names that `POST /lead/shift/log` gave."""

    meaning: Literal["reviewed", "for_another"] = "reviewed"
    note: str | UnsetType = UNSET
    counted: int | UnsetType = UNSET
    logs: Annotated[list[Sha256], Meta(max_length=8)] = []


def shift_readers(sources: Sources, logs: Logs) -> Mapping[str, Reader]:
    """The readers of `SHIFT_KINDS`."""

    def answered(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
        """Until the shift is closed; without needs a reason."""
        shift, body = _shift(command), read(command.body, ShiftAnswered)
        if body.answer == "without" and not (isinstance(body.reason, str) and body.reason.strip()):
            raise not_complete()

        def check(connection: Connection) -> None:
            _still_open(connection, sources, shift)

        return ToWrite(body, check)

    def closed(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
        """Counted, and every chain's head read, in the transaction that writes it."""
        shift, given = _shift(command), read(command.body, Close)
        counted = given.counted if isinstance(given.counted, int) else None
        if len(shift.split("/")) < 3 or (counted is not None and not 0 <= counted <= 100_000):
            raise not_complete()
        if isinstance(given.note, str) and len(given.note) > 2000:
            raise not_complete()

        def body(connection: Connection) -> Struct:
            _still_open(connection, sources, shift)
            against = logs.against(shift, given.logs)
            board = board_of(connection, sources, shift)
            came = board.scopes_came(counted, against)
            logged = 0 if came.logged is UNSET else len(msgspec.json.encode(came.logged))
            heads = [HeadNamed(chain, seq, hash) for chain, (seq, hash, _) in sources.heads(connection, None).items()]
            heads.sort(key=lambda head: head.chain)
            return ShiftClosed(
                begins=_moment(board.begins_ms),
                ends=_moment(board.ends_ms),
                meaning=given.meaning,
                counts=board.counts,
                came=came,
                exceptions=that_fit(exceptions_of(board.rows), heads, logged),
                heads=heads,
                note=given.note if isinstance(given.note, str) and given.note.strip() else UNSET,
            )

        return ToWrite(body)

    def added(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
        """Only what came after that shift was closed, and what nobody has noted."""
        shift, body = _shift(command), read(command.body, ShiftAdded)

        def check(connection: Connection) -> None:
            closing = closing_of(connection, body.closing)
            if closing is None or closing.shift != shift:
                raise _no_closing()
            if not noted_now(connection, closing, body.entries):
                raise _noted_meanwhile()

        return ToWrite(body, check)

    return {"shift.answered": answered, "shift.closed": closed, "shift.added": added}


def _shift(command: Command) -> str:
    shift = command.about.shift
    if not (isinstance(shift, str) and 0 < len(shift) <= 200):
        raise not_complete()
    return shift


def _moment(ms: int) -> str:
    return datetime.fromtimestamp(ms / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _still_open(connection: Connection, sources: Sources, shift: str) -> None:
    found = closings(connection, [shift]).get(shift)
    if found is not None:
        raise closed_already(found, _who(connection, sources, found), sources.facility().zone)


def _who(connection: Connection, sources: Sources, closing: Closing) -> str:
    return next((each.name for each in sources.people(connection) if each.id == closing.person), closing.person)


def closed_already(closing: Closing, name: str, zone: str) -> Trouble:
    """Of two who close one shift, the second is told who was first, and when by the facility's clock."""
    at = datetime.fromisoformat(closing.at).astimezone(ZoneInfo(zone))
    return Trouble(
        409, "closed_already", f"{name} closed this shift at {at:%H:%M} on {at.day} {at:%b}.",
        "That record stands, with everything that was here by then; yours was not written.",
        "Look at it. What comes later is added to it and shown to the next lead.",
    )  # fmt: skip


def _no_closing() -> Trouble:
    return Trouble(
        404, "no_closing", "This shift is not closed.", NOTHING_CHANGED, "Look at the board of the shift again.",
    )  # fmt: skip


def _noted_meanwhile() -> Trouble:
    return Trouble(
        409, "noted_meanwhile", "Somebody took note of some of this a moment ago, or more has come.",
        "Nothing of it is lost; your note was not written.", "Look at the list again, then take note of what is left.",
    )  # fmt: skip
