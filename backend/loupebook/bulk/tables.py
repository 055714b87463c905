"""What bulk keeps of its own: which plans were written, so that one sent twice is written once."""

from __future__ import annotations

from sqlmodel import Field, SQLModel


class Brought(SQLModel, table=True):
    """A plan that was written, and what was answered then. Outside the log: the entries are the record."""

    __tablename__ = "brought"
    plan: str = Field(primary_key=True)
    what: str
    person: str
    at_ms: int
    written: int
    people: str
    """Ids of the people who were added, as JSON, in the plan's order."""


KEPT: tuple[type[SQLModel], ...] = (Brought,)
