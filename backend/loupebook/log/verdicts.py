"""What is said of an entry when it arrives: door verdicts (made once), then chain verdicts (the same for ever)."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from msgspec import Struct
from sqlalchemy import Connection

from loupebook.log.pins import Pins
from loupebook.log.port import Door, PersonState, StationState, Target
from loupebook.log.states import States, loose, part_of, target_of, unsettled
from loupebook.log.writer import Transaction
from loupebook.record.chain import Place, link_reason
from loupebook.record.kinds import STATION_KINDS, Entry, EntryCorrected, FindingRecorded
from loupebook.record.lines import Line, LineRefused, parse_body
from loupebook.rules.chain import advance, judge, pins_reason
from loupebook.rules.chain_state import State

DOOR_REASONS: tuple[str, ...] = (
    "unparseable", "doubled_key", "not_whole", "unknown_kind", "bad_body", "wrong_chain", "wrong_seq", "broken_link",
    "station_revoked", "person_unknown", "person_inactive", "role_may_not",
)  # fmt: skip
"""Made once, on arrival; the first that applies."""
NEVER_COUNTS: tuple[str, ...] = DOOR_REASONS[:8]
"""What a lead cannot let count: it cannot be read, or does not belong where it stands."""


class Verdict(NamedTuple):
    """counted, or aside with a reason of the closed list. `target`: what a taking back or a correction speaks of."""

    verdict: str
    reason: str | None = None
    target: Target | None = None


class Doorkeeper:
    """Remembers what the door said until something else than a batch is written."""

    def __init__(self, door: Door) -> None:
        self._door = door
        self._stations: dict[str, StationState | None] = {}
        self._people: dict[str, PersonState | None] = {}
        self._may: dict[tuple[str, str], bool] = {}

    def forget(self) -> None:
        """People, stations or roles may have changed."""
        self._stations, self._people, self._may = {}, {}, {}

    def station(self, connection: Connection, chain: str) -> StationState | None:
        """The station that writes this chain."""
        if chain not in self._stations:
            self._stations[chain] = self._door.station_state(connection, chain)
        return self._stations[chain]

    def reason(self, connection: Connection, entry: Entry, revoked: bool) -> str | None:
        """Why an entry that can be read and stands in its place does not come in."""
        if revoked:
            return "station_revoked"
        name = entry.person
        if name not in self._people:
            self._people[name] = self._door.person_state(connection, name)
        person = self._people[name]
        if person is None:
            return "person_unknown"
        if not person.active:
            return "person_inactive"
        may = self._may.get((entry.kind, name))
        if may is None:
            may = self._may[entry.kind, name] = self._door.role_may(entry.kind, person.roles)
        return None if may else "role_may_not"


def line_reason(line: Line | LineRefused, place: Place) -> str | None:
    """Why a line is no entry of a station's chain at this place."""
    if isinstance(line, LineRefused):
        return line.reason
    if line.entry.kind not in STATION_KINDS:
        return "unknown_kind"
    return link_reason(place, line.entry)


class Judge:
    """The chain verdict of an entry, and the state it leaves. Pure but for reading the log."""

    def __init__(self, states: States, pins: Pins) -> None:
        self._states = states
        self._pins = pins

    def judged(self, transaction: Transaction, chain: str, line: Line, hash: str) -> Verdict:
        """The verdict; where the entry counts, its part's state is moved on."""
        entry, body = line
        part = part_of(chain, entry, hash)
        if part is None:
            state = loose(transaction, chain, target_of(body))
        else:
            state = self._states.get(transaction, part, begins=entry.kind == "inspection.begun")
        verdict, after = self.with_state(transaction, chain, line, hash, state)
        if part is not None and verdict.verdict == "counted":
            self._states.put(part, after)
        return verdict

    def with_state(
        self, transaction: Transaction, chain: str, line: Line, hash: str, state: State
    ) -> tuple[Verdict, State]:
        """The verdict given this state, and the state after it."""
        entry, body = line
        if any(unsettled(transaction, chain, name) for name in _unknown_names(entry, body, state)):
            return Verdict("aside", "waits"), state
        reason = pins_reason(body, self._pins)
        if reason is not None:
            return Verdict("aside", reason), state
        given = judge(state, entry, body, hash, self._pins)
        if given.verdict != "counted":
            return Verdict("aside", given.reason), state
        target = _target(body, state)
        if target is not None and part_of(chain, entry, hash) is None:
            return Verdict("counted", None, target), state
        return Verdict("counted", None, target), advance(state, entry, body, hash)


def _unknown_names(entry: Entry, body: Struct, state: State) -> list[str]:
    """What the entry names of its own chain and the state does not have."""
    names = [getattr(body, field) for field in _naming_entries(type(body))]
    if state.begun is None and entry.kind != "inspection.begun":
        names.append(entry.about.inspection)
    return [name for name in names if isinstance(name, str) and name not in state.live]


@cache
def _naming_entries(shape: type[Struct]) -> tuple[str, ...]:
    """Which fields of a kind's body name an entry of the own chain, looked up once a kind."""
    names = ("entry",) if shape is FindingRecorded else ("entry", "finding")  # there `finding` is a word
    return tuple(name for name in names if name in shape.__struct_fields__)


def _target(body: Struct, state: State) -> Target | None:
    name = target_of(body)
    if name is None:
        return None
    kind = state.live[name].kind
    return Target(kind, parse_body(kind, body.body) if isinstance(body, EntryCorrected) else None)
