"""How each entry's person was proved, as far as the door knows: what an entry claims is held against its ticket."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain as joined
from typing import Literal, Protocol

from sqlalchemy import Connection

from loupebook.inspections.tables.stands import Inspection
from loupebook.reading.port import Sources

Proved = Literal["confirmed", "offline", "named", "unknown"]
"""confirmed: the door issued this ticket to this person at this station · offline: the tablet's own check, the
server's word is not in it · named: chosen from the list, not proved · unknown: said to be online, and the door
never issued such a ticket to this person at this station."""


class Claim(Protocol):
    """What an entry says of its proof."""

    @property
    def entry(self) -> str: ...
    @property
    def chain(self) -> str: ...
    @property
    def person(self) -> str: ...
    @property
    def how(self) -> str: ...
    @property
    def proved(self) -> str: ...
    @property
    def ticket(self) -> str | None: ...


@dataclass(frozen=True)
class Tickets:
    """Tickets by id as (person, station), and each chain's station."""

    issued: Mapping[str, tuple[str, str]]
    stations: Mapping[str, str]

    def proved(self, claim: Claim) -> Proved:
        """How the person of an entry was proved."""
        if claim.how == "named":
            return "named"
        if claim.proved == "offline":
            return "offline"
        issued = self.issued.get(claim.ticket or "")
        return "confirmed" if issued == (claim.person, self.stations.get(claim.chain)) else "unknown"

    def unknown(self, one: Inspection) -> list[str]:
        """The entries of an inspection whose online proof the door does not know, each once."""
        return list(dict.fromkeys(each.entry for each in claims_of(one) if self.proved(each) == "unknown"))


def claims_of(one: Inspection) -> Iterable[Claim]:
    """Everything that stands of an inspection, and what took something of it back or hid a photo of it."""
    return joined(
        one.parts, one.serials, one.marks, one.findings, one.readings, one.runs, one.endings, one.photos,
        one.holds, one.serial_readings, one.acts,
    )  # fmt: skip


def tickets_of(
    connection: Connection, sources: Sources, claims: Iterable[Claim], stations: Mapping[str, str]
) -> Tickets:
    """The tickets these claims name, in one query. `stations`: chain -> the id of its station."""
    named = {each.ticket for each in claims if each.proved == "online" and each.ticket is not None}
    return Tickets(sources.tickets(connection, sorted(named)) if named else {}, stations)
