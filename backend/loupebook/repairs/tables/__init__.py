"""Tables of who has a scope and of its repairs. Rows are keyed by the hash that wrote them; who and when is in acts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import msgspec
from msgspec import UnsetType
from sqlalchemy import Connection, Index, bindparam, insert, select, text
from sqlmodel import Field, SQLModel

from loupebook.inspections.tables.cycle import arrived
from loupebook.log.asking import ask_by_name, ask_values
from loupebook.log.declared import KEYED, insert_again, insert_all, table_of
from loupebook.log.port import Statement
from loupebook.record.kinds import OfferShown
from loupebook.rules.custody import HOUSE, Custody, Event, Holder, What, custody_of
from loupebook.scopes.tables import acts

OFFERS = text("what = 'offered'")
LEFT = text("what = 'shipped'")


class CustodyStep(SQLModel, table=True):
    """One word about who has a scope: `what` of the rules of custody, but for what is taken back, which is an act.

    `holder` is for whom, or who has it now; `over` a JSON list of what a lead settled, empty for all others. `offer`:
    what the giver's screen showed of the offer, as JSON.
    """

    __tablename__ = "custody_steps"
    version: str = Field(primary_key=True)
    scope: str
    what: str
    basis: str
    holder_kind: str
    holder: str
    firm: str | None = None
    waybill: str | None = None
    place: str | None = None
    reason: str | None = None
    note: str | None = None
    over: str
    offer: str | None = None
    __table_args__ = (
        Index("custody_steps_of", "scope"),
        Index("custody_steps_offered", "place", "scope", sqlite_where=OFFERS, postgresql_where=OFFERS),
        KEYED,
    )


class RepairWord(SQLModel, table=True):
    """One word about a repair: `what` of the rules of repair. `repair` and `basis` are '' where none is named.

    `over` what a lead confirms or closes, `inspections` whose findings go along, `photos` those of the packed case,
    each a JSON list; `said` the body as JSON.
    """

    __tablename__ = "repair_words"
    version: str = Field(primary_key=True)
    scope: str
    what: str
    repair: str
    basis: str
    over: str
    inspections: str
    photos: str
    said: str
    __table_args__ = (
        Index("repair_words_of", "scope"),
        Index("repair_words_left", "scope", sqlite_where=LEFT, postgresql_where=LEFT),
        KEYED,
    )


FOLDED: tuple[type[SQLModel], ...] = (CustodyStep, RepairWord)

_steps = table_of(CustodyStep)
ADD_CUSTODY = insert_all(_steps)
CORRECT_CUSTODY = insert_again(_steps, ("scope", "basis"))

_words = table_of(RepairWord)
ADD_REPAIR = insert_all(_words)
CORRECT_REPAIR = insert_again(_words, ("scope", "repair", "basis", "photos"))
_given = [column.name for column in _words.c if column.name != "scope"]
ADD_REPAIR_OF = Statement(
    insert(_words).from_select(
        [*_given, "scope"],
        select(*[bindparam(name, type_=_words.c[name].type) for name in _given], acts.c.scope).where(
            acts.c.version == bindparam("of")
        ),
    )
)
"""For what was corrected into a word about a repair: the first version may have been none."""

STEPS = text(
    "SELECT d.scope, a.entry, d.what, d.basis, d.holder_kind, d.holder, d.over, d.offer, o.person, o.when_ms, "
    "o.received_at, a.withdrawn_by, t.person AS undone_by, t.when_ms AS undone_ms, t.received_at AS undone_at "
    "FROM json_each(:scopes) w JOIN custody_steps d ON d.scope = w.value JOIN acts a ON a.version = d.version "
    "JOIN acts o ON o.version = a.entry LEFT JOIN acts t ON t.version = a.withdrawn_by WHERE a.replaced_by IS NULL"
)
"""What was taken back stands all the same: something may have been built on it elsewhere."""


def custody_events(connection: Connection, keys: Sequence[str]) -> dict[str, list[Event]]:
    """Per scope every word about who has it that counts, in no order."""
    found: dict[str, list[Event]] = {key: [] for key in keys}
    if not keys:
        return found
    for row in ask_by_name(connection, STEPS, {"scopes": msgspec.json.encode(list(keys)).decode()}):
        found[row["scope"]] += _events(row)
    return found


def _events(row: Mapping[Any, Any]) -> list[Event]:
    over = tuple(msgspec.json.decode(str(row["over"]), type=list[str]))
    what = msgspec.convert(row["what"], What)
    holder = msgspec.convert({"kind": row["holder_kind"], "name": row["holder"]}, Holder)
    offer = None if row["offer"] is None else _shown(row["basis"], msgspec.json.decode(row["offer"], type=OfferShown))
    at_ms = arrived(row["when_ms"], row["received_at"])
    event = Event(row["entry"], what, row["basis"], row["person"], at_ms, holder, over, offer)
    if row["withdrawn_by"] is None:
        return [event]
    undone_ms = arrived(row["undone_ms"], row["undone_at"])
    return [event, Event(row["withdrawn_by"], "taken_back", row["entry"], row["undone_by"], undone_ms)]


def _shown(entry: str, shown: OfferShown) -> Event:
    """The offer of this hash, as its giver's screen showed it."""
    on = "" if isinstance(shown.on, UnsetType) else shown.on
    to = HOUSE if isinstance(shown.to, UnsetType) else Holder("person", shown.to)
    return Event(entry, "offered", on, shown.giver, shown.at_ms, to)


WORDS = text(
    "SELECT coalesce(b.entry, d.version) AS tip, d.place, d.reason, d.note, d.firm, d.waybill FROM json_each(:tips) w "
    "JOIN acts b ON b.version = w.value JOIN custody_steps d ON d.version = w.value"
)


def words_of(connection: Connection, tips: Sequence[str]) -> dict[str, dict[str, object]]:
    """What else these words say: place, reason, note, and what is on the papers of somebody outside."""
    if not tips:
        return {}
    rows = connection.execute(WORDS, {"tips": msgspec.json.encode(list(tips)).decode()}).mappings()
    return {row["tip"]: {name: row[name] for name in ("place", "reason", "note", "firm", "waybill")} for row in rows}


OFFERED = text("SELECT DISTINCT scope FROM custody_steps WHERE what = 'offered' AND place = :place")


def offered_at(connection: Connection, place: str) -> list[str]:
    """The scopes that were ever held out at a place."""
    return ask_values(connection, OFFERED, {"place": place})


def custodies(connection: Connection, keys: Sequence[str]) -> dict[str, Custody]:
    """Per scope who has it, as all that counts says."""
    return {key: custody_of(events) for key, events in custody_events(connection, keys).items()}


def in_short(events: Sequence[Event]) -> list[Event]:
    """As few events as say the same of now: what a tablet carries away, so that it can build on the tips.

    Of what is held, that it is; of an offer, the offer on who gives; of a dispute, everything.
    """
    custody = custody_of(events)
    if custody.state == "disputed" or not custody.tips:
        return list(events)
    by_entry = {event.entry: event for event in events}
    if custody.state == "held":
        return [_said(by_entry[tip], custody.holder, custody.since_ms) for tip in custody.tips]
    giver = custody.holder.name if custody.holder else ""
    return [Event(tip, "offered", "", giver, custody.since_ms, custody.to or HOUSE) for tip in custody.tips]


def _said(event: Event, holder: Holder | None, since_ms: int) -> Event:
    return replace(event, what="settled", basis="", over=(), holder=holder or HOUSE, at_ms=since_ms)
