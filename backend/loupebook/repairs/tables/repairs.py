"""What stands of the repairs of scopes, read from their words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.cycle import arrived, cycle_events
from loupebook.inspections.tables.stands import STANDS
from loupebook.log.asking import ask_by_name, ask_value, ask_values
from loupebook.rules.repair import ASKS, OPENS, Event, Loaner, Look, Repair, What, loaner_of, repair_of

WORDS = text(
    "SELECT d.scope, a.entry, a.version, d.what, d.repair, d.basis, d.over, d.inspections, d.photos, d.said, "
    "o.person, o.at, o.when_ms, o.received_at, a.withdrawn_by "
    "FROM json_each(:scopes) w JOIN repair_words d ON d.scope = w.value JOIN acts a ON a.version = d.version "
    "JOIN acts o ON o.version = a.entry WHERE a.replaced_by IS NULL"
)
"""A correction stands in the place of what it corrects, under its first entry; who and when stay those of the first."""

HELD = text(
    "SELECT d.scope, a.entry, d.what, a.version, o.person, o.at, o.when_ms, o.received_at FROM json_each(:scopes) w "
    "JOIN readings d ON d.scope = w.value JOIN acts a ON a.version = d.version JOIN acts o ON o.version = a.entry "
    f"WHERE d.result IN ('held', 'within_limit') AND {STANDS}"
)
"""Tests that held: asked only of scopes of which one failed."""

SERIALS = text(
    "SELECT w.value FROM json_each(:scopes) w WHERE EXISTS (SELECT 1 FROM serial_photos d "
    "JOIN acts a ON a.version = d.version WHERE d.scope = w.value AND d.agrees <> 'no' "
    "AND a.replaced_by IS NULL AND a.withdrawn_by IS NULL)"
)


@dataclass(frozen=True, slots=True)
class Said:
    """One word about a repair with what only screens and papers show of it."""

    event: Event
    at: str
    inspections: tuple[str, ...]
    photos: tuple[str, ...]
    version: str
    """The entry whose body this is: the first one's, or a correction's."""


def repair_words(connection: Connection, keys: Sequence[str]) -> dict[str, list[Said]]:
    """Per scope every word about its repairs that counts, in no order."""
    found: dict[str, list[Said]] = {key: [] for key in keys}
    if not keys:
        return found
    for row in ask_by_name(connection, WORDS, {"scopes": _json(keys)}):
        found[row["scope"]].append(_said(row))
    failed = [key for key, words in found.items() if any(word.event.what == "leak_test" for word in words)]
    for key, word in _held(connection, failed):
        found[key].append(word)
    return found


def _held(connection: Connection, keys: Sequence[str]) -> list[tuple[str, Said]]:
    """The newest test of each sort that held, of these scopes."""
    if not keys:
        return []
    newest: dict[tuple[str, str], tuple[str, Said]] = {}
    for row in ask_by_name(connection, HELD, {"scopes": _json(keys)}):
        sort = (str(row["scope"]), str(row["what"]))
        event = Event(
            row["entry"],
            "test_held",
            row["person"],
            arrived(row["when_ms"], row["received_at"]),
            said={"what": row["what"]},
        )
        word = Said(event, row["at"], (), (), row["version"])
        if sort not in newest or _later(word, newest[sort][1]):
            newest[sort] = (sort[0], word)
    return list(newest.values())


def _later(one: Said, other: Said) -> bool:
    return (one.event.at_ms, one.event.entry) > (other.event.at_ms, other.event.entry)


def looks_of(connection: Connection, keys: Sequence[str]) -> dict[str, list[Look]]:
    """Per scope its newest acceptances and processings, as the rules of repair read them."""
    names: dict[str, Literal["acceptance", "processed"]] = {"acceptance": "acceptance", "processed": "processed"}
    return {
        key: [
            Look(event.entry, names[event.what], event.at_ms, event.goes or "")
            for event in events
            if event.what in names
        ]
        for key, events in cycle_events(connection, keys).items()
    }


@dataclass(frozen=True, slots=True)
class Told:
    """All that is known of the repair and of the loan of a scope: either may be nothing."""

    words: list[Said]
    repair: Repair | None
    loaner: Loaner | None


ANY = text("SELECT 1 FROM repair_words WHERE scope = :scope LIMIT 1")


def ever_said(connection: Connection, key: str) -> bool:
    """Whether anything was ever said of a repair or a loan of this scope."""
    return ask_value(connection, ANY, {"scope": key}) is not None


EVER_MS = 2**53
"""Later than any moment."""


def told_of(connection: Connection, keys: Sequence[str], until_ms: int = EVER_MS) -> dict[str, Told]:
    """Per scope what stands of its repair and of its loan; with `until_ms`, what stood then by what is known now."""
    words, seen = repair_words(connection, keys), serials_seen(connection, keys)
    looks = looks_of(connection, keys)
    told = {}
    for key in keys:
        events = [word.event for word in words[key] if word.event.at_ms <= until_ms]
        known = [look for look in looks[key] if look.at_ms <= until_ms]
        told[key] = Told(words[key], repair_of(events, key in seen, known), loaner_of(events, known))
    return told


def serials_seen(connection: Connection, keys: Sequence[str]) -> set[str]:
    """Those of the scopes whose serial number was photographed and did not contradict."""
    if not keys:
        return set()
    return set(ask_values(connection, SERIALS, {"scopes": _json(keys)}))


def in_hand(words: Sequence[Said]) -> list[Said]:
    """What still says something of now: without what a lead closed, and without steps of that."""
    closed = {
        entry for word in words if word.event.what == "closed" and not word.event.undone for entry in word.event.over
    }
    openers = ASKS | OPENS
    return [
        word
        for word in words
        if word.event.what != "closed"
        and (word.event.entry if word.event.what in openers else word.event.repair) not in closed
    ]


def _said(row: Mapping[Any, Any]) -> Said:
    photos = tuple(_list(row["photos"]))
    event = Event(
        entry=row["entry"],
        what=msgspec.convert(row["what"], What),
        person=row["person"],
        at_ms=arrived(row["when_ms"], row["received_at"]),
        repair=row["repair"],
        basis=row["basis"],
        over=tuple(_list(row["over"])),
        undone=row["withdrawn_by"] is not None,
        said=msgspec.json.decode(row["said"]),
        photos=len(photos),
    )
    return Said(event, row["at"], tuple(_list(row["inspections"])), photos, row["version"])


def _list(value: object) -> list[str]:
    return msgspec.json.decode(str(value), type=list[str])


def _json(keys: Sequence[str]) -> str:
    return msgspec.json.encode(list(keys)).decode()
