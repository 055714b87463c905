"""Where every scope is now, since when, who has it: from custody, repairs, loans, holds and the cycle.

What is known of a scope changes only when something is said of it, and `scope_touched` says when that was. So what was
made of it is kept in memory and made anew for those alone that were touched since: a board of thousands costs one read
of that table.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection, text

from loupebook.inspections.tables.cycle import cycle_events
from loupebook.reading.custody import handed, scope_row
from loupebook.reading.find import found_keys
from loupebook.reading.loans import for_shown, instead_shown, ties_of
from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown, scope_shown
from loupebook.repairs.tables import custody_events, words_of
from loupebook.repairs.tables.repairs import Told, told_of
from loupebook.rules.custody import HOUSE, Custody, custody_of
from loupebook.rules.cycle import Phase, Stand, stand_of
from loupebook.scopes.tables.known import scopes_known

Row = dict[str, object]
Is = Literal[
    "disputed", "offered", "hold", "shipped", "outside", "back", "repair", "loaned", "person", "place", "in_use",
    "cleaning", "drying", "taken", "hung", "house",
]  # fmt: skip
ORDER: Final[tuple[Is, ...]] = (
    "disputed", "offered", "hold", "shipped", "outside", "back", "repair", "loaned", "person", "place", "in_use",
    "cleaning", "drying", "taken", "hung", "house",
)  # fmt: skip
"""What a lead must see first: who has it is in doubt, nobody took it yet, it is held, it left the house, it waits."""
MOST = 200
AT_ONCE = 500
TOUCHED = text("SELECT scope, changed FROM scope_touched")
HELD = text(
    "SELECT DISTINCT d.scope FROM holds d JOIN acts a ON a.version = d.version "
    "WHERE d.standing = 1 AND a.replaced_by IS NULL AND a.withdrawn_by IS NULL"
)
OF_PHASE: Final[Mapping[Phase, Is]] = {
    "received": "cleaning", "cleaning": "cleaning", "at_leak_test": "cleaning", "after_cleaning": "cleaning",
    "processed": "drying", "after_drying": "drying", "hung": "hung", "taken": "taken", "before_use": "in_use",
    "acceptance": "cleaning", "none": "house",
}  # fmt: skip
"""After acceptance the whole cycle is next. A look before use that lets a scope go puts it into use."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is made of all that was said of one scope."""

    custody: Custody
    stand: Stand
    told: Told


class Board:
    """What is known of each scope, kept until something is said of it. One for each life of a database."""

    def __init__(self) -> None:
        self._epoch = ""
        self._known: dict[str, tuple[int, Known]] = {}

    def known(self, connection: Connection, epoch: str, now: Callable[[], int]) -> dict[str, Known]:
        """Every scope that anything was ever said of. `now` is the server's clock, ms UTC."""
        if epoch != self._epoch:
            self._epoch, self._known = epoch, {}
        touched = {str(scope): int(changed) for scope, changed in connection.execute(TOUCHED)}
        before = self._known
        stale = [key for key, changed in touched.items() if key not in before or before[key][0] != changed]
        fresh: dict[str, tuple[int, Known]] = {}
        for at in range(0, len(stale), AT_ONCE):
            keys = stale[at : at + AT_ONCE]
            fresh |= {key: (touched[key], each) for key, each in _read(connection, keys, now()).items()}
        self._known = {key: fresh.get(key) or before[key] for key in touched}
        return {key: each for key, (_, each) in self._known.items()}


def _read(connection: Connection, keys: Sequence[str], now_ms: int) -> dict[str, Known]:
    events, custody, told = cycle_events(connection, keys), custody_events(connection, keys), told_of(connection, keys)
    return {key: Known(custody_of(custody[key]), stand_of(events[key], now_ms), told[key]) for key in keys}


def whereabouts(connection: Connection, sources: Sources, wanted: str = "", board: Board | None = None) -> Row:
    """Every scope, or those found by what is printed or stuck on them; at most 200, what needs somebody first.

    Of each sort the longest there comes first. `counts` are of all, not of the 200.
    """
    epoch = sources.epoch()
    known = (board or Board()).known(connection, f"{epoch.n} {epoch.id}", sources.now_ms)
    told = {key: each.told for key, each in known.items()}
    ties = ties_of(told)
    held = {str(scope) for scope in connection.execute(HELD).scalars()}
    if wanted.strip():
        known = {key: known[key] for key in found_keys(connection, wanted) if key in known}
    sorts = {key: sort_of(each, key in held) for key, each in known.items()}
    order = sorted(known, key=lambda key: (ORDER.index(sorts[key]), since_ms(known[key], sorts[key]), key))
    shown = order[:MOST]
    on_page = set(shown)
    both = [(loan, tie.scope) for loan, tie in ties.items() if loan in on_page or tie.scope in on_page]
    scopes = scopes_known(connection, list(dict.fromkeys([*shown, *(key for pair in both for key in pair)])))
    # Most scopes were never handed over: words are read of those alone that a custody word speaks of.
    spoken = [key for key in shown if known[key].custody.tips]
    events = custody_events(connection, spoken)
    tips = [tip for key in spoken for tip in known[key].custody.tips]
    words, photos = words_of(connection, tips), handed(connection, sources, tips)
    words = {tip: said | {"photos": photos.get(tip, [])} for tip, said in words.items()}
    return {
        "rows": [
            {"scope": scope_shown(scopes[key])}
            | scope_row(known[key].custody, events.get(key, []), words)
            | now_row(known[key], sorts[key], key in held)
            | {"for": for_shown(ties.get(key), scopes, told), "instead": instead_shown(key, ties, scopes, told)}
            for key in shown
        ],
        "counts": dict(Counter(sorts.values())),
        "more": len(order) > MOST,
        "people": [person_shown(person) for person in sources.people(connection)],
        "places": [place.name for place in sources.facility().places],
    }


def sort_of(known: Known, held: bool) -> Is:
    """Under which heading a scope stands: what somebody must do something about goes before where it is."""
    custody, repair = known.custody, known.told.repair
    if custody.state != "held":
        return custody.state
    if held:
        return "hold"
    if repair is not None and repair.stage == "out":
        return "shipped"
    holder = custody.holder or HOUSE
    if holder.kind == "outside":
        return "outside"
    if repair is not None:
        return "back" if repair.stage in ("back", "accepted", "ready") else "repair"
    if known.told.loaner is not None:
        return "loaned"
    # A person or a place has it until a step of the cycle comes after: then that says where it is.
    if custody.tips and holder.kind in ("person", "place") and custody.since_ms >= known.stand.since_ms:
        return "person" if holder.kind == "person" else "place"
    return OF_PHASE[known.stand.phase]


def since_ms(known: Known, sort: Is) -> int:
    """Since when it is what it is: the moment of the word that says so; 0 where none does."""
    repair, loaner = known.told.repair, known.told.loaner
    if sort in ("disputed", "offered", "outside", "person", "place"):
        return known.custody.since_ms
    if sort in ("shipped", "back") and repair is not None:
        of = repair.shipments if sort == "shipped" else repair.returns
        return min((word.event.at_ms for word in known.told.words if word.event.entry in of), default=repair.since_ms)
    if sort == "repair" and repair is not None:
        return repair.since_ms
    return loaner.since_ms if sort == "loaned" and loaner is not None else known.stand.since_ms


def now_row(known: Known, sort: Is, held: bool) -> Row:
    """Where it is in words' stead: the sort, since when, and all else that stands of it at once."""
    repair, loaner, stand = known.told.repair, known.told.loaner, known.stand
    return {
        "is": sort,
        "since_ms": since_ms(known, sort),
        "held": held,
        "phase": stand.phase,
        "phase_ms": stand.since_ms,
        "place": stand.last.place if stand.last is not None else "",
        "repair": None if repair is None else {"stage": repair.stage, **_said_of(known.told, repair.shipments)},
        "loan": None if loaner is None else {"stage": loaner.stage, **_told(loaner.said)},
    }


TOLD: Final = ("carrier", "number", "expected_back", "owner", "until")


def _said_of(told: Told, entries: Sequence[str]) -> dict[str, Any]:
    """With whom it is and until when, as the newest of these words says."""
    said = [word.event.said for word in told.words if word.event.entry in entries]
    return _told(said[-1]) if said else {}


def _told(said: Mapping[str, Any]) -> dict[str, Any]:
    return {name: said[name] for name in TOLD if name in said}
