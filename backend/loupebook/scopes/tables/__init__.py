"""Tables of scopes, of who did what to one (acts), and of holds. Rows are keyed by the hash that wrote them.

An *act* is one counted entry about a scope: who, when, how proved, on which chain. What was seen or
decided stands in a detail table under the same `version`. A correction is a further version of the
same entry; taking back and replacing are written on the act alone, so a view reads what stands by
`replaced_by IS NULL AND withdrawn_by IS NULL`. `changed` is a log position; it and `received_at` are
the only columns that depend on the order of arrival.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Index, Select, Table, bindparam, case, insert, or_, select, text, update
from sqlalchemy.dialects.sqlite import insert as upsert
from sqlmodel import Field, SQLModel

from loupebook.log.declared import KEYED, insert_all, table_of
from loupebook.log.port import Statement
from loupebook.scopes.tables.asked import FOLDED as ASKED_TABLES
from loupebook.scopes.tables.retention import RetentionWord


class Act(SQLModel, table=True):
    """One counted entry of a station, or of a lead about a scope. `begun` and `scope` are '' where none is named."""

    __tablename__ = "acts"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    entry: str
    kind: str
    chain: str
    seq: int
    begun: str
    scope: str
    person: str
    how: str
    proved: str
    """Where, as the entry claims: online or offline. An online proof names a `ticket` of the door."""
    ticket: str | None = None
    build: str
    at: str
    when_ms: int
    """`at` in ms UTC since 1970, less what the station knew its clock to be ahead."""
    clock_off_ms: int | None = None
    builds_on: str | None = None
    received_at: str
    changed: int
    replaced_by: str | None = None
    withdrawn_by: str | None = None


class ScopeRecord(SQLModel, table=True):
    """What one entry says a scope is: `described` by the facility, or `registered` at a sink before that."""

    __tablename__ = "scope_records"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    scope: str = Field(index=True)
    source: str
    chain: str
    seq: int
    scope_kind: str
    serial: str
    di: str | None = None
    maker: str | None = None
    model: str | None = None
    tag: str | None = None
    none_here: str
    tube_mm: int | None = None
    tube_um: int | None = None
    serial_where: str | None = None
    serial_low: str = Field(index=True)
    tag_low: str = Field(index=True)


class ScopeSizes(SQLModel, table=True):
    """The channels of a description and the instructions they were read from, each as JSON; only where it has any."""

    __tablename__ = "scope_sizes"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    channels: str
    instructions: str | None = None


class ScopeCode(SQLModel, table=True):
    """A code that leads to a scope: its tag and whatever else it carries. Movable, so it proves no more than that."""

    __tablename__ = "scope_codes"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    code: str = Field(primary_key=True, index=True)
    scope: str = Field(index=True)


class ScopeTouched(SQLModel, table=True):
    """The newest position at which anything about a scope changed."""

    __tablename__ = "scope_touched"
    __table_args__ = KEYED
    scope: str = Field(primary_key=True)
    changed: int = Field(index=True)


class ScopeSeen(SQLModel, table=True):
    """When a scope was last inspected at a place (the first word of the shift's name)."""

    __tablename__ = "scope_seen"
    place: str = Field(primary_key=True)
    scope: str = Field(primary_key=True)
    seen_ms: int
    __table_args__ = (Index("scope_seen_newest", "place", "seen_ms"), KEYED)


class ScopeStep(SQLModel, table=True):
    """A scope received, processed, hung or taken out: one scan and a place. `of_step`: the receipt it adds to."""

    __tablename__ = "scope_steps"
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    step: str
    place: str
    procedure_end: str | None = None
    pre_clean: str | None = None
    cleaning_begun: str | None = None
    of_step: str | None = None
    machine: str | None = None
    cycle: str | None = None
    __table_args__ = (
        Index("scope_steps_newest", "scope", "when_ms"),
        Index("scope_steps_at", "place", "when_ms"),
        KEYED,
    )


class Hold(SQLModel, table=True):
    """Why a scope must wait for a lead. `cause`: placed, concluded, laxer (asked for), serial. Under its own version.

    `decided` is what the last decision says of it; `standing` is 0 once that is `on`.
    """

    __tablename__ = "holds"
    __table_args__ = KEYED
    version: str = Field(primary_key=True)
    scope: str
    begun: str
    cause: str
    goes: str
    reason: str | None = None
    tag_on: int | None = None
    note: str | None = None
    decided: str | None = None
    standing: int


class HoldDecision(SQLModel, table=True):
    """A lead's decision on a hold, all on the server's one chain, so the last by `seq` is the one that counts."""

    __tablename__ = "hold_decisions"
    version: str = Field(primary_key=True)
    hold: str
    seq: int
    goes: str
    first: str
    reason: str
    over: str
    """The words by phone that it confirms or decides otherwise, as JSON."""
    __table_args__ = (Index("hold_decisions_last", "hold", "seq"), KEYED)


acts = table_of(Act)
_records, _codes, _seen, _touched = (table_of(m) for m in (ScopeRecord, ScopeCode, ScopeSeen, ScopeTouched))
_sizes = table_of(ScopeSizes)
_steps, holds, _decisions = (table_of(m) for m in (ScopeStep, Hold, HoldDecision))

for _name, _column, _where in (
    ("acts_clock_off", "begun", "clock_off_ms IS NOT NULL"),
    ("acts_versions", "entry", "entry <> version"),
    ("acts_corrected", "begun", "entry <> version"),
    ("acts_taken_back", "begun", "withdrawn_by IS NOT NULL"),
):
    Index(_name, acts.c[_column], sqlite_where=text(_where), postgresql_where=text(_where))
Index("acts_changed", acts.c.changed)
Index("holds_standing", holds.c.scope, sqlite_where=text("standing = 1"), postgresql_where=text("standing = 1"))
Index("holds_begun", holds.c.begun)
Index("holds_outside", holds.c.scope, sqlite_where=text("begun = ''"), postgresql_where=text("begun = ''"))
_BEGUN = text("kind = 'inspection.begun'")
Index("acts_begun_by", acts.c.person, acts.c.when_ms, sqlite_where=_BEGUN, postgresql_where=_BEGUN)

FOLDED: tuple[type[SQLModel], ...] = (
    Act, ScopeRecord, ScopeSizes, ScopeCode, ScopeTouched, ScopeSeen, ScopeStep, Hold, HoldDecision, *ASKED_TABLES,
    RetentionWord,
)  # fmt: skip


def insert_version(table: Table, taken: Iterable[str]) -> Statement:
    """The same for a correction of entry `of`: the columns `taken` are those of its act, the rest is given."""
    from_act = set(taken)
    values = [acts.c[c.name] if c.name in from_act else bindparam(c.name, type_=c.type) for c in table.c]
    row = select(*values).where(acts.c.version == bindparam("of"))
    return Statement(insert(table).from_select([c.name for c in table.c], row))


ADD_ACT = insert_all(acts, ("replaced_by", "withdrawn_by"))

_old = acts.alias("old")
_own = ("version", "chain", "seq", "person", "how", "proved", "ticket", "build", "at", "clock_off_ms", "builds_on",
        "received_at", "changed")  # fmt: skip
_kept = ("entry", "kind", "begun", "scope", "when_ms")
ADD_CORRECTED_ACT = Statement(
    insert(acts).from_select(
        [*_own, *_kept],
        select(
            *[bindparam(n, type_=acts.c[n].type) for n in _own],
            *[_old.c[n] for n in _kept],
        ).where(_old.c.version == bindparam("of")),
    )
)
"""A correction stands under the kind, the inspection, the scope and the moment of what it corrects."""

_of_entry = or_(
    acts.c.version == bindparam("of"), (acts.c.entry == bindparam("of")) & text("acts.entry <> acts.version")
)
REPLACE_ACT = Statement(
    update(acts)
    .where(_of_entry, acts.c.replaced_by.is_(None), acts.c.version != bindparam("by"))
    .values(replaced_by=bindparam("by"))
)
WITHDRAW_ACT = Statement(
    update(acts).where(_of_entry, acts.c.withdrawn_by.is_(None)).values(withdrawn_by=bindparam("by"))
)

ADD_RECORD = insert_all(_records)
ADD_SIZES = insert_all(_sizes)
ADD_CODE = insert_all(_codes)
ADD_STEP = insert_all(_steps)
CORRECT_RECORD = insert_version(_records, ("scope",))
CORRECT_CODE = insert_version(_codes, ("scope",))
CORRECT_STEP = insert_version(_steps, ("scope", "when_ms"))


def keep_newest(table: Table, newest: str, rows: Select[Any] | None = None) -> Statement:
    """An insert that leaves one row a key: the one with the largest `newest`."""
    key = [column.name for column in table.primary_key]
    new = upsert(table)
    filled = (
        new.from_select([*key, newest], rows)
        if rows is not None
        else new.values({name: bindparam(name) for name in (*key, newest)})
    )
    larger = new.excluded[newest] > table.c[newest]
    return Statement(
        filled.on_conflict_do_update(index_elements=key, set_={newest: new.excluded[newest]}, where=larger)
    )


TOUCH = keep_newest(_touched, "changed")
TOUCH_OF = keep_newest(
    _touched,
    "changed",
    select(acts.c.scope, bindparam("changed", type_=_touched.c.changed.type)).where(
        acts.c.version == bindparam("of"), acts.c.scope != ""
    ),
)
SEE = keep_newest(_seen, "seen_ms")

_last_decision = (
    select(_decisions.c.goes)
    .where(_decisions.c.hold == bindparam("version"))
    .order_by(_decisions.c.seq.desc())
    .limit(1)
    .scalar_subquery()
)
_held = ("version", "scope", "begun", "cause", "goes", "reason", "tag_on", "note")
_decided_now = (_last_decision, case((_last_decision == "on", 0), else_=1))
ADD_HOLD = Statement(
    insert(holds).from_select(
        [*_held, "decided", "standing"],
        select(*[bindparam(n, type_=holds.c[n].type) for n in _held], *_decided_now),
    )
)
"""The decision may have been folded before the hold it names: the two are on different chains."""

CORRECT_HOLD = Statement(
    insert(holds).from_select(
        [*_held, "decided", "standing"],
        select(
            *[acts.c[n] if n in ("scope", "begun") else bindparam(n, type_=holds.c[n].type) for n in _held],
            *_decided_now,
        ).where(acts.c.version == bindparam("of")),
    )
)
"""A hold that follows from a correction; scope and inspection are those of the entry."""
ADD_DECISION = insert_all(_decisions)
DECIDE_HOLD = Statement(
    update(holds)
    .where(holds.c.version == bindparam("hold"))
    .values(decided=bindparam("goes_now"), standing=case((bindparam("goes_now") == "on", 0), else_=1))
)
