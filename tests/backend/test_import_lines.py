"""The import contracts of pyproject.toml cover every folder there is."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

pytestmark = pytest.mark.sink


@pytest.fixture(scope="module")
def contracts(root: Path) -> list[dict[str, object]]:
    whole = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))
    found: list[dict[str, object]] = whole["tool"]["importlinter"]["contracts"]
    return found


def test_every_folder_of_the_server_keeps_import_lines(contracts: list[dict[str, object]], root: Path) -> None:
    kept = {str(name) for contract in contracts for name in contract["source_modules"]}  # type: ignore[attr-defined]
    packages = root.joinpath("backend", "loupebook").iterdir()
    folders = {f"loupebook.{path.name}" for path in packages if (path / "__init__.py").is_file()}
    assert folders == kept


def test_every_folder_says_in_one_sentence_what_lives_there(root: Path) -> None:
    for path in sorted(root.joinpath("backend", "loupebook").glob("*/__init__.py")):
        assert path.read_text("utf-8").startswith('"""'), path
