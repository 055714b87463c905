"""What the README says is what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from loupebook.settings import table
from starting import command, debian

pytestmark = pytest.mark.sink

HOSTS = re.compile(r"https?://(?!127\.0\.0\.1|localhost)[\w.-]*(?:pypi|npmjs|registry|pythonhosted)[\w.-]*")


@pytest.fixture(scope="module")
def readme(root: Path) -> str:
    return (root / "README.md").read_text("utf-8")


def rows(text: str) -> list[tuple[str, ...]]:
    """The rows of a Markdown table, head left out, back-ticks removed."""
    lines = [line for line in text.splitlines() if line.startswith("| ")][2:]
    return [tuple(cell.strip().strip("`") for cell in line.strip("| ").split(" | ")) for line in lines]


def test_the_settings_table_is_the_code_s(readme: str) -> None:
    said = readme.split("<!-- settings -->")[1].split("<!-- /settings -->")[0]
    assert rows(said) == table()


def test_every_option_of_the_start_is_explained(readme: str) -> None:
    options = {word for action in command.options()._actions for word in action.option_strings if word[:2] == "--"}
    explained = set(re.findall(r"^\| `(--[\w-]+)", readme, re.MULTILINE))
    assert explained == options - {"--help"}


def test_exit_codes_are_the_same_in_help_and_readme(readme: str) -> None:
    helped = dict(re.findall(r"^  (\d)  (.+)$", command.EXIT_CODES, re.MULTILINE))
    line = next(line for line in readme.splitlines() if line.startswith("Exit codes: "))
    assert set(re.findall(r"\b(\d) ", line)) == set(helped)


def test_every_debian_package_of_the_start_is_explained(readme: str) -> None:
    for name, weaker in debian.RUNNING.items():
        assert f"`{name}`" in readme
        assert weaker in readme


def test_the_two_commands_are_there(readme: str, root: Path) -> None:
    commands = re.findall(r"^python3 (\S+)$", readme, re.MULTILINE)
    assert commands == ["backend/start.py", "tests/run.py"]
    assert all((root / path).is_file() for path in commands)


@pytest.mark.parametrize("lock", ["requirements.lock", "tests/requirements.lock", "frontend/package-lock.json"])
def test_no_lock_file_names_where_packages_come_from(root: Path, lock: str) -> None:
    text = (root / lock).read_text("utf-8")
    assert HOSTS.findall(text) == []
    assert '"resolved"' not in text


@pytest.mark.parametrize("lock", ["requirements.lock", "tests/requirements.lock"])
def test_every_python_package_has_one_exact_version(root: Path, lock: str) -> None:
    lines = [line for line in (root / lock).read_text("utf-8").splitlines() if line and line[0] != "#"]
    assert lines
    assert [line for line in lines if not re.match(r"^[a-z0-9-]+==[\w.]+( ; .+)?$", line)] == []
