"""Tables of inspections: what was looked at, found, read, photographed and decided. One row a fact, never edited.

Every row carries the `version` that wrote it (its act tells who, when, and whether it still stands),
the `begun` it hangs on, the scope, and `when_ms`, so that the newest look at a part is one step in an index.
"""

from __future__ import annotations

from sqlalchemy import Index, bindparam, case, func, insert, select, text, update
from sqlmodel import Field, SQLModel

from loupebook.inspections.tables.erased import PhotoErased, PhotoErasureAsked
from loupebook.inspections.tables.examples import Example, ExampleWithdrawn
from loupebook.inspections.tables.hidden import PhotoOpened, PhotoRestricted, PhotoShownAgain
from loupebook.inspections.tables.looks import PhotoCode, PhotoLook
from loupebook.log.declared import KEYED, insert_all, table_of
from loupebook.log.port import Statement
from loupebook.scopes.tables import acts, insert_version


class InspectionPart(SQLModel, table=True):
    """One tablet's share of an inspection. `root` is the part it continues, or itself. Lists are JSON text.

    `is_open` is 0 while an ending of it stands; both are on the part's own chain.
    """

    __tablename__ = "inspection_parts"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    root: str = Field(index=True)
    scope: str
    when_ms: int
    point: str
    scope_kind: str
    catalogue: str
    policy: str
    shift: str = Field(index=True)
    place: str
    identified_by: str
    identified_text: str | None = None
    symbology: str | None = None
    proves: str
    none_here: str
    not_due: str
    practice: int
    is_open: int
    __table_args__ = (
        Index("inspection_parts_newest", "scope", "when_ms"),
        Index("inspection_parts_when", "when_ms"),
        Index("inspection_parts_at", "place", "when_ms"),
        Index("inspection_parts_point", "point", "when_ms"),
        KEYED,
    )


class SerialPhoto(SQLModel, table=True):
    """The serial number photographed, and how it was held against the scanned identity."""

    __tablename__ = "serial_photos"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    held_by: str
    agrees: str
    code: str | None = None
    last_four: str | None = None
    serial_where: str | None = None
    __table_args__ = (Index("serial_photos_newest", "scope", "when_ms"), KEYED)


class PartMark(SQLModel, table=True):
    """One part or channel marked, by a run through it too. A finding marks its part itself, in `findings` only."""

    __tablename__ = "part_marks"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    part: str = Field(primary_key=True)
    scope: str
    when_ms: int
    mark: str
    zone: str | None = None
    reason: str | None = None
    tool: str | None = None
    __table_args__ = (Index("part_marks_newest", "scope", "part", "when_ms"), KEYED)


class Finding(SQLModel, table=True):
    """Something seen. Class and urgency are those of the catalogue its part pins; they are looked up, not kept."""

    __tablename__ = "findings"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    part: str
    finding: str
    grade: str
    since: str
    place_mm: int | None = None
    place_end: str | None = None
    place_known: str | None = None
    compared: str | None = None
    beside: str | None = None
    rings: str
    note: str | None = None
    __table_args__ = (
        Index("findings_newest", "scope", "part", "when_ms"),
        Index("findings_what", "finding", "when_ms"),
        KEYED,
    )


class Reading(SQLModel, table=True):
    """A leak test's outcome or a measured value."""

    __tablename__ = "readings"
    __table_args__ = (Index("readings_newest", "scope", "what", "when_ms"), KEYED)
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    what: str
    result: str
    steps: str
    parts: str
    zone: str | None = None
    reason: str | None = None
    pressure_pa: int | None = None
    held_s: int | None = None
    value_thousandths: int | None = None
    limit_thousandths: int | None = None
    unit: str | None = None
    meter: str | None = None
    lot: str | None = None
    note: str | None = None


class ChannelRun(SQLModel, table=True):
    """One run through a channel, or its flow."""

    __tablename__ = "channel_runs"
    __table_args__ = KEYED
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    channel: str
    outcome: str
    way: str | None = None
    borescope: str | None = None
    reached_mm: int | None = None
    length_mm: int | None = None
    known: str | None = None
    flow: str | None = None
    reason: str | None = None


class Ending(SQLModel, table=True):
    """The end of an inspection part: `concluded` with its decision, or `abandoned`."""

    __tablename__ = "endings"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    ended: str
    first: str | None = None
    goes: str | None = None
    suggested_first: str | None = None
    suggested_goes: str | None = None
    rows: str
    counts: str | None = None
    relies: str
    elsewhere: str
    left_out: str
    tag_on: int | None = None
    reason: str | None = None
    note: str | None = None
    disinfection: str | None = None
    """The `scope.processed` that a decision before use leans on."""
    __table_args__ = (Index("endings_newest", "scope", "when_ms"), KEYED)


class PhotoOf(SQLModel, table=True):
    """A photo and what it is of. `part` is '' for the serial number, the whole case, or one more of a finding."""

    __tablename__ = "photos_of"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    sha256: str = Field(primary_key=True)
    scope: str
    when_ms: int
    part: str
    shows: str
    of_finding: str | None = None
    type: str
    bytes: int
    width: int
    height: int
    rings: str
    place_mm: int | None = None
    place_end: str | None = None
    place_known: str | None = None
    taken: str | None = None
    """How it was taken and what was told of it, as its entry says; JSON."""
    changed: int
    """The position at which its entry began to count."""
    __table_args__ = (Index("photos_of_newest", "scope", "part", "when_ms"), KEYED)


class PhotoLaid(SQLModel, table=True):
    """What is laid over a photo by one entry: rings, arrows and lengths as JSON lists, never in the photo's bytes."""

    __tablename__ = "photos_laid"
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    photo: str = Field(primary_key=True)
    scope: str
    when_ms: int
    rings: str
    arrows: str
    lengths: str
    __table_args__ = (Index("photos_laid_photo", "photo"), KEYED)


class SerialReading(SQLModel, table=True):
    """A serial photo in which the server read a number that is not the scope's."""

    __tablename__ = "serial_readings"
    __table_args__ = KEYED
    begun: str = Field(primary_key=True)
    version: str = Field(primary_key=True)
    scope: str
    when_ms: int
    photo: str
    code: str


class SerialLooked(SQLModel, table=True):
    """A serial photo of an inspection part whose codes the server has held against its scope: never twice.

    Kept outside the log: that a number agrees, or that there is no code in the photo, is not written anywhere else.
    """

    __tablename__ = "serials_looked"
    __table_args__ = KEYED
    photo: str = Field(primary_key=True)
    begun: str = Field(primary_key=True)


FOLDED: tuple[type[SQLModel], ...] = (
    InspectionPart, SerialPhoto, PartMark, Finding, Reading, ChannelRun, Ending, PhotoOf, PhotoRestricted,
    PhotoShownAgain, PhotoOpened, PhotoErasureAsked, PhotoErased, Example, ExampleWithdrawn, SerialReading, PhotoLaid,
)  # fmt: skip
KEPT: tuple[type[SQLModel], ...] = (SerialLooked, PhotoLook, PhotoCode)

_parts = table_of(InspectionPart)
Index(
    "inspection_parts_open", _parts.c.place, _parts.c.when_ms,
    sqlite_where=text("is_open = 1"), postgresql_where=text("is_open = 1"),
)  # fmt: skip
Index(
    "inspection_parts_accepted", _parts.c.scope, _parts.c.when_ms,
    sqlite_where=text("point = 'acceptance'"), postgresql_where=text("point = 'acceptance'"),
)  # fmt: skip
_BACK = text("first IN ('clean', 'whole')")
"""Some looks of many: what is asked of those a scope was sent back by visits no others."""
Index("endings_back", table_of(Ending).c.scope, table_of(Ending).c.when_ms, sqlite_where=_BACK, postgresql_where=_BACK)
_runs = table_of(ChannelRun)
Index("channel_runs_borescope", _runs.c.borescope, _runs.c.when_ms, sqlite_where=text("borescope IS NOT NULL"),
      postgresql_where=text("borescope IS NOT NULL"))  # fmt: skip
_photos = table_of(PhotoOf)
for _name, _columns in (("photos_of_serial", ("sha256", "begun")), ("photos_of_serial_new", ("changed",))):
    Index(
        _name, *(_photos.c[column] for column in _columns),
        sqlite_where=text("shows = 'serial'"), postgresql_where=text("shows = 'serial'"),
    )  # fmt: skip
_taken = ("begun", "scope", "when_ms")

ADD_PART = insert_all(_parts)
ADD_SERIAL, ADD_MARK, ADD_FINDING, ADD_READING, ADD_RUN, ADD_ENDING, ADD_PHOTO, ADD_SERIAL_READING = (
    insert_all(table_of(model))
    for model in (SerialPhoto, PartMark, Finding, Reading, ChannelRun, Ending, PhotoOf, SerialReading)
)

ADD_LAID = insert_all(table_of(PhotoLaid))

_part_columns = [c.name for c in _parts.c]
CORRECT_PART = Statement(
    insert(_parts).from_select(
        _part_columns,
        select(
            *[
                acts.c[n]
                if n in _taken
                else func.coalesce(bindparam(n, type_=_parts.c[n].type), acts.c.begun)
                if n == "root"
                else bindparam(n, type_=_parts.c[n].type)
                for n in _part_columns
            ]
        ).where(acts.c.version == bindparam("of")),
    )
)
_endings = table_of(Ending)
_ended = (
    select(_endings.c.version)
    .join(acts, acts.c.version == _endings.c.version)
    .where(_endings.c.begun == _parts.c.begun, acts.c.replaced_by.is_(None), acts.c.withdrawn_by.is_(None))
    .exists()
)
SETTLE_PART = Statement(
    update(_parts).where(_parts.c.begun == bindparam("of_begun")).values(is_open=case((_ended, 0), else_=1))
)
"""After anything that ends a part or takes its end back, and after the acts of it are written."""

CORRECT_SERIAL, CORRECT_MARK, CORRECT_FINDING, CORRECT_READING, CORRECT_RUN, CORRECT_ENDING, CORRECT_LAID = (
    insert_version(table_of(model), _taken)
    for model in (SerialPhoto, PartMark, Finding, Reading, ChannelRun, Ending, PhotoLaid)
)
