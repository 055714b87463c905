"""A lead's commands about photos: hidden, shown again, looked at although hidden, erased; examples."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import msgspec
from sqlalchemy import Connection

from loupebook.command_read import Command, ToWrite, not_complete, read
from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.inspections.tables.erased import asked_of, is_erased
from loupebook.inspections.tables.examples import example_of
from loupebook.inspections.tables.hidden import hides
from loupebook.log.log import Log
from loupebook.log.views import named_photo
from loupebook.record.kinds import (
    ExampleChosen,
    ExampleWithdrawn,
    PhotoErased,
    PhotoErasureAsked,
    PhotoHidden,
    PhotoOpened,
    PhotoShownAgain,
)

if TYPE_CHECKING:
    from loupebook.commands import InForceOf


def _hidden(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """As often as somebody says so: each entry hides it."""
    body = read(command.body, PhotoHidden)
    _about_a_scope(command)

    def check(connection: Connection) -> None:
        if named_photo(connection, body.photo) is None:
            raise _no_photo()

    return ToWrite(body, check)


def _shown_again(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """Ends all that hides it now and nothing else: what the lead did not have before them goes on hiding it."""
    body = read(command.body, PhotoShownAgain)
    _about_a_scope(command)
    _needs(body.reason)

    def check(connection: Connection) -> None:
        if is_erased(connection, body.photo):
            raise _erased_already()
        if hides(connection, body.photo) != set(body.hidden):
            raise _hidden_meanwhile()

    return ToWrite(body, check)


def _opened(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    body = read(command.body, PhotoOpened)
    _about_a_scope(command)
    _needs(body.reason)

    def check(connection: Connection) -> None:
        if is_erased(connection, body.photo):
            raise _erased_already()
        if not hides(connection, body.photo):
            raise _not_hidden()

    return ToWrite(body, check)


def _erasure_asked(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    """Only of a photo that is hidden, and once: nobody may see it while two leads make up their minds."""
    body = read(command.body, PhotoErasureAsked)
    _about_a_scope(command)
    _needs(body.reason)

    def check(connection: Connection) -> None:
        if is_erased(connection, body.photo):
            raise _erased_already()
        if not hides(connection, body.photo):
            raise _hide_first()
        if asked_of(connection, body.photo):
            raise _asked_already()

    return ToWrite(body, check)


def _erased(_: str, command: Command, __: Log, ___: InForceOf, lead: str) -> ToWrite:
    """Only what another lead asked for, and what stands as it was asked."""
    body = read(command.body, PhotoErased)
    _about_a_scope(command)

    def check(connection: Connection) -> None:
        if is_erased(connection, body.photo):
            raise _erased_already()
        asked = {each.version: each.person for each in asked_of(connection, body.photo)}
        if body.asked not in asked:
            raise _hidden_meanwhile()
        if asked[body.asked] == lead:
            raise _another_lead()

    return ToWrite(body, check)


def _example(_: str, command: Command, __: Log, in_force: InForceOf, ____: str) -> ToWrite:
    """Only a photo whose bytes are here and that nobody hid, for a finding and grade the catalogue in force has."""
    body = read(command.body, ExampleChosen)
    _about_a_scope(command)

    def check(connection: Connection) -> None:
        photo = named_photo(connection, body.photo)
        if photo is None or not photo.stored:
            raise _no_photo()
        if hides(connection, body.photo):
            raise _example_hidden()
        found = in_force(connection, "catalogue")
        findings = msgspec.json.decode(found.text)["findings"] if found is not None else {}
        graded = findings.get(body.finding, {}).get("grades")
        if graded is None or graded is (body.grade == "present"):
            raise _no_such_grade()

    return ToWrite(body, check)


def _example_withdrawn(_: str, command: Command, __: Log, ___: InForceOf, ____: str) -> ToWrite:
    body = read(command.body, ExampleWithdrawn)
    _needs(body.reason)

    def check(connection: Connection) -> None:
        if example_of(connection, body.example) is None:
            raise _no_example()

    return ToWrite(body, check)


def _about_a_scope(command: Command) -> None:
    if not isinstance(command.about.scope, str):
        raise not_complete()


def _needs(reason: str) -> None:
    if not reason.strip():
        raise not_complete()


PHOTO_READERS: Mapping[str, Callable[[str, Command, Log, InForceOf, str], ToWrite]] = {
    "photo.hidden": _hidden,
    "photo.shown_again": _shown_again,
    "photo.opened": _opened,
    "photo.erasure_asked": _erasure_asked,
    "photo.erased": _erased,
    "example.chosen": _example,
    "example.withdrawn": _example_withdrawn,
}


def _no_photo() -> Trouble:
    return Trouble(
        409, "no_photo", "The server does not have this photo.", NOTHING_CHANGED,
        "Wait until the tablet that took it has sent it.",
    )  # fmt: skip


def _hidden_meanwhile() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Somebody else hid this photo, or showed it again, a moment ago.", NOTHING_CHANGED,
        "Look at it again, then say what is to be.",
    )  # fmt: skip


def _not_hidden() -> Trouble:
    return Trouble(
        409, "not_hidden", "This photo is not hidden.", NOTHING_CHANGED, "Open it as any other.",
    )  # fmt: skip


def _example_hidden() -> Trouble:
    return Trouble(
        409, "restricted", "This photo is hidden: it may show a person or patient data.", NOTHING_CHANGED,
        "Choose another one.",
    )  # fmt: skip


def _no_such_grade() -> Trouble:
    return Trouble(
        409, "no_such_grade", "The catalogue has no such finding, or not in this grade.", NOTHING_CHANGED,
        "Choose a finding and a grade from the list.",
    )  # fmt: skip


def _no_example() -> Trouble:
    return Trouble(
        409, "no_example", "There is no such example any more.", NOTHING_CHANGED, "Look at the list again.",
    )  # fmt: skip


def _hide_first() -> Trouble:
    return Trouble(
        409, "not_hidden", "This photo is not hidden.", NOTHING_CHANGED, "Hide it first, then ask for it to be erased.",
    )  # fmt: skip


def _asked_already() -> Trouble:
    return Trouble(
        409, "changed_meanwhile", "Somebody asked for this already.", NOTHING_CHANGED,
        "Another lead agrees to it, or shows the photo again.",
    )  # fmt: skip


def _another_lead() -> Trouble:
    return Trouble(
        409, "another_lead", "You asked for this yourself: it takes a second lead.", "Nothing was erased.",
        "Ask another lead to look at it.",
    )  # fmt: skip


def _erased_already() -> Trouble:
    return Trouble(
        409, "erased", "Two leads had this photo erased.", "The entry that names it stays.", "Look at the page again.",
    )  # fmt: skip
