"""Hold cards: why a scope must wait for a lead, as far as the server knows."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, bindparam, text

from loupebook.cards.port import Sources
from loupebook.cards.scopes import json_of, last_ended
from loupebook.inspections.rules import held_by_suggestion, standing_of
from loupebook.inspections.tables.stands import STANDS, inspections
from loupebook.scopes.tables.asked import confirmed_of, said_of, unconfirmed

HOLDS = text(
    "SELECT d.version, d.scope, d.begun, d.cause, d.goes, d.reason, d.tag_on, d.note, d.decided, a.person, a.at "
    "FROM json_each(:scopes) w JOIN holds d ON d.scope = w.value AND d.standing = 1 "
    f"JOIN acts a ON a.version = d.version WHERE {STANDS} ORDER BY a.when_ms, d.version"
)
DECIDED = text("SELECT begun FROM holds WHERE begun IN :versions AND decided IS NOT NULL").bindparams(
    bindparam("versions", expanding=True)
)


def hold_cards(connection: Connection, sources: Sources, keys: Sequence[str]) -> list[dict[str, object]]:
    """The standing holds of these scopes, and those that follow from a suggestion made stricter since."""
    if not keys:
        return []
    found = list(connection.execute(HOLDS, {"scopes": json_of(keys)}).mappings())
    named = [str(row["version"]) for row in found]
    said, confirmed = said_of(connection, named), confirmed_of(connection, named)
    rows = [
        {
            "hold": row["version"],
            "scope": row["scope"],
            "begun": row["begun"] or None,
            "cause": row["cause"],
            "goes": row["decided"] or row["goes"],
            "reason": row["reason"],
            "tag_on": None if row["tag_on"] is None else bool(row["tag_on"]),
            "note": row["note"],
            "decided": row["decided"] is not None,
            "person": row["person"],
            "at": row["at"],
            "phoned": [
                {"who": each.said["phone"]["who"], "at": each.said["phone"]["at"], "goes": each.said["goes"],
                 "first": each.said["first"], "words": each.said["words"], "person": each.person}
                for each in unconfirmed(said[row["version"]], confirmed[row["version"]])
            ],
        }
        for row in found
    ]  # fmt: skip
    held = {row["scope"] for row in rows}
    return rows + _suggested(connection, sources, [key for key in keys if key not in held])


def _suggested(connection: Connection, sources: Sources, keys: Sequence[str]) -> list[dict[str, object]]:
    """Scopes whose last inspection, judged on all that is known now, asks for more than was decided."""
    roots = [str(ended[0]["root"]) for ended in last_ended(connection, keys).values() if ended]
    cards: list[dict[str, object]] = []
    for one in inspections(connection, roots):
        begun = [part.begun for part in one.parts]
        decided = connection.execute(DECIDED, {"versions": begun}).first() is not None
        standing = standing_of(one, sources.pin)
        if held_by_suggestion(standing, decided) and standing.suggested is not None:
            card: dict[str, object] = {
                "hold": None,
                "scope": one.parts[0].scope,
                "begun": one.root,
                "cause": "suggested",
            }
            rest = {
                "reason": None,
                "tag_on": None,
                "note": None,
                "decided": False,
                "person": None,
                "at": one.endings[-1].at,
            }
            cards.append(card | {"goes": standing.suggested.goes} | rest)
    return cards
