"""The verbs that keep a record, run on a whole installation with the invented day hospital in it."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from loupebook import __version__, demo
from loupebook.backups import noted
from loupebook.cli import main
from loupebook.folder import hold, open_folder
from loupebook.installation import FOLDED, Installation
from loupebook.log.backup import DATABASE
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine

pytestmark = [pytest.mark.sink, pytest.mark.shift]


@pytest.fixture(scope="module")
def laid_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "data"
    instance = open_folder(folder, "demo", __version__)
    demo.lay_in(folder, instance.id, __version__)
    return folder


@pytest.fixture
def folder(laid_in: Path, tmp_path: Path) -> Iterator[Path]:
    yield shutil.copytree(laid_in, tmp_path / "data")


def rows(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    engine = open_engine(folder / DATABASE)
    with engine.connect() as connection:
        found = {
            str(model.__tablename__): sorted(
                (tuple(row) for row in connection.execute(table_of(model).select())), key=repr
            )
            for model in FOLDED
        }
    engine.dispose()
    return found


def test_rebuild_gives_the_same_rows_on_a_whole_installation(folder: Path) -> None:
    before = rows(folder)
    assert sum(map(len, before.values())) > 20
    assert main(["rebuild", "--demo", "--data", str(folder)]) == 0
    assert rows(folder) == before


def test_rebuild_is_refused_while_somebody_serves_the_folder(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with hold(folder, "http://127.0.0.1:1"):
        assert main(["rebuild", "--demo", "--data", str(folder)]) == 5
    assert "running" in capsys.readouterr().err


def test_an_export_is_whole_and_says_so(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", "--demo", "--data", str(folder), str(tmp_path / "out")]) == 0
    assert capsys.readouterr().out.startswith("Whole: ")
    assert main(["verify", str(tmp_path / "out")]) == 0
    assert main(["export", "--demo", "--data", str(folder), str(tmp_path / "out")]) == 5


def test_a_backup_comes_back_whole_as_a_new_epoch(folder: Path, tmp_path: Path) -> None:
    assert main(["backup", "--demo", "--data", str(folder), str(tmp_path / "copy")]) == 0
    again = tmp_path / "again"
    assert main(["bring-back", "--demo", "--data", str(again), str(tmp_path / "copy")]) == 0
    assert rows(again) == rows(folder)
    instance = open_folder(again, "demo", __version__)
    installation = Installation(again, instance.id, __version__)
    assert installation.log.epoch().n == 2
    assert list(installation.vault.scrub()) == []
    installation.close()
    assert main(["bring-back", "--demo", "--data", str(again), str(tmp_path / "copy")]) == 5
    assert main(["backup", "--demo", "--data", str(folder), str(tmp_path / "copy")]) == 5


def test_a_folder_without_a_record_is_refused_and_nothing_is_made_in_it(tmp_path: Path) -> None:
    for verb in (["rebuild"], ["backup", str(tmp_path / "to")], ["export", str(tmp_path / "to")]):
        assert main([verb[0], "--data", str(tmp_path / "none"), *verb[1:]]) == 5
    assert list(tmp_path.iterdir()) == []


def test_the_schema_verb_says_that_nothing_is_stale() -> None:
    assert main(["schema", "--check"]) == 0


def test_a_drill_proves_a_backup_and_its_age_is_told(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An entry that was changed in the backup is found; the record itself is left as it was."""
    copy = tmp_path / "copy"
    assert noted(folder) == {"last": None, "lacking": None, "drill": None}
    assert main(["backup", "--demo", "--data", str(folder), str(copy)]) == 0
    before = rows(folder)
    assert main(["drill", "--demo", "--data", str(folder), str(copy)]) == 0
    assert "was brought back and is whole" in capsys.readouterr().out
    told: Any = noted(folder)
    assert told["drill"]["good"] is True and told["last"]["to"] == str(copy) and told["last"]["at"]
    with closing(sqlite3.connect(copy / DATABASE)) as base, base:
        changed = "UPDATE log_entries SET line = CAST(replace(CAST(line AS TEXT), ?, ?) AS BLOB) WHERE kind = ?"
        assert base.execute(changed, ('"agrees":"yes"', '"agrees":"no"', "serial.photographed")).rowcount
    assert main(["drill", "--demo", "--data", str(folder), str(copy)]) == 1
    assert "cannot be relied on" in capsys.readouterr().out
    told = noted(folder)
    assert told["drill"]["good"] is False and rows(folder) == before
    assert not list(folder.glob("drill-*"))


@pytest.mark.parametrize("spoil", [lambda path: path.write_bytes(path.read_bytes()[:-1] + b"?"), Path.unlink])
def test_a_drill_finds_a_photo_that_is_damaged_or_gone_in_the_backup(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], spoil: Callable[[Path], None]
) -> None:
    copy = tmp_path / "copy"
    assert main(["backup", "--demo", "--data", str(folder), str(copy)]) == 0
    photo = next(path for path in (copy / "vault").rglob("*") if path.is_file() and len(path.name) == 64)
    spoil(photo)
    assert main(["drill", "--demo", "--data", str(folder), str(copy)]) == 1
    said = capsys.readouterr().out
    assert photo.name in said and "cannot be relied on" in said
    told: Any = noted(folder)
    assert told["drill"]["good"] is False
