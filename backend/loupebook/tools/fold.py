"""Entries about tools as rows. Their acts are written by the folds of scopes, which run before."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import UNSET, Struct

from loupebook.log.port import Change, Counted, Fold, Value
from loupebook.record.kinds import About, EntryCorrected, ToolProcessed, ToolRegistered
from loupebook.scopes.tables.values import given, listed, when_ms
from loupebook.tools.tables import ADD_PROCESSING, ADD_TOOL, CORRECT_PROCESSING, CORRECT_TOOL

Row = dict[str, Value]


def _tool(about: About) -> str:
    return "" if about.tool is UNSET else str(about.tool)


def _row(counted: Counted, body: Struct) -> Row:
    own: Row = {"version": counted.hash, "tool": _tool(counted.entry.about)}
    if isinstance(body, ToolRegistered):
        sizes: Row = {"width_um": given(body.width_um), "length_mm": given(body.length_mm)}
        return own | sizes | {"what": body.what, "place": body.place, "codes": listed(body.codes)}
    assert isinstance(body, ToolProcessed)
    return own | {"place": body.place}


def registered(counted: Counted) -> Iterable[Change]:
    yield Change(ADD_TOOL, _row(counted, counted.body) | {"when_ms": when_ms(counted.entry)})


def processed(counted: Counted) -> Iterable[Change]:
    yield Change(ADD_PROCESSING, _row(counted, counted.body) | {"when_ms": when_ms(counted.entry)})


def corrected(counted: Counted) -> Iterable[Change]:
    """The rows of a corrected body; its tool and its moment are those of the entry it corrects."""
    assert isinstance(counted.body, EntryCorrected)
    body = counted.target.body if counted.target else None
    of: Row = {"of": counted.body.entry}
    if isinstance(body, ToolRegistered):
        yield Change(CORRECT_TOOL, _row(counted, body) | of)
    elif isinstance(body, ToolProcessed):
        yield Change(CORRECT_PROCESSING, _row(counted, body) | of)


FOLDS: dict[str, Fold] = {"tool.registered": registered, "tool.processed": processed, "entry.corrected": corrected}
"""To be run after those of scopes."""
