"""What a look found lies in rows beside the record: made anew from the vault, gone with the photo."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from loupebook.folder import open_folder
from loupebook.inspections.tables import KEPT
from loupebook.inspections.tables.looks import (
    CANNOT,
    LOOK_OF,
    WITH_CODE,
    PhotoCode,
    PhotoLook,
    cannot_be_shown,
    forget_look,
    keep_look,
    look_of,
    photos_with,
    unlooked,
)
from loupebook.installation import FOLDED, Installation
from loupebook.log.photos import photo_stored
from loupebook.looking import Code, Look
from loupebook.vault import put
from loupebook.vault.names import Sha256
from sink_tablet import picture
from sqlalchemy import text

pytestmark = pytest.mark.photos

ONE, TWO, BAD = "1" * 64, "2" * 64, "b" * 64
CODE = Code("0109506000134352", "DataMatrix", "30", "]d2")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "record"


def opened(folder: Path) -> Installation:
    return Installation(folder, open_folder(folder, "own", "test").id, "test")


def test_a_look_is_found_by_its_photo_its_reason_and_its_codes_by_one_index_each(folder: Path) -> None:
    here = opened(folder)
    with here.log.writing() as connection:
        keep_look(connection, ONE, Look("shown", None, "image/jpeg", 2560, 1920, 417, 128, (CODE, CODE)))
        keep_look(connection, TWO, Look("shown", None, "image/png", 640, 480, 90, 30))
        keep_look(connection, BAD, Look("cannot_be_shown", "broken_file"))
        keep_look(connection, TWO, Look("shown", None, "image/png", 640, 480, 91, 30, (CODE,)))
    with here.log.reading() as connection:
        found = look_of(connection, TWO)
        assert found is not None and (found.width, found.height, found.sharpness_permille) == (640, 480, 91)
        assert look_of(connection, "0" * 64) is None
        assert cannot_be_shown(connection) == [(BAD, "broken_file")]
        assert photos_with(connection, CODE.text) == [ONE, TWO] and photos_with(connection, "x") == []
        for statement, asked in ((LOOK_OF, {"photo": ONE}), (CANNOT, {}), (WITH_CODE, {"code": "x"})):
            plan = [str(row[3]) for row in connection.execute(text(f"EXPLAIN QUERY PLAN {statement.text}"), asked)]
            assert any(("USING" in step and "INDEX" in step) or "PRIMARY KEY" in step for step in plan), plan
            assert len([step for step in plan if step.startswith(("SCAN", "SEARCH"))]) == 1, plan
    with here.log.writing() as connection:
        forget_look(connection, ONE)
    with here.log.reading() as connection:
        assert look_of(connection, ONE) is None and photos_with(connection, CODE.text) == [TWO]
    here.close()


def test_rows_are_made_anew_from_the_vault_and_no_rebuild_compares_them(folder: Path) -> None:
    assert {PhotoLook, PhotoCode} <= set(KEPT) and not {PhotoLook, PhotoCode} & set(FOLDED)
    data = picture("seen")
    here = opened(folder)
    sha256 = Sha256(hashlib.sha256(data).hexdigest())
    put(here.vault, [data], sha256, len(data))
    photo_stored(here.log, sha256, len(data))
    with here.log.reading() as connection:
        assert unlooked(connection) == [sha256]
    here.catch_up()
    assert here.looking.settled(60)
    with here.log.reading() as connection:
        first = look_of(connection, sha256)
        assert first is not None and (first.state, first.width, first.height) == ("shown", 960, 720)
        assert unlooked(connection) == []
    with here.log.writing() as connection:
        forget_look(connection, sha256)
    here.derived.erase(sha256)  # all that was made of it is gone: the vault is enough
    here.close()

    again = opened(folder)
    again.catch_up()
    assert again.looking.settled(60)
    with again.log.reading() as connection:
        assert look_of(connection, sha256) == first
    assert again.derived.thumbnail(sha256, 320) is not None
    again.erase(sha256)
    with again.log.reading() as connection:
        assert look_of(connection, sha256) is None
    assert again.derived.look(sha256) is None and not again.vault.exists(sha256)
    again.close()
