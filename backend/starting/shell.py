"""Speaking and running: words to the person, everything to the log."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Protocol


class Stopped(Exception):
    """The start cannot go on: what happened, what is safe, what to do next, and the exit code."""

    def __init__(self, code: int, happened: str, safe: str, next_step: str) -> None:
        super().__init__(happened, safe, next_step)
        self.code, self.happened, self.safe, self.next_step = code, happened, safe, next_step

    def __str__(self) -> str:
        return f"{self.happened}\n{self.safe}\n{self.next_step}"


class Shell(Protocol):
    """What a step may do to the machine."""

    environ: dict[str, str]

    def say(self, words: str) -> None:
        """Tells the person, and the log."""

    def run(self, command: Sequence[str], cwd: Path | None = None, env: Mapping[str, str] | None = None) -> int:
        """Runs a program with the whole environment and `env` on top; its output goes to the log. Its exit code."""

    def read(self, command: Sequence[str]) -> tuple[int, str]:
        """Runs a short program; its exit code and standard output. 127 when it is not there."""


class RealShell:
    """The Shell that does it."""

    def __init__(self, log: Path) -> None:
        log.parent.mkdir(parents=True, exist_ok=True)
        self.log = log
        self.environ = dict(os.environ)
        self._out = open(log, "a", encoding="utf-8")
        self._note(f"--- start of {datetime.now().astimezone().isoformat(timespec='seconds')}")

    def say(self, words: str) -> None:
        print(words, flush=True)
        self._note(words)

    def run(self, command: Sequence[str], cwd: Path | None = None, env: Mapping[str, str] | None = None) -> int:
        self._note("$ " + " ".join(command))
        began = time.monotonic()
        # The whole environment goes on: proxy and certificate settings live in it.
        code = subprocess.call(
            list(command),
            cwd=cwd,
            env={**self.environ, **(env or {})},
            stdin=subprocess.DEVNULL,
            stdout=self._out,
            stderr=subprocess.STDOUT,
        )
        self._note(f"= {code} after {time.monotonic() - began:.1f} s")
        return code

    def read(self, command: Sequence[str]) -> tuple[int, str]:
        try:
            done = subprocess.run(
                list(command), env=self.environ, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
            )
        except OSError:
            return 127, ""
        return done.returncode, done.stdout

    def last_lines(self, count: int) -> str:
        """The end of the log, for a person who asks why."""
        self._out.flush()
        return "\n".join(self.log.read_text("utf-8", errors="replace").splitlines()[-count:])

    def _note(self, line: str) -> None:
        self._out.write(line + "\n")
        self._out.flush()
