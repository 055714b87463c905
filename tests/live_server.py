"""A real server in a process of its own, for tests that talk to it over HTTP."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Any, Protocol

ROOT = Path(__file__).resolve().parents[1]


class Running(Protocol):
    """What is used of a process that runs."""

    @property
    def pid(self) -> int: ...

    @property
    def stdout(self) -> IO[str] | None: ...

    @property
    def returncode(self) -> int | Any: ...

    def send_signal(self, sig: int) -> None: ...

    def communicate(self, *, timeout: float) -> tuple[str, str | None]: ...


class LiveServer:
    """`loupebook serve` on a loopback port that stays the same over restarts.

    Its data folder outlives `stop` and `kill`. What it prints goes to `log`.
    """

    def __init__(self, data: Path, environ: dict[str, str] | None = None) -> None:
        self.data = data
        self.log = data.with_name(data.name + ".log")
        self.port = 0
        self.printed: list[str] = []
        self._environ = environ or {}
        self._process: Running | None = None
        self._out: IO[str] | None = None

    @property
    def url(self) -> str:
        """The address, without a slash at its end."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def pid(self) -> int:
        """The number of the running process."""
        return self._running().pid

    def start(self, **environ: str) -> LiveServer:
        """Starts it with `environ` on top of the environment; returns once it answers.

        Raises AssertionError with its words if it ends instead.
        """
        assert self._process is None, "it runs already"
        self._out = open(self.log, "a", encoding="utf-8")
        words = ["serve", "--no-browser", "--port", str(self.port), "--data", str(self.data)]
        env = {**os.environ, "PYTHONPATH": str(ROOT / "backend"), **self._environ, **environ}
        self._process = self._begin(words, env, self._out)
        self.printed = []
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.printed.append(line.rstrip("\n"))
            if line.strip().startswith("Open "):
                port = int(line.rsplit(":", 1)[1])
                assert self.port in (0, port), f"port {self.port} was taken by another program"
                self.port = port
            if line.strip().startswith("Back up "):
                return self
        self._process.communicate(timeout=60)
        self._process = None
        self._out.close()
        raise AssertionError("the server ended:\n" + "\n".join(self.printed) + self.log.read_text("utf-8"))

    def _begin(self, words: Sequence[str], env: dict[str, str], out: IO[str]) -> Running:
        """A process of `loupebook WORDS`; what it tells of trouble goes to `out`."""
        command = [sys.executable, "-m", "loupebook", *words]
        return subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=out, text=True)

    def said(self, words: str) -> str:
        """The first printed line with these words; reads on until it comes."""
        for line in self.printed:
            if words in line:
                return line
        out = self._running().stdout
        assert out is not None
        for line in out:
            self.printed.append(line.rstrip("\n"))
            if words in line:
                return self.printed[-1]
        raise AssertionError(f"never said: {words}")

    def stop(self) -> int:
        """Stops it as a person does; its exit code."""
        return self._end(signal.SIGINT)

    def kill(self) -> None:
        """Ends it as a power cut does to a process."""
        self._end(signal.SIGKILL)

    def close(self) -> None:
        """Ends it if it runs."""
        if self._process is not None:
            self.kill()

    def _running(self) -> Running:
        assert self._process is not None, "it does not run"
        return self._process

    def _end(self, number: int) -> int:
        process = self._running()
        process.send_signal(number)
        rest, _ = process.communicate(timeout=60)
        self.printed += rest.splitlines()
        self._process = None
        if self._out is not None:
            self._out.close()
        return int(process.returncode)
