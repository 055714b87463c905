"""What is made from `kinds.py` is made anew whenever it changes."""

from pathlib import Path

from loupebook.record.schema import stale_files, write_schema

ROOT = Path(__file__).resolve().parents[2]


def test_the_schema_files_and_the_tablets_types_are_what_kinds_says() -> None:
    assert stale_files(ROOT) == [], "run `loupebook schema` and commit what it wrote"


def test_a_changed_file_is_found_and_written_again(tmp_path: Path) -> None:
    written = write_schema(tmp_path)
    assert len(written) == 3 and stale_files(tmp_path) == []
    path = tmp_path / "frontend/src/record/kinds.ts"
    path.write_text(path.read_text().replace("min", "max"))
    assert stale_files(tmp_path) == ["frontend/src/record/kinds.ts"]
