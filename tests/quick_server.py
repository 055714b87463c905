"""A live server forked from a process that has read the product's code already, so that its start is short.

It is a process of its own that is stopped and killed like any other, runs `loupebook serve` with the same words,
environment and streams, and ends as Python ends. How a start from nothing goes is what tests/backend asks.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Sequence
from multiprocessing import forkserver
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import IO
from unittest.mock import patch

from live_server import ROOT, LiveServer

FORKS = multiprocessing.get_context("forkserver")
READ_BEFORE = ["loupebook.serve", "loupebook.app", "quick_server", "pytest"]


def run(words: Sequence[str], env: dict[str, str], out: Connection, err: str) -> None:
    """In the new process: the command line, with its own environment and streams."""
    os.environ.clear()
    os.environ.update(env)
    os.dup2(out.fileno(), 1)
    out.close()
    with open(err, "a") as told:
        os.dup2(told.fileno(), 2)
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = open(2, "w", encoding="utf-8", buffering=1, errors="backslashreplace", closefd=False)
    from loupebook.cli import main

    sys.exit(main(words))


class Forked:
    """A process as `LiveServer` looks at one."""

    def __init__(self, process: BaseProcess, stdout: IO[str]) -> None:
        self._process = process
        self.stdout = stdout

    @property
    def pid(self) -> int:
        assert self._process.pid is not None
        return self._process.pid

    @property
    def returncode(self) -> int | None:
        return self._process.exitcode

    def send_signal(self, sig: int) -> None:
        os.kill(self.pid, sig)

    def communicate(self, *, timeout: float) -> tuple[str, None]:
        """Waits for its end; what it had still to say. Raises TimeoutError."""
        self._process.join(timeout)
        if self._process.exitcode is None:
            raise TimeoutError(f"the server did not end in {timeout:.0f} s")
        with self.stdout:
            return self.stdout.read(), None


class QuickServer(LiveServer):
    """The same server, forked."""

    def _begin(self, words: Sequence[str], env: dict[str, str], out: IO[str]) -> Forked:
        path = os.pathsep.join([str(ROOT / "backend"), str(ROOT / "tests")])
        with patch.dict(os.environ, PYTHONPATH=path):  # the first one starts the process to fork from
            FORKS.set_forkserver_preload(READ_BEFORE)
            forkserver.ensure_running()
        here, there = FORKS.Pipe(duplex=False)
        process = FORKS.Process(target=run, args=(words, env, there, str(Path(self.log))), daemon=True)
        process.start()
        there.close()
        with here:
            stdout = os.fdopen(os.dup(here.fileno()), "r", encoding="utf-8")
        return Forked(process, stdout)
