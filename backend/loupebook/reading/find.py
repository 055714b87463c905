"""Finding a scope by what is printed or stuck on it: the beginning of a serial number or tag, or a whole code."""

from __future__ import annotations

from sqlalchemy import Connection, text

from loupebook.reading.shown import scope_shown
from loupebook.scopes.tables.known import scopes_known

MOST = 40
# A range over the index, not LIKE: it stays an index search whatever the collation.
FIND = text(
    "SELECT scope FROM (SELECT scope FROM scope_records WHERE serial_low >= :low AND serial_low < :end "
    "UNION SELECT scope FROM scope_records WHERE tag_low >= :low AND tag_low < :end "
    "UNION SELECT scope FROM scope_codes WHERE code = :code) ORDER BY scope LIMIT :most"
)


def find_scopes(connection: Connection, wanted: str) -> dict[str, object]:
    """At most 40 scopes; `more` says that there are others."""
    low = wanted.strip().lower()
    if not low:
        return {"scopes": [], "more": False}
    given = {"low": low, "end": low + "\U0010ffff", "code": wanted.strip(), "most": MOST + 1}
    keys = list(connection.execute(FIND, given).scalars())
    known = scopes_known(connection, keys[:MOST])
    return {"scopes": [scope_shown(known[key]) for key in keys[:MOST]], "more": len(keys) > MOST}
