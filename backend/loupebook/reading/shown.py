"""How rows and values are shown: plain dictionaries of ids, hashes and numbers. Words are made on the screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Connection

from loupebook.inspections.rules import OpenPoint, Standing, Stop, mark_of, urgency
from loupebook.inspections.tables.hidden import HiddenAct
from loupebook.inspections.tables.stands import Held, Laid, Photo, Row, Seen
from loupebook.reading.port import Sources
from loupebook.reading.proofs import Claim, Tickets, tickets_of
from loupebook.record.kinds import Length
from loupebook.rules.measure import said_by
from loupebook.scopes.tables.known import Facility, Person, ScopeKnown, Station

JSON_TEXT = frozenset(
    """rings arrows lengths beside taken steps parts rows relies elsewhere left_out none_here not_due counts""".split()
)
ACT = frozenset(Row.__struct_fields__)
POLICY_ROW = ("first", "goes", "override", "words", "source")


@dataclass(frozen=True)
class Names:
    """Who is who, and who was proved to be so: stations by chain, the tickets named in an answer."""

    stations: Mapping[str, Station]
    tickets: Tickets

    def station(self, chain: str) -> str | None:
        """The station that writes or wrote a chain."""
        found = self.stations.get(chain)
        return found.name if found else None


def names_of(
    connection: Connection, sources: Sources, stations: Sequence[Station], claims: Iterable[Claim] = ()
) -> Names:
    """The stations, and the tickets that these claims name: one query."""
    by_chain = {chain: station for station in stations for chain in station.chains}
    ids = {chain: station.id for chain, station in by_chain.items()}
    return Names(by_chain, tickets_of(connection, sources, claims, ids))


def person_shown(person: Person) -> dict[str, object]:
    return {"id": person.id, "name": person.name, "initials": person.initials, "roles": list(person.roles)}


def facility_shown(facility: Facility) -> dict[str, object]:
    """Name, zone and shift hours: with a place and a date they name every shift."""
    shifts = [{"name": name, "begins": begins, "ends": ends} for name, begins, ends in facility.shifts]
    return {"name": facility.name, "zone": facility.zone, "shifts": shifts}


def scope_shown(scope: ScopeKnown) -> dict[str, object]:
    return {
        "key": scope.key,
        "on_record": scope.on_record,
        "kind": scope.scope_kind,
        "serial": scope.serial,
        "di": scope.di,
        "maker": scope.maker,
        "model": scope.model,
        "tag": scope.tag,
    }


def by_shown(row: Row, names: Names) -> dict[str, object]:
    """Who wrote it, when, how proved, on which station and build; `entry` is its hash for ever.

    `proved`: confirmed, offline, named or unknown (see `proofs`).
    """
    return {
        "entry": row.entry,
        "version": row.version,
        "chain": row.chain,
        "seq": row.seq,
        "station": names.station(row.chain),
        "person": row.person,
        "how": row.how,
        "proved": names.tickets.proved(row),
        "build": row.build,
        "at": row.at,
        "received_at": row.received_at,
    }


def row_shown(row: Row, names: Names) -> dict[str, object]:
    """All a row says, beside `by`. Lists come as lists, yes and no as such."""
    shown: dict[str, object] = {"by": by_shown(row, names), "begun": row.begun}
    for name in row.__struct_fields__:
        if name in ACT:
            continue
        value = getattr(row, name)
        if name in JSON_TEXT and value is not None:
            value = msgspec.json.decode(value)
        elif name in ("practice", "tag_on") and value is not None:
            value = bool(value)
        shown[name] = value
    return shown


def hold_shown(hold: Held, names: Names) -> dict[str, object]:
    return {
        "hold": hold.version,
        "scope": hold.scope,
        "begun": hold.begun or None,
        "cause": hold.cause,
        "goes": hold.goes,
        "reason": hold.reason,
        "tag_on": None if hold.tag_on is None else bool(hold.tag_on),
        "note": hold.note,
        "decided": hold.decided,
        "standing": bool(hold.standing),
        "person": hold.person,
        "station": names.station(hold.chain),
        "at": hold.at,
    }


def finding_shown(row: Seen, catalogue: Mapping[str, Any] | None) -> dict[str, object]:
    """A finding in short, with the class and urgency of the pinned catalogue."""
    known = (catalogue or {}).get("findings", {}).get(row.finding, {})
    urgent = urgency(catalogue, row.finding)
    return {
        "entry": row.entry,
        "part": row.part,
        "finding": row.finding,
        "class": known.get("class"),
        "urgency": urgent,
        "out_of_use": urgent == "stop",
        "grade": row.grade,
        "since": row.since,
    }


def photo_shown(
    photo: Photo, here: set[str], restricted: set[str], story: Mapping[str, Sequence[HiddenAct]], names: Names
) -> dict[str, object]:
    """`hiding`: who hid it, showed it again or looked at it, when and why; empty for nearly every photo."""
    shown = row_shown(photo, names)
    hiding = [hidden_act_shown(act, names) for act in story.get(photo.sha256, ())]
    erased = any(act["kind"] == "photo.erased" for act in hiding)
    is_here = photo.sha256 in here and not erased
    return shown | {"here": is_here, "restricted": photo.sha256 in restricted, "erased": erased, "hiding": hiding}


def hidden_act_shown(act: HiddenAct, names: Names) -> dict[str, object]:
    """`ends` is the entry that this one ends: it hides the photo no more, or what it asked for was done."""
    return {
        "entry": act.entry,
        "kind": act.kind,
        "person": act.person,
        "station": names.station(act.chain),
        "at": act.at,
        "ends": act.restriction if act.kind in ("photo.shown_again", "photo.erased") else None,
        "reason": act.reason,
    }


def laid_shown(row: Laid, names: Names) -> dict[str, object]:
    """What an entry lays over a photo; each length with what it `says` in micrometres, None where it says nothing."""
    lengths = msgspec.json.decode(row.lengths, type=list[Length])
    told = [msgspec.to_builtins(each) | {"says": said_by(each)} for each in lengths]
    return row_shown(row, names) | {"lengths": told}


def point_shown(point: OpenPoint) -> dict[str, object]:
    return {"what": point.what, **point.about}


def stop_shown(stop: Stop, names: Names) -> dict[str, object]:
    """A stop of the route: the mark that counts, and each it comes from."""
    return {
        "id": stop.id,
        "mark": stop.mark,
        "out_of_use": stop.out_of_use,
        "marks": [
            {
                "mark": mark_of(row),
                "zone": None if isinstance(row, Seen) else row.zone,
                "reason": None if isinstance(row, Seen) else row.reason,
                "tool": None if isinstance(row, Seen) else row.tool,
                "begun": row.begun,
                "by": by_shown(row, names),
            }
            for row in stop.marks
        ],
    }


def suggested_shown(standing: Standing, policy: Mapping[str, Any] | None) -> object:
    """What the policy asks for now, with each row that spoke, its source, and the fact it spoke to."""
    if standing.suggested is None:
        return None
    rows = {row["id"]: row for row in (policy or {}).get("rows", ())}
    return {
        "first": standing.suggested.first,
        "goes": standing.suggested.goes,
        "rows": [
            {
                "row": spoken.row,
                "entry": standing.entries[spoken.fact],
                "fact": standing.facts[spoken.fact],
                **{
                    name: rows.get(spoken.row, {}).get(name)
                    for name in ("first", "goes", "override", "words", "source")
                },
            }
            for spoken in standing.suggested.rows
        ],
    }
