"""What a file of scopes may name: kinds, parts and channels in force, each with its words in every language. Pure."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loupebook.bulk.columns import PEOPLE
from loupebook.bulk.scopes import scope_columns
from loupebook.bulk.sizes import Anatomy
from loupebook.bulk.template import template_csv, template_xlsx

Language = Mapping[str, Any]
"""The words of one language: key -> sentence."""


@dataclass(frozen=True)
class InForce:
    """Kinds with every name each is known by, ours first, and what they are made of."""

    kinds: Mapping[str, Sequence[str]]
    anatomy: Anatomy

    def template(self, what: str, form: str) -> bytes:
        """The template of `scopes` or `people`, as `csv` or `xlsx`."""
        columns = scope_columns(self.anatomy) if what == "scopes" else PEOPLE
        if form == "csv":
            return template_csv(columns)
        parts = [names[0] for names in self.anatomy.names.values()]
        return template_xlsx(what, columns, [names[0] for names in self.kinds.values()], parts)


def languages_of(folder: Path, first: str) -> list[Language]:
    """The words of every language in a folder, `first` (its tag) before the others by name."""
    paths = sorted(folder.glob("*.json"), key=lambda path: (path.stem != first, path.stem))
    return [json.loads(path.read_text("utf-8")) for path in paths]


def in_force_of(kinds: Mapping[str, Any], languages: Sequence[Language]) -> InForce:
    """From the catalogue's kinds and the languages."""
    channels = {id: [each["id"] for each in kind["channels"]] for id, kind in kinds.items()}
    of_kind = {id: [*(each["id"] for each in kind["parts"]), *channels[id]] for id, kind in kinds.items()}
    anatomy = Anatomy(
        {id: frozenset(parts) for id, parts in of_kind.items()},
        {each: _names(languages, "part", each) for parts in of_kind.values() for each in parts},
        list(dict.fromkeys(each for own in channels.values() for each in own)),
    )
    return InForce({id: _names(languages, "kind", id) for id in kinds}, anatomy)


def _names(languages: Sequence[Language], prefix: str, id: str) -> tuple[str, ...]:
    """Every name of an id, the first language's first; the id itself where there is none."""
    found = (str(words[f"{prefix}.{id}"]) for words in languages if f"{prefix}.{id}" in words)
    return tuple(dict.fromkeys(found)) or (id,)
