"""What the record says of the scopes and people a file may mean: a few indexed queries a file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set

from sqlalchemy import Connection, bindparam, select, text

from loupebook.bulk.machine_log import Named
from loupebook.bulk.people import PersonOnRecord, compared
from loupebook.bulk.scopes import OnRecord, Row
from loupebook.door.rights import roles_of
from loupebook.door.tables import Person, PersonName
from loupebook.log.declared import table_of
from loupebook.scopes.tables.known import ScopeKnown, scopes_known

AT_ONCE = 400
"""Values asked for in one statement."""

_SERIALS = text("SELECT DISTINCT scope FROM scope_records WHERE serial_low IN :values").bindparams(
    bindparam("values", expanding=True)
)
_TAGS = text("SELECT DISTINCT scope FROM scope_records WHERE tag_low IN :values").bindparams(
    bindparam("values", expanding=True)
)
_person = table_of(Person)
_name = table_of(PersonName)


def scopes_on_record(read: Connection, rows: Sequence[Row]) -> OnRecord:
    """The scopes that these rows name, and those with one of their serial numbers or tags."""
    keys = {row.identity.key for row in rows if row.identity is not None}
    serials = {row.identity.serial.lower() for row in rows if row.identity is not None}
    tags = {row.said["tag"].lower() for row in rows if row.said["tag"]}
    return _on_record(read, keys, serials, tags)


def named_on_record(read: Connection, named: Named) -> OnRecord:
    """The scopes on record that the rows of a machine's log may mean; none that nobody ever described or registered."""
    found = _on_record(read, named.keys, named.serials, named.tags)
    known = {key: scope for key, scope in found.known.items() if scope.on_record != "unknown"}
    return OnRecord(known, found.by_serial, found.by_tag)


def _on_record(read: Connection, keys: Set[str], serials: Set[str], tags: Set[str]) -> OnRecord:
    also = [scope for each in _parted(serials) for scope in read.execute(_SERIALS, {"values": each}).scalars()]
    also += [scope for each in _parted(tags) for scope in read.execute(_TAGS, {"values": each}).scalars()]
    known: dict[str, ScopeKnown] = {}
    for part in _parted([*keys, *also]):
        known |= scopes_known(read, part)
    by_serial: dict[str, list[ScopeKnown]] = {}
    by_tag: dict[str, list[ScopeKnown]] = {}
    for scope in known.values():
        if scope.on_record != "unknown":
            by_serial.setdefault((scope.serial or "").lower(), []).append(scope)
            by_tag.setdefault((scope.tag or "").lower(), []).append(scope)
    return OnRecord(known, by_serial, by_tag)


def people_on_record(read: Connection) -> dict[str, PersonOnRecord]:
    """Everybody by their name as it is compared; of two with one name, one that is not switched off."""
    rows = read.execute(
        select(_person.c.person, _person.c.roles, _person.c.active, _name.c.name)
        .join(_name, _name.c.person == _person.c.person)
        .order_by(_person.c.active, _person.c.person)
    )
    return {
        compared(row.name): PersonOnRecord(row.person, row.name, roles_of(row.roles), bool(row.active)) for row in rows
    }


def _parted(values: Iterable[str]) -> Iterable[list[str]]:
    every = sorted(set(values))
    return [every[at : at + AT_ONCE] for at in range(0, len(every), AT_ONCE)]
