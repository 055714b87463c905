"""Counts what a running server makes durable: its fsync and fdatasync calls, seen by strace from outside."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

CALLS = "fsync,fdatasync,sync,syncfs"
CALL = re.compile(r"\b(?:fsync|fdatasync|sync|syncfs)\(")
CANNOT = shutil.which("strace") is None or os.geteuid() != 0
"""Whether this account cannot look: no strace, or no right to attach it."""


@dataclass
class Syncs:
    """How many there were; known once the counting has ended."""

    number: int = 0


@contextmanager
def counted(pid: int, trace: Path, each_ms: int = 0) -> Iterator[Syncs]:
    """Counts the calls of a process and all its threads while the block runs; every call that a reply waited for is in.

    A call is written down when it is entered and when it is resumed; only entering counts. `each_ms` makes every call
    take so much longer, as a slow disk does.
    """
    command = ["strace", "-f", "-p", str(pid), "-o", str(trace), "-e", f"trace={CALLS}"]
    if each_ms:
        command += ["-e", f"inject={CALLS}:delay_exit={each_ms * 1000}"]
    strace = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    syncs = Syncs()
    try:
        assert strace.stderr is not None
        seen = strace.stderr.readline()
        assert "attached" in seen, seen
        yield syncs
    finally:
        strace.terminate()
        strace.communicate(timeout=60)
    syncs.number = len(CALL.findall(trace.read_text()))
