"""The chain-rule machine: the same answer on every machine for ever. Rows: `shared/rules/chain.json`. Pure.

The same as `frontend/src/rules/chain.ts`; `shared/vectors/chain.json` holds the two together.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal, NamedTuple, cast

import msgspec
from msgspec import Struct

from loupebook.record.kinds import Entry, EntryCorrected, EntryWithdrawn, InspectionBegun
from loupebook.record.lines import LineRefused, parse_body
from loupebook.rules.chain_guards import GUARDS, GuardReason, Pins, route_of
from loupebook.rules.chain_state import NOTHING, Live, State, with_entry
from loupebook.rules.conditions import Condition, all_hold

ChainReason = (
    Literal[
        "not_begun", "serial_first", "already_closed", "photo_must_show_serial", "catalogue_unknown",
        "policy_unknown", "target_not_here", "target_not_withdrawable", "unknown_kind", "bad_body",
    ]
    | GuardReason
)  # fmt: skip


class Verdict(NamedTuple):
    """Whether an entry counts, and if not, why."""

    verdict: Literal["counted", "aside"]
    reason: ChainReason | None = None


COUNTED = Verdict("counted")


class Unless(Struct, frozen=True):
    """A need that is waived when the body meets the conditions."""

    need: str
    when: list[dict[str, object]]


class Photos(Struct, frozen=True):
    """How many photos an entry must carry at least, and what they must show."""

    least: int
    shows: str | None = None


class Rule(Struct, frozen=True):
    """A row of the table."""

    kind: str
    needs: tuple[str, ...]
    refuses: tuple[str, ...]
    sets: tuple[str, ...]
    unless: tuple[Unless, ...] = ()
    photos: Photos | None = None
    checks: tuple[str, ...] = ()
    target: str | None = None


class Table(Struct, frozen=True):
    """`shared/rules/chain.json`."""

    v: Literal[1]
    rules: list[Rule]
    reasons: dict[str, ChainReason]


SHARED = Path(__file__).resolve().parents[3] / "shared"
TABLE = msgspec.json.decode((SHARED / "rules" / "chain.json").read_bytes(), type=Table)
RULES: Mapping[str, Rule] = {rule.kind: rule for rule in TABLE.rules}
REASONS = TABLE.reasons


def judge(state: State, entry: Entry, body: Struct, hash: str, pins: Pins) -> Verdict:
    """The verdict on an entry, given what counts before it in its part. `body` is the entry's, read."""
    rule = RULES.get(entry.kind)
    if rule is None:
        return Verdict("aside", "unknown_kind")
    reason = (
        _needs(rule, state, body)
        or _refuses(rule, state)
        or _photos(rule, state, entry)
        or _checks(rule, state, body, pins)
        or _target(rule, state, body)
    )
    return Verdict("aside", reason) if reason else COUNTED


def pins_reason(body: Struct, pins: Pins) -> ChainReason | None:
    """Why a begun entry cannot be judged here: its catalogue (with kind and point) or its policy is not known."""
    if not isinstance(body, InspectionBegun):
        return None
    if route_of(body, pins) is None:
        return "catalogue_unknown"
    return None if pins(body.policy) is not None else "policy_unknown"


def _needs(rule: Rule, state: State, body: Struct) -> ChainReason | None:
    for need in rule.needs:
        if not state.facts.get(need) and not _waived(rule, need, body):
            return REASONS[need]
    return None


def _waived(rule: Rule, need: str, body: Struct) -> bool:
    waivers = [item for item in rule.unless if item.need == need]
    if not waivers:
        return False
    fields = cast(Mapping[str, object], msgspec.to_builtins(body))
    return any(all_hold(cast(list[Condition], item.when), fields) for item in waivers)


def _refuses(rule: Rule, state: State) -> ChainReason | None:
    for fact in rule.refuses:
        if state.facts.get(fact):
            return REASONS[fact]
    return None


def _photos(rule: Rule, state: State, entry: Entry) -> ChainReason | None:
    """The photo of the serial number comes before any other photo of that inspection part."""
    if not entry.photos and rule.photos is None:
        return None
    in_part = entry.about.inspection is not msgspec.UNSET or "begun" in rule.sets
    if in_part and not state.facts.get("serial") and any(photo.shows != "serial" for photo in entry.photos):
        return REASONS["serial"]
    if rule.photos is None:
        return None
    shows = rule.photos.shows
    fitting = sum(1 for photo in entry.photos if shows is None or photo.shows == shows)
    return None if fitting >= rule.photos.least else "photo_must_show_serial"


def _checks(rule: Rule, state: State, body: Struct, pins: Pins) -> ChainReason | None:
    if not rule.checks:
        return None
    route = route_of(state.begun[1] if state.begun else None, pins)
    if route is None:
        return "catalogue_unknown"
    for check in rule.checks:
        reason = GUARDS[check](body, route, state)
        if reason is not None:
            return reason
    return None


def _target(rule: Rule, state: State, body: Struct) -> ChainReason | None:
    """Only what counts in the same part can be taken back or corrected; a correction must fit the kind it corrects."""
    if rule.target is None:
        return None
    assert isinstance(body, EntryWithdrawn | EntryCorrected)
    named = state.live.get(body.entry)
    if named is None:
        return "target_not_here"
    if isinstance(body, EntryCorrected):
        return None if _corrected_body(named.kind, body) is not None else "bad_body"
    if named.kind == "inspection.begun":
        return "target_not_withdrawable"
    holds_up = named.kind == "serial.photographed" and len(state.facts.get("serial", ())) == 1
    return "target_not_withdrawable" if holds_up and _hangs(state) else None


def _hangs(state: State) -> bool:
    """Whether marks, findings or photos stand on the serial photo."""
    return any(state.marks.values()) or any(state.photos.values())


def _corrected_body(kind: str, correction: EntryCorrected) -> Struct | None:
    try:
        return parse_body(kind, correction.body)
    except LineRefused:
        return None


def advance(state: State, entry: Entry, body: Struct, hash: str) -> State:
    """The state after an entry that counts. Never called for one that was put aside."""
    has_photos = bool(entry.photos)
    if isinstance(body, EntryWithdrawn):
        return _of({each: live for each, live in state.live.items() if each != body.entry})
    if isinstance(body, EntryCorrected):
        named = state.live[body.entry]
        fitting = _corrected_body(named.kind, body)
        assert fitting is not None
        changed = Live(named.kind, fitting, named.has_photos or has_photos)
        return _of({each: changed if each == body.entry else live for each, live in state.live.items()})
    return with_entry(state, RULES[entry.kind].sets, hash, Live(entry.kind, body, has_photos))


def _of(live: Mapping[str, Live]) -> State:
    state = NOTHING
    for hash, each in live.items():
        state = with_entry(state, RULES[each.kind].sets, hash, each)
    return state
