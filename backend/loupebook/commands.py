"""A lead's commands: server kinds written by hand, on the server's own chain, with the person and their ticket."""

# No postponed annotations here: the route's parameter types name values of the enclosing function.
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, cast

import msgspec
from anyio import to_thread
from fastapi import APIRouter, Depends, Request
from msgspec import UNSET, Struct, UnsetType
from sqlalchemy import Connection
from starlette.responses import Response

from loupebook.cards.port import InForce, TextOf
from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.asks import fresh, the_person
from loupebook.door.door import Door
from loupebook.door.people import proof_of
from loupebook.door.rights import role_may
from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.door.who import PersonHere
from loupebook.door.words import not_your_part
from loupebook.hold_commands import HOLD_KINDS, hold_readers
from loupebook.log.log import Log
from loupebook.log.port import Appended
from loupebook.log.routes import refusal
from loupebook.log.trouble import LogRefusal
from loupebook.photo_commands import PHOTO_READERS
from loupebook.reading.port import Sources
from loupebook.record.hashes import text_hash
from loupebook.record.kinds import SERVER_KINDS, AsideSettled, CustodySettled, PhotoErased, RetentionSet, ScopeDescribed
from loupebook.repair_commands import REPAIR_READERS
from loupebook.repairs.tables import custodies
from loupebook.rules.policy_table import PolicyText, made_laxer, read_policy
from loupebook.scopes.tables.known import scopes_known
from loupebook.shift_commands import SHIFT_KINDS, shift_readers
from loupebook.shift_log import Logs
from loupebook.trouble import OURS

InForceOf = Callable[[Connection, TextOf], InForce | None]
"""The policy, catalogue or frequency that holds now."""

PINNED: Mapping[str, Mapping[str, type]] = {
    "policy.set": {"rows": list},
    "catalogue.set": {"kinds": dict, "findings": dict},
    "frequency.set": {"rows": list},
}
"""Kinds that pin a text, and what the text must hold. Sent as `{text, reason}`, written as `{sha256, reason}`."""
PROVED_ANEW = frozenset(
    (
        "aside.settled", "photo.opened", "photo.shown_again", "photo.erasure_asked", "photo.erased", "shift.closed",
        "retention.set", *PINNED,
    )
)  # fmt: skip
"""What changes what counts or is suggested, gives out what may show a person, erases it, or ends a record, asks for a
fresh PIN (ASVS 5.0.0 7.5.3)."""


class PinnedText(Struct, frozen=True):
    """The whole text of a policy, catalogue or frequency, and why it is set. `over`: the hash of the one it changes."""

    text: str
    reason: str
    over: str | UnsetType = UNSET


def command_routes(
    log: Log,
    door: Door,
    in_force: InForceOf,
    sources: Sources,
    logs: Logs,
    erase: Callable[[str], None] = lambda _: None,
) -> APIRouter:
    """`POST /lead/commands/{kind}`: `{about, body}` -> `{position, hash}`. `erase` takes a photo away; it blocks.
    `logs`: what was read of logs of washers."""
    router = APIRouter()
    proved = fresh(door)
    readers = {**READERS, **shift_readers(sources, logs), **hold_readers(sources)}

    @router.post("/lead/commands/{kind}", response_model=None)
    async def post_command(kind: str, request: Request, lead: Annotated[PersonHere, Depends(the_person)]) -> Response:
        reader = readers.get(kind)
        if reader is None:
            raise _not_a_command()
        if not role_may(kind, lead.roles):
            raise not_your_part()
        if kind in PROVED_ANEW:
            proved(request)
        command = read(await request.body(), Command)
        to_write = reader(kind, command, log, in_force, lead.person)

        def act() -> Appended:
            written = log.append_server(kind, command.about, to_write.body, lead.person, proof_of(lead), to_write.check)
            if isinstance(to_write.body, PhotoErased):
                erase(to_write.body.photo)
            return written

        try:
            return _answer(await to_thread.run_sync(act))
        except LogRefusal as refused:
            return refusal(refused)

    return router


def _aside(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    settled = read(command.body, AsideSettled)
    if not settled.reason.strip():
        raise not_complete()
    return ToWrite(settled)


def _described(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """With `seen`, only on top of what its author had before them: two who describe one scope lose nothing."""
    key, seen = command.about.scope, command.seen
    if not isinstance(key, str):
        raise not_complete()

    def check(connection: Connection) -> None:
        if seen is not UNSET and scopes_known(connection, [key])[key].version != seen:
            raise _described_meanwhile()

    return ToWrite(read(command.body, ScopeDescribed), check)


def _custody(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """Only a dispute that is still the one its author looked at: every tip of it is named, and no other."""
    settled = read(command.body, CustodySettled)
    key = command.about.scope
    if not (isinstance(key, str) and settled.reason.strip()):
        raise not_complete()

    def check(connection: Connection) -> None:
        now = custodies(connection, [key])[key]
        if now.state != "disputed" or set(now.tips) != set(settled.over):
            raise _custody_meanwhile()

    return ToWrite(settled, check)


def _retention(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    kept = read(command.body, RetentionSet)
    if not kept.reason.strip():
        raise not_complete()
    return ToWrite(kept)


def _pinned(kind: str, command: Command, log: Log, in_force: InForceOf, ____: str) -> ToWrite:
    """The text is kept in the transaction of the entry that names it."""
    given = read(command.body, PinnedText)
    if not (given.reason.strip() and _holds(given.text, PINNED[kind])):
        raise not_complete()
    policy = _read_policy(given.text) if kind == "policy.set" else None

    def check(connection: Connection) -> None:
        before = in_force(connection, cast(TextOf, kind.removesuffix(".set")))
        if before is not None and given.over is not UNSET and given.over != before.sha256:
            raise _set_meanwhile()
        laxer = made_laxer(read_policy(before.text), policy) if before is not None and policy is not None else []
        if laxer:
            raise _fixed(laxer)
        log.keep_pin(connection, given.text)

    shape: Any = SERVER_KINDS[kind]
    return ToWrite(shape(text_hash(given.text), given.reason), check)


def _read_policy(text: str) -> PolicyText:
    try:
        return read_policy(text)
    except (msgspec.ValidationError, msgspec.DecodeError) as wrong:
        raise not_complete() from wrong


def _holds(given: str, needs: Mapping[str, type]) -> bool:
    try:
        value = msgspec.json.decode(given)
    except msgspec.DecodeError:
        return False
    return isinstance(value, dict) and all(isinstance(value.get(name), shape) for name, shape in needs.items())


Reader = Callable[[str, Command, Log, InForceOf, str], ToWrite]
"""Kind, command, log, texts in force, and the lead who writes."""
READERS: Mapping[str, Reader] = {
    "aside.settled": _aside,
    "scope.described": _described,
    "custody.settled": _custody,
    "retention.set": _retention,
    **PHOTO_READERS,
    **REPAIR_READERS,
    **dict.fromkeys(PINNED, _pinned),
}
BY_HAND = frozenset((*READERS, *SHIFT_KINDS, *HOLD_KINDS))
"""The kinds a lead may write by hand; all other server kinds come from acts of their own."""


def _answer(written: Appended) -> Response:
    body = {"position": written.position, "hash": written.hash}
    return Response(msgspec.json.encode(body), 201, OURS, "application/json")


def _not_a_command() -> Trouble:
    return Trouble(
        404, "not_a_command", "A lead does not write this kind of entry by hand.", NOTHING_CHANGED,
        "Go back to the desk.",
    )  # fmt: skip


def _described_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Somebody else described this scope a moment ago.",
        "Their description stands; yours was not written.", "Look at theirs, then change what is left.",
    )  # fmt: skip


def _custody_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Something else was said of who has this scope a moment ago.",
        "It stands; yours was not written.", "Look at it, then decide.",
    )  # fmt: skip


def _set_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Somebody else changed this table a moment ago.",
        "Their change stands; yours was not written.", "Look at theirs, then change what is left.",
    )  # fmt: skip


def _fixed(rows: Sequence[str]) -> Trouble:
    return Trouble(
        409, "row_is_fixed", f"Nobody makes these rows laxer: {', '.join(rows)}.", NOTHING_CHANGED,
        "Make them stricter, or leave them as they are.",
    )  # fmt: skip
