"""How long the record is meant to be kept, who said so, and from when on it would be past that. Deletes nothing."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown
from loupebook.rules.duties import years_after
from loupebook.scopes.tables.retention import limits, oldest


def retention_page(connection: Connection, sources: Sources) -> dict[str, object]:
    """The whole answer of `GET /lead/retention`. `before`: what is older than this day is past the limit."""
    said = limits(connection)
    now = datetime.fromtimestamp(sources.now_ms() / 1000, UTC).astimezone(ZoneInfo(sources.facility().zone)).date()
    years = said[0].years if said else None
    named = {each.person for each in said}
    first = oldest(connection)
    before = years_after(now, -years).isoformat() if years else None
    return {
        "position": sources.position(connection),
        "years": years,
        "before": before,
        "oldest": first,
        "past": bool(before and first and first[:10] < before),
        "words": [asdict(each) for each in said],
        "people": [person_shown(person) for person in sources.people(connection) if person.id in named],
    }
