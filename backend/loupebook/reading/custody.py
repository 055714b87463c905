"""Who has a scope, since when, and what was said where that is in doubt, as the desk shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec
from sqlalchemy import Connection, text

from loupebook.inspections.tables.hidden import hidden_now
from loupebook.log.asking import ask
from loupebook.reading.port import Sources
from loupebook.repairs.tables import words_of
from loupebook.rules.custody import HOUSE, Custody, Event, Holder, unseen

Row = dict[str, object]
PHOTOS = text(
    f"SELECT w.value, d.sha256, {hidden_now('d.sha256')}, "
    "EXISTS (SELECT 1 FROM photos_erased e WHERE e.photo = d.sha256) FROM json_each(:entries) w "
    "JOIN photos_of d ON d.begun = '' AND d.version = w.value ORDER BY d.when_ms, d.sha256"
)
"""A correction has no photos of its own: those of the first entry stay."""


def handed(connection: Connection, sources: Sources, entries: Sequence[str]) -> dict[str, list[Row]]:
    """By entry, its photos of the waybill, a signature or the case in somebody's hands; a hidden one is named, no more.

    `here`: whether the server has it and it was not erased.
    """
    if not entries:
        return {}
    found = ask(connection, PHOTOS, {"entries": msgspec.json.encode(list(entries)).decode()})
    here = sources.photos_here(connection, sorted({str(sha256) for _, sha256, _, _ in found}))
    photos: dict[str, list[Row]] = {}
    for entry, sha256, hidden, erased in found:
        shown = {"here": sha256 in here and not erased, "restricted": bool(hidden), "erased": bool(erased)}
        photos.setdefault(entry, []).append({"sha256": sha256} | shown)
    return photos


def outside(
    connection: Connection, sources: Sources, events: Mapping[str, Sequence[Event]], since: Mapping[str, int]
) -> dict[str, list[Row]]:
    """By scope, who outside the house took it since a moment (ms), what their papers said, and the photos of it."""
    taken: dict[str, list[Event]] = {}
    for key, said in events.items():
        gone = {event.basis for event in said if event.what == "taken_back"}
        taken[key] = sorted(
            (e for e in said if e.what == "accepted" and e.holder.kind == "outside" and e.at_ms >= since[key]
             and e.entry not in gone),
            key=lambda each: (each.at_ms, each.entry),
        )  # fmt: skip
    entries = [event.entry for each in taken.values() for event in each]
    words, photos = words_of(connection, entries), handed(connection, sources, entries)
    return {
        key: [
            {"entry": e.entry, "person": e.person, "at_ms": e.at_ms, "holder": holder_shown(e.holder)}
            | {name: words.get(e.entry, {}).get(name) for name in ("firm", "waybill")}
            | {"photos": photos.get(e.entry, [])}
            for e in each
        ]
        for key, each in taken.items()
    }


def sort_of(custody: Custody) -> str:
    """Under which heading a scope stands."""
    return custody.state if custody.state != "held" else (custody.holder or HOUSE).kind


def scope_row(custody: Custody, events: Sequence[Event], words: dict[str, Row]) -> Row:
    by_entry = {event.entry: event for event in events}
    return {
        "is": sort_of(custody),
        "holder": holder_shown(custody.holder),
        "to": holder_shown(custody.to),
        "since_ms": custody.since_ms,
        "why": custody.why,
        "waiting": len(custody.waiting),
        "unseen": [{"giver": offer.person, "at_ms": offer.at_ms} for offer in unseen(events)],
        "tips": [
            {"entry": tip, "what": by_entry[tip].what, "person": by_entry[tip].person, "at_ms": by_entry[tip].at_ms}
            | {"holder": holder_shown(by_entry[tip].holder), **words.get(tip, {})}
            for tip in custody.tips
        ],
    }


def holder_shown(holder: Holder | None) -> Row | None:
    return {"kind": holder.kind, "name": holder.name} if holder else None
