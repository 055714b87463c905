"""The parent's side: one warm child, replaced when it dies or takes too long; every photo gets a look."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from loupebook.looking.frames import read_frame, write_frame
from loupebook.looking.look import Look, look_from_json
from loupebook.vault import (
    THUMB_EDGES,
    Damaged,
    Derived,
    Sha256,
    ThumbEdge,
    Vault,
    read_checked,
    sniff,
)

log = logging.getLogger(__name__)

WALL_S: Final = 30.0
"""Seconds a look may take on the clock, start of the child apart."""

START_S: Final = 60.0
"""Seconds a child may take to start, on a machine that has just been switched on (ours)."""

CHILD: Final = (sys.executable, "-m", "loupebook.looking.child")

Thumbs = dict[ThumbEdge, bytes]


class LookerCannotStart(RuntimeError):
    """The child does not even say it is ready: a library is missing or the memory limit is too low for it."""


class Looker:
    """Looks at photos of a vault and keeps what it found in `derived`. One look at a time; use from any thread.

    Nothing that a photo does to the child reaches the caller: it gets a Look that says what happened.
    """

    def __init__(
        self,
        vault: Vault,
        derived: Derived,
        *,
        command: Sequence[str] = CHILD,
        wall_s: float = WALL_S,
    ) -> None:
        self._vault, self._derived = vault, derived
        self._command, self._wall_s = tuple(command), wall_s
        self._child: _Child | None = None
        self._turn = threading.Lock()

    def look(self, sha256: Sha256) -> Look:
        """The look at that photo: the one kept, or a new one. Missing (no such photo), LookerCannotStart."""
        with self._turn:
            kept = self._kept(sha256)
            if kept is not None:
                return kept
            try:
                found, thumbs = self._look_at(read_checked(self._vault, sha256))
            except Damaged:
                found, thumbs = Look("cannot_be_shown", "damaged"), {}
            self._derived.write(sha256, found.to_json(), thumbs)
            return found

    @property
    def child_pid(self) -> int | None:
        """The process that looks just now, if one is warm."""
        return None if self._child is None else self._child.pid

    def close(self) -> None:
        """End the child."""
        with self._turn:
            self._end_child()

    def _kept(self, sha256: Sha256) -> Look | None:
        record = self._derived.look(sha256)
        if record is None:
            return None
        try:
            return look_from_json(record)
        except ValueError:
            return None

    def _look_at(self, data: bytes) -> tuple[Look, Thumbs]:
        """A child that was warm may have died of something else, so a photo is blamed at its second death only."""
        for _ in range(2):
            answer = self._ask(data)
            if answer is not None:
                return answer
        return Look("cannot_be_shown", "decoder_stopped"), {}

    def _ask(self, data: bytes) -> tuple[Look, Thumbs] | None:
        """The child's answer, or None when it died; then the next one starts anew."""
        if self._child is None:
            self._child = _Child(self._command)
        answer, late = self._child.ask(data, self._wall_s)
        if answer is not None:
            return answer
        self._end_child()
        return (Look("cannot_be_shown", "took_too_long"), {}) if late else None

    def _end_child(self) -> None:
        if self._child is not None:
            self._child.end()
            self._child = None


class _Child:
    """One child process. Pipes block; a timer that kills the child is what ends a wait."""

    def __init__(self, command: Sequence[str]) -> None:
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=_environment())
        assert self._process.stdin is not None and self._process.stdout is not None
        self._to, self._from = self._process.stdin, self._process.stdout
        with _Deadline(self._process, START_S):
            ready = read_frame(self._from)
        if ready is None:
            self.end()
            raise LookerCannotStart(f"{' '.join(command)} ended with {self._process.returncode} before it was ready")
        log.info("looking process %d: %s", self._process.pid, ready.decode("ascii", "replace"))

    @property
    def pid(self) -> int:
        return self._process.pid

    def ask(self, data: bytes, wall_s: float) -> tuple[tuple[Look, Thumbs] | None, bool]:
        """The answer, or None with whether the child was stopped for being late."""
        with _Deadline(self._process, wall_s) as deadline:
            answer = self._exchange(data)
        return answer, deadline.passed

    def end(self) -> None:
        self._process.kill()
        self._process.wait()
        for pipe in (self._to, self._from):
            with contextlib.suppress(OSError):  # what was not yet written to the dead child
                pipe.close()

    def _exchange(self, data: bytes) -> tuple[Look, Thumbs] | None:
        try:
            write_frame(self._to, data)
            self._to.flush()
            head = read_frame(self._from)
            return None if head is None else self._answer(head)
        except (BrokenPipeError, ConnectionResetError):
            return None
        except (ValueError, KeyError, TypeError) as strange:
            log.warning("looking process %d answered nonsense: %s", self.pid, strange)
            return None

    def _answer(self, head: bytes) -> tuple[Look, Thumbs] | None:
        """ValueError, KeyError, TypeError when it is no answer; None when it ends half-way."""
        answer = json.loads(head)
        found = look_from_json(answer["look"])
        thumbs: Thumbs = {}
        for edge in answer["thumbs"]:
            thumb = read_frame(self._from)
            if thumb is None:
                return None
            if edge not in THUMB_EDGES or sniff(thumb) != "image/jpeg":
                raise ValueError("a thumbnail is a JPEG of a known size")
            thumbs[edge] = thumb
        return found, thumbs


class _Deadline:
    """Kills a process unless left in time; `passed` says that it did."""

    def __init__(self, process: subprocess.Popen[bytes], seconds: float) -> None:
        self.passed = False
        self._process = process
        self._timer = threading.Timer(seconds, self._stop)
        self._timer.daemon = True

    def __enter__(self) -> _Deadline:
        self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()
        self._timer.join()  # so that a timer just firing is not left to kill the next photo's child

    def _stop(self) -> None:
        self.passed = True
        self._process.kill()


def _environment() -> dict[str, str]:
    """Ours, with this package on the path and one thread a library: each more would reserve address space."""
    package = str(Path(__file__).parents[2])
    path = os.pathsep.join(filter(None, (package, os.environ.get("PYTHONPATH"))))
    return {**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
