"""How long the facility means to keep its record: each word a lead said of it, and who, when and why."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, text
from sqlmodel import Field, SQLModel

from loupebook.log.asking import ask, ask_value
from loupebook.log.declared import KEYED, insert_all, table_of


class RetentionWord(SQLModel, table=True):
    """One limit; the newest by `seq` counts. No years: without end."""

    __tablename__ = "retention_words"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    seq: int = Field(index=True)
    years: int | None = None
    reason: str


ADD_RETENTION = insert_all(table_of(RetentionWord))
WORDS = text(
    "SELECT d.years, d.reason, a.person, a.at FROM retention_words d JOIN acts a ON a.version = d.version "
    "ORDER BY d.seq DESC LIMIT :most"
)
OLDEST = text("SELECT min(received_at) FROM log_entries WHERE position = (SELECT min(position) FROM log_entries)")


@dataclass(frozen=True)
class Limit:
    """What was said, by whom, when (RFC 3339) and why."""

    years: int | None
    reason: str
    person: str
    at: str


def limits(connection: Connection, most: int = 50) -> list[Limit]:
    """What was ever said of it, the newest first; nothing said: kept without end."""
    return [Limit(*row) for row in ask(connection, WORDS, {"most": most})]


def oldest(connection: Connection) -> str | None:
    """When the first entry of the record came."""
    found = ask_value(connection, OLDEST)
    return None if found is None else str(found)
