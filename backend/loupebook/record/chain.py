"""How entries of a chain hang together: place and link. What an entry means is judged in `rules`."""

from __future__ import annotations

from typing import Literal, NamedTuple

from loupebook.record.kinds import Entry

LinkReason = Literal["wrong_chain", "wrong_seq", "broken_link"]
"""wrong_chain: the line names another chain. wrong_seq: another place. broken_link: `prev` is not what is before it."""


class Place(NamedTuple):
    """Where a line stands: its chain, its seq, and the hash before it (the chain's own id before seq 1)."""

    chain: str
    seq: int
    prev: str


def first_place(chain: str) -> Place:
    """Where a chain's first line stands."""
    return Place(chain, 1, chain)


def after(place: Place, hash: str) -> Place:
    """Where the line after this one stands; `hash` is that of the line at `place`."""
    return Place(place.chain, place.seq + 1, hash)


def link_reason(place: Place, entry: Entry) -> LinkReason | None:
    """What the entry says of its own place that is not so."""
    if entry.chain != place.chain:
        return "wrong_chain"
    if entry.seq != place.seq:
        return "wrong_seq"
    return None if entry.prev == place.prev else "broken_link"
