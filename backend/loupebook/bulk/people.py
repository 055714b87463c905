"""People in a file: name and what each does here. No PIN has a place in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loupebook.bulk.columns import NO_PLACE, PEOPLE, Columns, bare, find_columns
from loupebook.bulk.fates import Fate, Plan, Refused, Remark, Write
from loupebook.bulk.sheet import Line, Sheet, refused
from loupebook.door.rights import ROLES, Role
from loupebook.record.kinds import PersonAdded

LONGEST_NAME = 100
TO_BE = ""
"""The id of a person who is not there yet: it is drawn when they are written."""


@dataclass(frozen=True)
class PersonOnRecord:
    """Somebody who is here already."""

    person: str
    name: str
    roles: tuple[Role, ...]
    active: bool


def plan_people(sheet: Sheet, here: Mapping[str, PersonOnRecord]) -> tuple[Columns, Plan]:
    """Every row's fate. `here`: people by their name as it is compared. A file never changes who is here already."""
    columns = find_columns(sheet, PEOPLE, (("name",), ("roles",)))
    if any(bare(name) in NO_PLACE for name, _ in columns.named):
        raise refused(
            "has_pins", "This file has a column of PINs.",
            "Take that column out and choose the file again: everybody sets their own PIN with a code.",
        )  # fmt: skip
    fates: list[Fate] = []
    writes: list[Write] = []
    rows: dict[str, int] = {}
    for line in columns.lines:
        name = " ".join(columns.text(line, "name").split())
        try:
            roles = _roles(columns, line)
            _name(name)
        except Refused as why:
            fates.append(Fate(line.n, name, "refused", reason=why.remark))
            continue
        same = compared(name)
        if same in rows:
            fates.append(Fate(line.n, name, "duplicate", of=rows[same]))
            continue
        rows[same] = line.n
        if (known := here.get(same)) is not None:
            fates.append(_here_already(line, name, roles, known))
            continue
        fates.append(Fate(line.n, name, "new", kind=" ".join(roles)))
        writes.append(Write(name, PersonAdded(TO_BE, list(roles)), ""))
    return columns, Plan("people", fates, writes)


def compared(name: str) -> str:
    """A name as two writings of it are held to be one person's."""
    return " ".join(name.casefold().split())


def _name(name: str) -> None:
    if not any(each.isalpha() for each in name):
        raise Refused("name_missing")
    if len(name) > LONGEST_NAME:
        raise Refused("name_too_long")


def _roles(columns: Columns, line: Line) -> tuple[Role, ...]:
    """The roles a cell names, parted by anything that is no letter, in the closed list's order."""
    text = columns.text(line, "roles")
    words = "".join(each if each.isalpha() else " " for each in text).casefold().split()
    words = [word for word in words if word not in ("and", "und", "et")]
    if not words:
        raise Refused("roles_missing")
    for word in words:
        if word not in ROLES:
            raise Refused("role_unknown", word=text[:100])
    return tuple(role for role in ROLES if role in words)


def _here_already(line: Line, name: str, roles: tuple[Role, ...], known: PersonOnRecord) -> Fate:
    notes = [] if known.active else [Remark("person_off")]
    if known.active and roles != known.roles:
        notes.append(Remark("roles_differ", found=" ".join(roles), expected=" ".join(known.roles)))
    return Fate(line.n, name, "same", key=known.person, notes=notes)
