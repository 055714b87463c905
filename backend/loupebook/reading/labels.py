"""Labels of our own: what stands on each, for scopes without a readable mark, tools, badges of people, shelf places."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from sqlalchemy import Connection

from loupebook.reading.port import Sources
from loupebook.rules.codes_own import LONGEST, encoded
from loupebook.scopes.tables.known import ScopeKnown, scopes_known
from loupebook.tools.tables import tools_known

What = Literal["scope", "tool", "person", "place"]
LETTERS: Mapping[What, str] = {"scope": "S", "tool": "T", "person": "P", "place": "L"}
T = TypeVar("T")
MOST = 120
"""Labels of one print: what a browser's address holds, and eight sheets of A4."""


@dataclass(frozen=True)
class Labelled:
    """One label: `text` is what its code says, `name` stands largest, `note` under it (may be empty)."""

    what: What
    text: str
    name: str
    note: str


class NoLabel(RuntimeError):
    """One of what was named is not on record, or its label would not fit the form; `of` says which."""

    def __init__(self, of: str) -> None:
        super().__init__(of)
        self.of = of


def labelled(connection: Connection, sources: Sources, what: What, of: Sequence[str]) -> list[Labelled]:
    """The labels asked for, in that order. Places need not be on record: a shelf is where a label says it is.

    Raises NoLabel.
    """
    return _OF[what](connection, sources, of)


def _scopes(connection: Connection, _: Sources, of: Sequence[str]) -> list[Labelled]:
    known = scopes_known(connection, of)
    return [_scope(known[key]) for key in of]


def _scope(scope: ScopeKnown) -> Labelled:
    """By its key, which stays when a tag moves; by its tag where the key has letters that not every reader gives."""
    if scope.on_record == "unknown":
        raise NoLabel(scope.key)
    value = next((each for each in (scope.key, scope.tag) if each and _fits(each)), None)
    if value is None:
        raise NoLabel(scope.tag or scope.serial or scope.key)
    serial = "" if scope.serial is None else f"SN {scope.serial}"
    return Labelled("scope", f"LB1:S:{value}", scope.tag or scope.serial or scope.key, serial if scope.tag else "")


def _tools(connection: Connection, _: Sources, of: Sequence[str]) -> list[Labelled]:
    known = {tool.tool: tool for tool in tools_known(connection)}
    return [Labelled("tool", f"LB1:T:{_asked(known, each).tool}", each, known[each].what) for each in of]


def _people(connection: Connection, sources: Sources, of: Sequence[str]) -> list[Labelled]:
    known = {person.id: person for person in sources.people(connection)}
    return [Labelled("person", f"LB1:P:{_asked(known, each).id}", known[each].name, "") for each in of]


def _places(_: Connection, sources: Sources, of: Sequence[str]) -> list[Labelled]:
    named = [each.strip() for each in of]
    for each in named:
        if not each or len(encoded(each)) > LONGEST:
            raise NoLabel(each)
    return [Labelled("place", f"LB1:L:{encoded(each)}", each, "") for each in named]


def _asked(known: Mapping[str, T], each: str) -> T:
    if each not in known:
        raise NoLabel(each)
    return known[each]


def _fits(value: str) -> bool:
    return len(value) <= LONGEST and all(" " <= sign <= "~" for sign in value)


_OF: Mapping[What, Callable[[Connection, Sources, Sequence[str]], list[Labelled]]] = {
    "scope": _scopes, "tool": _tools, "person": _people, "place": _places,
}  # fmt: skip
