"""The examples that stand, as a lead manages them."""

from __future__ import annotations

from dataclasses import asdict

from sqlalchemy import Connection

from loupebook.inspections.tables.examples import examples
from loupebook.inspections.tables.laid import laid_over, shown_over
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown


def examples_page(connection: Connection, sources: Sources) -> dict[str, object]:
    """The whole answer of `GET /lead/examples`: by finding and grade, the newest first; a hidden one says so."""
    standing = examples(connection)
    here = sources.photos_here(connection, sorted({each.photo for each in standing}))
    over = laid_over(connection, (each.photo for each in standing if not each.hidden))
    chosen_by = {each.person for each in standing}
    return {
        "position": sources.position(connection),
        "examples": [
            asdict(each) | {"hidden": bool(each.hidden), "here": each.photo in here} | shown_over(over, each.photo)
            for each in standing
        ],
        "people": [person_shown(person) for person in sources.people(connection) if person.id in chosen_by],
    }
