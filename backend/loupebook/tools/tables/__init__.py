"""Tables of tools: what a borescope is, and when it was processed. When it was used stands in the runs themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Connection, Index, text
from sqlmodel import Field, SQLModel

from loupebook.log.asking import ask_by_name
from loupebook.log.declared import KEYED, insert_again, insert_all, table_of


class ToolRecord(SQLModel, table=True):
    """What one entry says a tool is. The newest that stands counts; of the same moment the one of the later hash."""

    __tablename__ = "tool_records"
    version: str = Field(primary_key=True)
    tool: str
    when_ms: int
    what: str
    place: str
    width_um: int | None = None
    length_mm: int | None = None
    codes: str
    __table_args__ = (Index("tool_records_newest", "tool", "when_ms"), KEYED)


class ToolProcessing(SQLModel, table=True):
    """A tool cleaned and disinfected after use."""

    __tablename__ = "tool_processings"
    version: str = Field(primary_key=True)
    tool: str
    when_ms: int
    place: str
    __table_args__ = (Index("tool_processings_newest", "tool", "when_ms"), KEYED)


FOLDED: tuple[type[SQLModel], ...] = (ToolRecord, ToolProcessing)

_records, _processings = table_of(ToolRecord), table_of(ToolProcessing)
ADD_TOOL, ADD_PROCESSING = insert_all(_records), insert_all(_processings)
CORRECT_TOOL, CORRECT_PROCESSING = (insert_again(each, ("tool", "when_ms")) for each in (_records, _processings))


@dataclass(frozen=True)
class ToolKnown:
    """A tool as it is known: sizes in micrometres and millimetres, and when it was last used and processed, ms UTC."""

    tool: str
    what: str
    place: str
    width_um: int | None
    length_mm: int | None
    codes: tuple[str, ...]
    used_ms: int | None
    processed_ms: int | None


_STANDS = "a.replaced_by IS NULL AND a.withdrawn_by IS NULL"


def _newest(table: str, column: str) -> str:
    """The newest moment in a table that names the tool and stands: a step from the end of an index."""
    return (
        f"(SELECT n.when_ms FROM {table} n JOIN acts a ON a.version = n.version "
        f"WHERE n.{column} = tool_ids.tool AND {_STANDS} ORDER BY n.when_ms DESC LIMIT 1)"
    )


KNOWN = text(
    "SELECT d.tool, d.what, d.place, d.width_um, d.length_mm, d.codes, "
    + _newest("channel_runs", "borescope")
    + " AS used_ms, "
    + _newest("tool_processings", "tool")
    + " AS processed_ms FROM (SELECT DISTINCT tool FROM tool_records) tool_ids JOIN tool_records d ON d.version = "
    "(SELECT r.version FROM tool_records r JOIN acts a ON a.version = r.version "
    f"WHERE r.tool = tool_ids.tool AND {_STANDS} ORDER BY r.when_ms DESC, r.version DESC LIMIT 1) ORDER BY d.tool"
)


def tools_known(connection: Connection) -> list[ToolKnown]:
    """Every tool on record, by its id."""
    return [_known(row) for row in ask_by_name(connection, KNOWN)]


def _known(row: Mapping[Any, Any]) -> ToolKnown:
    codes = tuple(msgspec.json.decode(str(row["codes"]), type=list[str]))
    return msgspec.convert({**row, "codes": codes}, ToolKnown)
