"""A lead decides a hold, brings it before others and writes down what came back, and asks people for their own work."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, cast

from msgspec import UNSET, Struct
from msgspec.structs import replace
from sqlalchemy import Connection

from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.log.log import Log
from loupebook.reading.hold import author_of, finding_seen, fixed_of, hold_of, inspection_of
from loupebook.reading.port import Sources
from loupebook.record.kinds import FirstSaid, Grade, HoldAdvised, HoldDecided, HoldEscalated, WorkAsked, WorkDropped
from loupebook.scopes.tables.asked import asked_of, asked_one, confirmed_of, said_of, unanswered, unconfirmed

if TYPE_CHECKING:
    from loupebook.commands import InForceOf

Reader = Callable[[str, Command, Log, "InForceOf", str], ToWrite]
HOLD_KINDS = frozenset(("hold.decided", "hold.escalated", "hold.advised", "work.asked", "work.dropped"))


def hold_readers(sources: Sources) -> Mapping[str, Reader]:
    """The readers of `HOLD_KINDS`."""

    def asked(_: str, command: Command, __: Log, ___: InForceOf, lead: str) -> ToWrite:
        """Of somebody who works here and never of the lead themself; what it is about, the server looks up."""
        wish = read(command.body, WorkAsked)
        if not wish.reason.strip() or not isinstance(command.about.scope, str):
            raise not_complete()

        def body(connection: Connection) -> Struct:
            _somebody_here(connection, sources, wish)
            by_lead = replace(wish, photos=[], not_by=[], first=UNSET, drawn=UNSET)
            if wish.what == "second_opinion":
                return _blind(connection, sources, by_lead)
            return replace(by_lead, to=_whose(connection, wish))

        return ToWrite(body)

    return {
        "hold.decided": _decided,
        "hold.escalated": _escalated,
        "hold.advised": _advised,
        "work.asked": asked,
        "work.dropped": _dropped,
    }


def _decided(_: str, command: Command, log: Log, __: InForceOf, ____: str) -> ToWrite:
    """Only a hold that is there can be decided, and nobody lets go what no policy row lets anybody let go.

    What was said by phone is named, all of it and nothing else: a lead decides with it before them.
    """
    decided = read(command.body, HoldDecided)
    if not decided.reason.strip():
        raise not_complete()

    def check(connection: Connection) -> None:
        held = hold_of(connection, decided.hold)
        if held is None:
            raise _no_hold()
        said = said_of(connection, [decided.hold])[decided.hold]
        open_words = {each.entry for each in unconfirmed(said, confirmed_of(connection, [decided.hold])[decided.hold])}
        if set(decided.over) != open_words:
            raise _said_meanwhile()
        one = inspection_of(connection, held) if decided.goes == "on" else None
        fixed = fixed_of(connection, log.pins, one) if one else []
        if fixed:
            raise _nobody_may(fixed)

    return ToWrite(decided, check)


def _escalated(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    given = read(command.body, HoldEscalated)
    if not given.words.strip() or len(set(given.to)) != len(given.to):
        raise not_complete()

    def check(connection: Connection) -> None:
        if hold_of(connection, given.hold) is None:
            raise _no_hold()

    return ToWrite(given, check)


def _advised(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """Only of what was asked and nobody answered yet."""
    given = read(command.body, HoldAdvised)
    if not (given.words.strip() and given.by.strip()):
        raise not_complete()

    def check(connection: Connection) -> None:
        if hold_of(connection, given.hold) is None:
            raise _no_hold()
        waits = {each.entry for each in unanswered(said_of(connection, [given.hold])[given.hold])}
        if not set(given.over) <= waits:
            raise _said_meanwhile()

    return ToWrite(given, check)


def _dropped(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    given = read(command.body, WorkDropped)
    if not given.reason.strip():
        raise not_complete()

    def check(connection: Connection) -> None:
        found = asked_one(connection, given.asked)
        if found is None or not found.open:
            raise _said_meanwhile()

    return ToWrite(given, check)


def _somebody_here(connection: Connection, sources: Sources, wish: WorkAsked) -> None:
    looks = {each.id for each in sources.people(connection) if {"technician", "lead", "deputy"} & set(each.roles)}
    if isinstance(wish.to, str) and wish.to not in looks:
        raise _nobody_such()


def _whose(connection: Connection, wish: WorkAsked) -> str | object:
    """An entry is corrected by its author alone; a look may be anybody's."""
    author = author_of(connection, wish.of)
    if author is None:
        raise _no_hold()
    return author if wish.what == "correct" else wish.to


def _blind(connection: Connection, sources: Sources, wish: WorkAsked) -> WorkAsked:
    """With the photos of a finding and without a word of it, where the policy has second opinions on."""
    policy = sources.policy(connection) or {}
    if not policy.get("second_opinion", {}).get("on"):
        raise _not_on()
    seen = finding_seen(connection, wish.of)
    if seen is None:
        raise _no_hold()
    here = sources.photos_here(connection, seen.photos)
    photos = [each for each in seen.photos if each in here]
    if not photos:
        raise _no_photo()
    if wish.to == seen.person:
        raise _the_same()
    if any(each.what == "second_opinion" and each.open for each in asked_of(connection, [wish.of])):
        raise _said_meanwhile()
    first = [FirstSaid(seen.finding, cast(Grade, seen.grade))]
    return replace(wish, parts=[seen.part], photos=photos[:40], not_by=[seen.person], first=first)


def _nobody_may(rows: list[str]) -> Trouble:
    return Trouble(
        409, "nobody_may", f"Nobody lets this scope go on: the policy has a row for that ({', '.join(rows)}).",
        NOTHING_CHANGED, "Have the same part looked at, or the same test done, again; then decide.",
    )  # fmt: skip


def _no_hold() -> Trouble:
    return Trouble(
        409, "no_hold", "There is no such hold here.", NOTHING_CHANGED, "Look at the list again.",
    )  # fmt: skip


def _said_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Something else was said of this hold a moment ago.",
        "It stands; yours was not written.", "Look at it, then decide.",
    )  # fmt: skip


def _nobody_such() -> Trouble:
    return Trouble(
        409, "nobody_such", "Nobody of that name looks at scopes here.", NOTHING_CHANGED, "Choose somebody else.",
    )  # fmt: skip


def _not_on() -> Trouble:
    return Trouble(
        409, "not_on", "Second opinions are off in this facility's policy.", NOTHING_CHANGED,
        "Switch them on in the policy first; its reason is kept.",
    )  # fmt: skip


def _no_photo() -> Trouble:
    return Trouble(
        409, "no_photo", "There is no photo of this finding that may be shown.", NOTHING_CHANGED,
        "Ask for the part to be looked at again.",
    )  # fmt: skip


def _the_same() -> Trouble:
    return Trouble(
        409, "the_same", "Whoever said it first gives no second opinion on it.", NOTHING_CHANGED,
        "Ask somebody else, or leave it to whoever comes to it.",
    )  # fmt: skip
