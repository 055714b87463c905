"""People and stations as the entries tell them. All five kinds are on the server's one chain: their order is given."""

from __future__ import annotations

from collections.abc import Iterable

from loupebook.door.rights import roles_text
from loupebook.door.tables import (
    ADD_CHAIN,
    ADD_PERSON,
    ADD_RECOVERED,
    ADD_STATION,
    CHANGE_PERSON,
    MOVE_STATION,
    REVOKE_STATION,
)
from loupebook.log.port import Change, Counted, Fold
from loupebook.record.kinds import (
    PersonAdded,
    PersonChanged,
    StationChained,
    StationEnrolled,
    StationRevoked,
)


def person_added(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, PersonAdded)
    yield Change(
        ADD_PERSON,
        {
            "person": body.person,
            "roles": roles_text(body.roles),
            "active": 1,
            "changed": counted.changed,
        },
    )


def person_changed(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, PersonChanged)
    yield Change(
        CHANGE_PERSON,
        {
            "of_person": body.person,
            "roles": roles_text(body.roles),
            "active": int(body.active),
            "changed": counted.changed,
        },
    )
    if isinstance(body.by, str):
        station = body.station if isinstance(body.station, str) else None
        at = counted.entry.at
        row = {"entry": counted.hash, "person": body.person, "station": station, "at": at, "by": body.by}
        yield Change(ADD_RECOVERED, row)


def station_enrolled(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, StationEnrolled)
    yield Change(
        ADD_STATION,
        {
            "station": body.station,
            "chain": body.chain,
            "name": body.name,
            "place": body.place,
            "side": body.side,
            "points": " ".join(body.points),
            "revoked": 0,
            "enrolled_at": counted.entry.at,
            "changed": counted.changed,
        },
    )
    yield Change(ADD_CHAIN, {"chain": body.chain, "station": body.station, "old_chain": None, "why": None})


def station_chained(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, StationChained)
    yield Change(
        ADD_CHAIN,
        {"chain": body.chain, "station": body.station, "old_chain": body.old_chain, "why": body.why},
    )
    yield Change(
        MOVE_STATION,
        {"of_station": body.station, "chain": body.chain, "changed": counted.changed},
    )


def station_revoked(counted: Counted) -> Iterable[Change]:
    body = counted.body
    assert isinstance(body, StationRevoked)
    yield Change(REVOKE_STATION, {"of_station": body.station, "changed": counted.changed})


FOLDS: dict[str, Fold] = {
    "person.added": person_added,
    "person.changed": person_changed,
    "station.enrolled": station_enrolled,
    "station.chained": station_chained,
    "station.revoked": station_revoked,
}
