"""A data folder that an earlier version left opens: entries as they were, tables as rebuilt, a copy beside it.

`tests/older/` holds what earlier versions wrote, by their own code, as SQL; a file there is never changed again.
`first-sink` is the demo's record of the first version that could be backed up and rebuilt (297 entries).
"""

from __future__ import annotations

import gzip
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from live_server import LiveServer
from loupebook.folder import open_folder
from loupebook.installation import FOLDED, FOLDS, Installation
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine
from loupebook.log.rebuild import rebuild
from loupebook.migrations.shape import BEFORE, CannotBeBroughtUp
from loupebook.reading.page import page

pytestmark = pytest.mark.sink

OLDER = Path(__file__).parents[1] / "older"
VERSIONS = sorted(path.name.removesuffix(".sql.gz") for path in OLDER.glob("*.sql.gz"))


def lay(version: str, folder: Path) -> Path:
    """A data folder as that version left it; photos' bytes are left out."""
    open_folder(folder, "own", "older")
    with closing(sqlite3.connect(folder / "record.sqlite")) as base:
        base.executescript(gzip.decompress((OLDER / f"{version}.sql.gz").read_bytes()).decode())
    return folder


def rows(database: Path, query: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as base:
        return list(base.execute(query))


LINES = "SELECT position, chain, seq, hash, line FROM log_entries ORDER BY position"
SHAPE = "SELECT name, sql FROM sqlite_master ORDER BY name"
VERDICTS = "SELECT position, n, verdict, reason FROM log_verdicts ORDER BY position, n"


@pytest.fixture(params=VERSIONS)
def older(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    yield lay(request.param, tmp_path / "record")


def started(folder: Path) -> Installation:
    return Installation(folder, open_folder(folder, "own", "test").id, "test")


def test_it_opens_with_every_entry_as_it_was_and_a_copy_of_before(older: Path) -> None:
    database = older / "record.sqlite"
    lines, verdicts = rows(database, LINES), rows(database, VERDICTS)
    assert len(lines) > 200
    assert "ticket" not in {name for _, name, *_ in rows(database, "PRAGMA table_info(acts)")}, "it is an older one"
    here = started(older)
    here.close()
    assert here.before_upgrade is not None
    assert here.before_upgrade.is_relative_to(older / BEFORE)
    assert rows(here.before_upgrade, LINES) == lines
    assert rows(here.before_upgrade, VERDICTS) == verdicts
    assert rows(database, LINES) == lines
    assert rows(database, VERDICTS) == verdicts
    assert "ticket" in {name for _, name, *_ in rows(database, "PRAGMA table_info(acts)")}


def test_its_tables_are_those_a_rebuild_makes(older: Path) -> None:
    started(older).close()
    tables = [table_of(model) for model in FOLDED]
    engine = open_engine(older / "record.sqlite")
    try:
        with engine.connect() as read:
            after = {table.name: sorted(map(repr, read.execute(table.select()))) for table in tables}
        assert rebuild(engine, FOLDS, tables).entries > 200
        with engine.connect() as read:
            assert {table.name: sorted(map(repr, read.execute(table.select()))) for table in tables} == after
    finally:
        engine.dispose()


def test_every_inspection_of_it_can_be_read(older: Path) -> None:
    here = started(older)
    try:
        with here.log.reading() as read:
            roots = [str(row[0]) for row in read.exec_driver_sql("SELECT DISTINCT root FROM inspection_parts")]
            assert len(roots) > 5
            for root in roots:
                found = page(read, here.lead(), root)
                assert found is not None
                assert found["total"] == sum(found["counts"].values())  # type: ignore[attr-defined]
            assert here.people(read)
    finally:
        here.close()


def test_a_second_start_finds_nothing_to_do(older: Path) -> None:
    started(older).close()
    again = started(older)
    again.close()
    assert again.before_upgrade is None
    assert len(list((older / BEFORE).iterdir())) == 1


def test_a_start_says_that_it_upgraded_and_where_the_copy_lies(older: Path) -> None:
    server = LiveServer(older).start()
    try:
        said = server.said("Upgraded")
        assert Path(said.rsplit(" ", 1)[1]).exists()
    finally:
        server.close()


def test_a_kept_table_that_lacks_what_cannot_be_empty_is_refused_unchanged(older: Path) -> None:
    with closing(sqlite3.connect(older / "record.sqlite")) as base:
        base.execute("ALTER TABLE person_names DROP COLUMN initials")
        base.commit()
    before = (rows(older / "record.sqlite", SHAPE), rows(older / "record.sqlite", LINES))
    with pytest.raises(CannotBeBroughtUp, match=r"person_names has no initials.*Nothing was changed"):
        started(older)
    assert (rows(older / "record.sqlite", SHAPE), rows(older / "record.sqlite", LINES)) == before
    assert not (older / BEFORE).exists()
