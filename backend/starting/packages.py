"""The Python packages, in a folder of their own inside the checkout."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from starting.debian import install
from starting.shell import Shell, Stopped
from starting.stamps import Stamps, key_of

EXIT_PACKAGES = 4
OLDEST = (3, 11)


@dataclass(frozen=True, slots=True)
class Venv:
    """A Python with its own packages."""

    folder: Path

    @property
    def bin(self) -> Path:
        """Where its programs lie."""
        return self.folder / ("Scripts" if os.name == "nt" else "bin")

    @property
    def python(self) -> Path:
        """Its interpreter."""
        return self.bin / ("python.exe" if os.name == "nt" else "python")


def ready_venv(shell: Shell, folder: Path, may: bool) -> Venv:
    """The venv in `folder`, made new when there is none or only half of one."""
    venv = Venv(folder)
    if _works(shell, venv):
        return venv
    if folder.exists():
        shell.say("A half-made Python folder lies here from an earlier start; making it again.")
        shutil.rmtree(folder)
    _have_ensurepip(shell, may)
    shell.say("Making a Python folder of its own (.venv) ...")
    if shell.run([sys.executable, "-m", "venv", str(folder)]) != 0 or not _works(shell, venv):
        shutil.rmtree(folder, ignore_errors=True)
        raise Stopped(
            EXIT_PACKAGES,
            "Python could not make a folder for its packages.",
            "The half-made folder was removed; no record was touched.",
            "Look at the end of the log below, mend it, and start again.",
        )
    return venv


def _works(shell: Shell, venv: Venv) -> bool:
    probe = f"import sys, pip; sys.exit(sys.version_info < {OLDEST})"
    return venv.python.exists() and shell.read([str(venv.python), "-c", probe])[0] == 0


def _have_ensurepip(shell: Shell, may: bool) -> None:
    """Debian's Python makes half a venv and fails, because ensurepip is split off: look before."""
    ask = [sys.executable, "-c", "import ensurepip"]
    if shell.read(ask)[0] == 0:
        return
    if may:
        shell.say("Installing Debian's python3-venv ...")
        install(shell, ["python3-venv"])
    if shell.read(ask)[0] != 0:
        raise Stopped(
            EXIT_PACKAGES,
            "This Python cannot make a folder for packages: its part 'ensurepip' is missing.",
            "Nothing was installed or changed.",
            "As root: apt-get install -y python3-venv   then start again.",
        )


def install_locked(shell: Shell, stamps: Stamps, venv: Venv, name: str, lock: Path) -> None:
    """Installs exactly what a lock file names, once for each content of that file."""
    version = shell.read([str(venv.python), "-c", "import sys; print(sys.version, sys.platform)"])[1]
    key = key_of([lock.read_text("utf-8"), version, str(venv.folder), _made(venv)])
    if stamps.is_done(name, key):
        return
    stamps.undo(name)
    shell.say(f"Installing Python packages ({name}), half a minute or so ...")
    pip_install(shell, venv, ["--requirement", str(lock)])
    stamps.done(name, key)


def _made(venv: Venv) -> str:
    """Tells one venv from a later one in the same place."""
    return str((venv.folder / "pyvenv.cfg").stat().st_mtime_ns)


def pip_install(shell: Shell, venv: Venv, what: list[str]) -> None:
    """pip install; raises Stopped when it does not go."""
    command = [str(venv.python), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", *what]
    if shell.run(command) == 0:
        return
    raise Stopped(
        EXIT_PACKAGES,
        "Python packages could not be installed.",
        "What was installed before stays and will not be fetched again; no record was touched.",
        "Check the network, proxy and package index settings (pip's own: PIP_INDEX_URL, PIP_FIND_LINKS,"
        " HTTPS_PROXY), then start again.",
    )
