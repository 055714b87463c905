"""How a lead's command is read: its shape, what it becomes, and the refusal of one that is not complete."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import msgspec
from msgspec import UNSET, Struct, UnsetType

from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.log.server_chain import Body, Check
from loupebook.record.kinds import About

T = TypeVar("T")


class Command(Struct, frozen=True):
    """What is posted. `body` is read by its kind's own struct.

    `seen` is the entry a description builds on: the one its author had before them, or nothing for a first one.
    """

    body: msgspec.Raw
    about: About = About()
    seen: str | UnsetType | None = UNSET


@dataclass(frozen=True)
class ToWrite:
    """An entry to be, or what finds it in its transaction, and what is done first there."""

    body: Body
    check: Check | None = None


def read(raw: bytes | msgspec.Raw, shape: type[T]) -> T:
    """What was posted as its shape; Trouble `bad_body` where it is not."""
    try:
        return msgspec.json.decode(raw, type=shape)
    except (msgspec.ValidationError, msgspec.DecodeError) as wrong:
        raise not_complete() from wrong


def not_complete() -> Trouble:
    return Trouble(
        422, "bad_body", "This is not complete, or not what this kind of entry holds.", NOTHING_CHANGED,
        "Fill in what is missing and try again.",
    )  # fmt: skip
