"""A data folder of an earlier version is brought up at start: a copy first, then what is kept, then what is folded.

Entries, verdicts and photos are never changed by it. Tables that folds write are made anew from them; tables that are
kept outside the log only ever get further columns, empty in the rows that are there.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Column, Engine, Table, inspect

from loupebook.log.backup import DATABASE, copy_database
from loupebook.log.port import Folds
from loupebook.log.rebuild import rebuild
from loupebook.log.tables import entries

log = logging.getLogger(__name__)

BEFORE = "before-upgrade"
"""Folder in the data folder: a copy of the database as each version that changed its shape found it."""


class CannotBeBroughtUp(Exception):
    """A kept table lacks a column that cannot be empty. The text says what is so, what is safe and what to do next."""


@dataclass(frozen=True)
class Differences:
    """What an earlier version left otherwise: columns that kept tables lack, and folded tables of another shape."""

    lacking: tuple[tuple[Table, Column[object]], ...]
    folded: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.lacking or self.folded)


def differences(engine: Engine, kept: Sequence[Table], folded: Sequence[Table]) -> Differences:
    """How the database differs from what this version wants; nothing where there is no record in it yet."""
    found = inspect(engine)
    here = set(found.get_table_names())
    if entries.name not in here:
        return Differences((), ())
    columns = {name: {each["name"] for each in found.get_columns(name)} for name in here}
    indexes = {name: {str(each["name"]) for each in found.get_indexes(name)} for name in here}
    lacking = [
        (table, column)
        for table in kept
        if table.name in here
        for column in table.columns
        if column.name not in columns[table.name]
    ]
    changed = [
        table.name
        for table in folded
        if table.name not in here
        or columns[table.name] != {column.name for column in table.columns}
        or indexes[table.name] != {str(index.name) for index in table.indexes}
    ]
    return Differences(tuple(lacking), tuple(changed))


def bring_up(engine: Engine, folder: Path, folds: Folds, kept: Sequence[Table], folded: Sequence[Table]) -> Path | None:
    """Brings the database of a folder up to this version; where its copy of before lies, or None where all fits.

    Nobody else may be using the folder. Raises CannotBeBroughtUp before anything is changed, or what the disk says
    while the copy is made.
    """
    found = differences(engine, kept, folded)
    if not found:
        return None
    for table, column in found.lacking:
        if not column.nullable:
            raise CannotBeBroughtUp(
                f"{folder} was left by a version whose {table.name} has no {column.name}; this one cannot read it. "
                "Nothing was changed. Start it with the version in between first."
            )
    copy = _copy(folder)
    log.warning("the record is of an earlier version; a copy of it lies in %s", copy)
    with engine.begin() as connection:
        for table, column in found.lacking:
            kind = column.type.compile(engine.dialect)
            connection.exec_driver_sql(f'ALTER TABLE "{table.name}" ADD COLUMN "{column.name}" {kind}')
    if found.folded:
        log.warning("tables made anew from the entries: %s", ", ".join(found.folded))
        rebuild(engine, folds, folded)
    return copy


def _copy(folder: Path) -> Path:
    """A whole copy of the database under a name of its own."""
    at = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    number = 0
    while (copy := folder / BEFORE / f"{at}-{number}" / DATABASE).parent.exists():
        number += 1
    copy.parent.mkdir(parents=True)
    copy_database(folder / DATABASE, copy)
    return copy
