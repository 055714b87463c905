"""Finding a scope by what is printed or stuck on it: the beginning of a serial number or tag, or a whole code."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, text

from loupebook.log.asking import ask_values
from loupebook.reading.shown import scope_shown
from loupebook.rules.codes import key_of, read_code
from loupebook.scopes.tables.known import described, scopes_known

MOST = 40
# A range over the index, not LIKE: it stays an index search whatever the collation.
FIND = text(
    "SELECT scope FROM (SELECT scope FROM scope_records WHERE serial_low >= :low AND serial_low < :end "
    "UNION SELECT scope FROM scope_records WHERE tag_low >= :low AND tag_low < :end "
    "UNION SELECT scope FROM scope_codes WHERE code = :code "
    "UNION SELECT scope FROM scope_records WHERE scope = :key) ORDER BY scope LIMIT :most"
)


MOST_LISTED = 200
ALL = text(
    "SELECT scope FROM scope_records WHERE source = 'described' GROUP BY scope ORDER BY min(tag_low), scope LIMIT :most"
)
"""A scope described anew keeps its place by its lowest tag: an order that stays, not one to be read as the tag's."""


def find_scopes(connection: Connection, wanted: str) -> dict[str, object]:
    """At most 40 scopes, or with nothing to find the first 200 on record; `more` says that there are others."""
    low = wanted.strip().lower()
    if not low:
        return _shown(connection, ask_values(connection, ALL, {"most": MOST_LISTED + 1}), MOST_LISTED)
    return _shown(connection, found_keys(connection, wanted), MOST)


def found_keys(connection: Connection, wanted: str) -> list[str]:
    """The keys of what is found, at most one more than are shown."""
    text, key = _named(wanted.strip())
    low = text.lower()
    given = {"low": low, "end": low + "\U0010ffff", "code": wanted.strip(), "key": key, "most": MOST + 1}
    return [str(key) for key in ask_values(connection, FIND, given)]


def _named(text: str) -> tuple[str, str]:
    """What a text names: the tag or serial number to look for, and the key, where it is a code that was scanned."""
    code = read_code(text, today_year=datetime.now(UTC).year)
    own = code.get("own")
    word = own["value"] if own is not None and own["kind"] == "scope" else text
    return word, key_of(code) or word


def _shown(connection: Connection, keys: Sequence[str], most: int) -> dict[str, object]:
    known = scopes_known(connection, keys[:most])
    return {"scopes": [scope_shown(known[key]) for key in keys[:most]], "more": len(keys) > most}


def whole_scope(connection: Connection, key: str) -> dict[str, object] | None:
    """All that is on record of one scope, and the entry that says so; nothing where it was never named on record."""
    scope = scopes_known(connection, [key])[key]
    if scope.on_record == "unknown":
        return None
    return scope_shown(scope) | described(scope) | {"version": scope.version}
