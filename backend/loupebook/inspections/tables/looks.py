"""What the server's look at each photo found, as rows: made anew from the vault where they are not there.

Kept outside the log, and never part of what a rebuild compares: another version of the decoder may find otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, Index, bindparam, delete, text
from sqlmodel import Field, SQLModel

from loupebook.log.declared import KEYED, table_of
from loupebook.looking.look import Look


class PhotoLook(SQLModel, table=True):
    """One look; zeros where the photo could not be opened.

    width, height       pixels, upright
    sharpness_permille  see `looking.sharpness.Measured`
    mean                mean grey, 0 to 255
    """

    __tablename__ = "photo_looks"
    __table_args__ = KEYED
    photo: str = Field(primary_key=True)
    state: str
    reason: str | None
    type: str | None
    width: int
    height: int
    sharpness_permille: int
    mean: int


class PhotoCode(SQLModel, table=True):
    """One code read in a photo, in the order they were read."""

    __tablename__ = "photo_codes"
    __table_args__ = KEYED
    photo: str = Field(primary_key=True)
    at: int = Field(primary_key=True)
    text: str = Field(index=True)
    symbology: str
    identifier: str


_looks, _codes = table_of(PhotoLook), table_of(PhotoCode)
Index("photo_looks_cannot", _looks.c.reason, sqlite_where=text("state <> 'shown'"))

_FORGET = tuple(delete(table).where(table.c.photo == bindparam("of")) for table in (_looks, _codes))
UNLOOKED = text(
    "SELECT h.sha256 FROM log_photos h WHERE NOT EXISTS (SELECT 1 FROM photo_looks l WHERE l.photo = h.sha256)"
)
LOOK_OF = text(
    "SELECT state, reason, type, width, height, sharpness_permille, mean FROM photo_looks WHERE photo = :photo"
)
CANNOT = text("SELECT photo, reason FROM photo_looks WHERE state <> 'shown' ORDER BY reason, photo")
WITH_CODE = text("SELECT DISTINCT photo FROM photo_codes WHERE text = :code ORDER BY photo")


@dataclass(frozen=True, slots=True)
class LookRow:
    """A look as its row says it."""

    state: str
    reason: str | None
    type: str | None
    width: int
    height: int
    sharpness_permille: int
    mean: int


def keep_look(connection: Connection, photo: str, look: Look) -> None:
    """Writes a look down in place of an older one of the photo."""
    forget_look(connection, photo)
    row = LookRow(
        look.state, look.reason, look.type, look.width, look.height, look.sharpness_permille, look.mean
    )  # fmt: skip
    connection.execute(_looks.insert(), {"photo": photo, **{name: getattr(row, name) for name in row.__slots__}})
    for at, code in enumerate(look.codes):
        words = {"text": code.text, "symbology": code.symbology, "identifier": code.identifier}
        connection.execute(_codes.insert(), {"photo": photo, "at": at, **words})


def forget_look(connection: Connection, photo: str) -> None:
    """Nothing is left of what was seen in a photo."""
    for statement in _FORGET:
        connection.execute(statement, {"of": photo})


def look_of(connection: Connection, photo: str) -> LookRow | None:
    """What the look at a photo found; nothing where there was none yet."""
    row = connection.execute(LOOK_OF, {"photo": photo}).one_or_none()
    return LookRow(*row) if row else None


def unlooked(connection: Connection) -> list[str]:
    """Photos that are here and have no row of a look."""
    return list(connection.execute(UNLOOKED).scalars())


def cannot_be_shown(connection: Connection) -> list[tuple[str, str]]:
    """Photos kept that no screen will draw, and why."""
    return [(photo, reason) for photo, reason in connection.execute(CANNOT)]


def photos_with(connection: Connection, code: str) -> list[str]:
    """Photos in which this code was read."""
    return list(connection.execute(WITH_CODE, {"code": code}).scalars())
