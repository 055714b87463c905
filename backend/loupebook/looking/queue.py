"""A thread that looks at photos as they come, and tells who asked."""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable, Iterable

from loupebook.looking.look import Look
from loupebook.looking.looker import Looker
from loupebook.vault import Missing, Sha256

log = logging.getLogger(__name__)

OnLook = Callable[[Sha256, Look], None]
"""Called in the queue's thread after each look, also for a look that was already kept. Whatever it raises is
logged; the photo is offered again by the next catch-up."""


QUIET_S = 0.25
"""Seconds without a photo that begins or ends to come in, before one is looked at: receipts go first."""
PATIENCE_S = 2.0
"""How long a photo's look waits for that at most."""


class LookingQueue:
    """Photos wait here for their look. Nothing waits for the queue: a receipt is given before it."""

    def __init__(self, looker: Looker, on_look: OnLook) -> None:
        self._looker, self._on_look = looker, on_look
        self._waiting: queue.SimpleQueue[Sha256 | None] = queue.SimpleQueue()
        self._lock = threading.Condition()
        self._pending: set[Sha256] = set()
        self._closed = False
        self._moved_s = float("-inf")
        self._thread = threading.Thread(target=self._run, name="looking", daemon=True)
        self._thread.start()

    def offer(self, sha256: Sha256) -> None:
        """Queue one photo; returns at once. One that waits already is not queued twice."""
        with self._lock:
            if self._closed or sha256 in self._pending:
                return
            self._pending.add(sha256)
        self._waiting.put(sha256)

    def wait_for_quiet(self) -> None:
        """Photos are on their way in just now, and the processors are theirs; returns at once."""
        self._moved_s = time.monotonic()

    def catch_up(self, photos: Iterable[Sha256]) -> None:
        """Queue all photos that a restart left without a look (the caller knows which: those without a row)."""
        for sha256 in photos:
            self.offer(sha256)

    def settled(self, timeout_s: float | None = None) -> bool:
        """Wait until nothing is pending; False when that took longer."""
        with self._lock:
            return self._lock.wait_for(lambda: not self._pending, timeout_s)

    def close(self) -> None:
        """Stop after the photo in hand, and end the child. What still waits is for the next catch-up."""
        with self._lock:
            self._closed = True
            self._lock.notify_all()
        self._waiting.put(None)
        self._thread.join()
        self._looker.close()

    def _run(self) -> None:
        while (sha256 := self._waiting.get()) is not None:
            self._be_patient()
            if not self._closed:
                self._look(sha256)
            with self._lock:
                self._pending.discard(sha256)
                self._lock.notify_all()

    def _be_patient(self) -> None:
        until = time.monotonic() + PATIENCE_S
        with self._lock:
            while not self._closed:
                now = time.monotonic()
                rest = min(until, self._moved_s + QUIET_S) - now
                if rest <= 0:
                    return
                self._lock.wait(rest)

    def _look(self, sha256: Sha256) -> None:
        try:
            self._on_look(sha256, self._looker.look(sha256))
        except Missing:
            log.info("photo %s was gone before it was looked at", sha256)
        except Exception:  # this thread must outlive whatever one photo or one row does to it
            log.exception("photo %s was not looked at", sha256)
