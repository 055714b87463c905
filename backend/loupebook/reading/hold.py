"""One hold: why the scope waits, what was decided so far, and what nobody may decide otherwise."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, text

from loupebook.inspections.rules import Pin, fixed_rows, standing_of
from loupebook.inspections.tables.newer import answered
from loupebook.inspections.tables.stands import STANDS, Held, Inspection, inspections
from loupebook.reading.port import Sources
from loupebook.reading.shown import hold_shown, names_of, person_shown, scope_shown
from loupebook.reading.today import sent_back_before
from loupebook.rules.duties import SOURCE, duties_of
from loupebook.scopes.tables.known import scopes_known

HOLD = text(
    "SELECT d.version, a.entry, d.scope, d.begun, d.cause, d.goes, d.reason, d.tag_on, d.note, d.decided, d.standing, "
    "a.person, a.chain, a.how, a.proved, a.ticket, a.at, a.when_ms FROM holds d JOIN acts a ON a.version = d.version "
    f"WHERE d.version = :hold AND {STANDS}"
)
ROOT = text("SELECT root FROM inspection_parts WHERE begun = :begun LIMIT 1")
DECISIONS = text(
    "SELECT d.goes, d.first, d.reason, a.person, a.at FROM hold_decisions d JOIN acts a ON a.version = d.version "
    "WHERE d.hold = :hold ORDER BY d.seq"
)


def hold_of(connection: Connection, hold: str) -> Held | None:
    """The hold, where it stands in the record; a decision does not end that."""
    row = connection.execute(HOLD, {"hold": hold}).first()
    return None if row is None else Held(*row)


def inspection_of(connection: Connection, hold: Held) -> Inspection | None:
    """The whole inspection a hold hangs on; none where a person placed it outside of one."""
    root = connection.execute(ROOT, {"begun": hold.begun}).scalar() if hold.begun else None
    found = inspections(connection, [root]) if root else []
    return found[0] if found else None


def fixed_of(connection: Connection, pin: Pin, one: Inspection) -> list[str]:
    """The rows that keep its scope from going on, whoever decides, until a newer look or test."""
    head = one.parts[0]
    standing = standing_of(one, pin, *sent_back_before(connection, one))
    return fixed_rows(
        standing,
        pin(head.policy),
        lambda fact: answered(connection, head.scope, one.root, head.when_ms, fact),
    )


def duties_shown(when_ms: int, zone: str) -> dict[str, str]:
    """The dates that would run from the day of the hold, if anybody became aware of harm on it, and their source."""
    day = datetime.fromtimestamp(when_ms / 1000, UTC).astimezone(ZoneInfo(zone)).date()
    dates = duties_of(day)
    return {
        "aware": dates.aware.isoformat(),
        "report_by": dates.report_by.isoformat(),
        "keep_until": dates.keep_until.isoformat(),
        "source": SOURCE,
    }


def hold_page(connection: Connection, sources: Sources, hold: str) -> dict[str, object] | None:
    """The whole answer of `GET /lead/holds/{hold}`; nothing where there is none."""
    held = hold_of(connection, hold)
    if held is None:
        return None
    one = inspection_of(connection, held)
    decisions = [dict(row) for row in connection.execute(DECISIONS, {"hold": hold}).mappings()]
    named = {held.person, *(str(row["person"]) for row in decisions)}
    return {
        "position": sources.position(connection),
        "hold": hold_shown(held, names_of(connection, sources, sources.stations(connection))),
        "scope": scope_shown(scopes_known(connection, [held.scope])[held.scope]) if held.scope else None,
        "root": one.root if one else None,
        "point": one.parts[0].point if one else None,
        "fixed": fixed_of(connection, sources.pin, one) if one else [],
        "decisions": decisions,
        "duties": duties_shown(held.when_ms, sources.facility().zone),
        "people": [person_shown(person) for person in sources.people(connection) if person.id in named],
    }
