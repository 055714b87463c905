"""The first person's one-time code: printed at start while there is nobody, gone when somebody is or at a restart."""

from __future__ import annotations

import threading

from loupebook.door import codes, words
from loupebook.door.port import Clock

LONGEST_WAIT_S = 60


class FirstCode:
    """Holds one code in memory, never on disk. Wrong tries make the next one wait 1, 2, 4 ... 60 s, whoever asks."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._hash: str | None = None
        self._wrong = 0
        self._not_before = 0.0

    def draw(self) -> str:
        """A new code; an earlier one no longer fits."""
        code = codes.new_code()
        with self._lock:
            self._hash = codes.code_hash(code)
        return code

    def claim(self, text: str) -> str:
        """Takes the code out of use if `text` is it, and gives what `give_back` needs. Trouble otherwise."""
        with self._lock:
            now = self._clock().timestamp()
            if self._hash is None:
                raise words.first_is_over()
            if now < self._not_before:
                raise words.slow_down(int(self._not_before - now) + 1)
            if not codes.same(self._hash, text):
                self._not_before = now + min(LONGEST_WAIT_S, 1 << min(self._wrong, 6))
                self._wrong += 1
                raise words.wrong_code()
            claimed, self._hash = self._hash, None
            return claimed

    def give_back(self, claimed: str) -> None:
        """The act the code was claimed for did not happen (a weak PIN, a full disk): it may be used again."""
        with self._lock:
            if self._hash is None:
                self._hash = claimed
