"""All steps in order. Each leaves a stamp, so a start that was cut off goes on where it was."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from starting import debian
from starting.node import Node, ready_node
from starting.packages import Venv, install_locked, ready_venv
from starting.screens import ready_build, ready_packages
from starting.shell import Shell
from starting.stamps import Stamps


@dataclass(frozen=True, slots=True)
class Ready:
    """What a prepared checkout offers."""

    venv: Venv
    node: Node


def prepare(shell: Shell, root: Path, testing: bool = False, long: bool = False) -> Ready:
    """Makes a checkout ready to run, or to be tested, `long` forms too. Raises Stopped, with words, when it cannot."""
    with _alone(shell, root / ".start"):
        stamps = Stamps(root / ".start" / "stamps")
        may = debian.may_install()
        venv = ready_venv(shell, root / ".venv", may)
        install_locked(shell, stamps, venv, "to run", root / "requirements.lock")
        if testing:
            install_locked(shell, stamps, venv, "to test", root / "tests" / "requirements.lock")
            debian.for_testing(shell, may, long)
        else:
            debian.for_running(shell, stamps, may)
        node = ready_node(shell, stamps, venv)
        ready_packages(shell, stamps, node, root / "frontend")
        ready_build(shell, stamps, node, root / "frontend", root / "shared")
        return Ready(venv, node)


@contextmanager
def _alone(shell: Shell, folder: Path) -> Iterator[None]:
    """One preparation at a time in a checkout; the second waits for the first."""
    folder.mkdir(parents=True, exist_ok=True)
    if os.name != "posix":
        yield
        return
    import fcntl

    with open(folder / "one-at-a-time", "w", encoding="utf-8") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            shell.say("Another start is preparing this checkout; waiting for it ...")
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield
