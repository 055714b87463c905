"""Why the server cannot be given to the building."""

from __future__ import annotations


class NetworkRefused(Exception):
    """A name, an address or a certificate cannot be used: what is so, and what to do next."""

    def __init__(self, so: str, next_step: str) -> None:
        super().__init__(so, next_step)
        self.so, self.next_step = so, next_step

    def __str__(self) -> str:
        """As the start says it: nothing has run yet."""
        return f"{self.so} Nothing was started. {self.next_step}"


def refused(so: str, next_step: str) -> NetworkRefused:
    """To be raised."""
    return NetworkRefused(so, next_step)
