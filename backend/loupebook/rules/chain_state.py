"""What the chain rules know of one inspection part: everything in it that counts now. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Literal, NamedTuple, get_args

from msgspec import UNSET, Struct

from loupebook.rules.runs import Run, seen_of

PartMark = Literal["finding", "could_not_look", "nothing_found"]
STRICTEST_FIRST: tuple[PartMark, ...] = get_args(PartMark)


class Live(NamedTuple):
    """An entry that counts: its kind, the body of its newest version, whether it or a correction carries photos."""

    kind: str
    body: Struct
    has_photos: bool


@dataclass(frozen=True, slots=True)
class State:
    """One thread: an inspection part, or what of a chain names no inspection. Withdrawn entries are gone.

    live    hash -> entry that counts, in the order written
    begun   the part's `inspection.begun`: (hash, body)
    facts   fact -> hashes of the entries that set it
    marks   part -> [(mark, hash of the entry)]
    photos  part -> hashes of the entries that carry photos of it
    """

    live: Mapping[str, Live] = field(default_factory=dict)
    begun: tuple[str, Struct] | None = None
    facts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    marks: Mapping[str, tuple[tuple[PartMark, str], ...]] = field(default_factory=dict)
    photos: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


NOTHING = State()


def mark_of(state: State, part: str) -> PartMark | None:
    """The mark that counts: the strictest of those not withdrawn; None = not looked at.

    Runs that did not get through, from both ends and together as long as the channel, are a look through it.
    """
    made = state.marks.get(part, ())
    met = _met(state, made)
    marks: set[PartMark] = {"nothing_found" if hash in met else mark for mark, hash in made}
    return next((mark for mark in STRICTEST_FIRST if mark in marks), None)


def _met(state: State, made: Sequence[tuple[PartMark, str]]) -> set[str]:
    """The entries of runs that meet from both ends, among those that mark one part."""
    runs = {hash: run for _, hash in made if (run := _blocked(state.live[hash])) is not None}
    return set(runs) if len(runs) > 1 and seen_of(list(runs.values())).why == "both_ends" else set()


def _blocked(live: Live) -> Run | None:
    """The run of an entry in which a borescope went in and not through."""
    if live.kind != "channel.looked" or getattr(live.body, "outcome", "") != "blocked":
        return None
    told = (getattr(live.body, name) for name in ("way", "reached_mm", "known", "length_mm"))
    return Run("blocked", *(None if value is UNSET else value for value in told))


def parts_of(body: Struct) -> tuple[str, ...]:
    """The parts and channels a body speaks of: its `parts`, `part`, `channel`."""
    many, ones = _naming_parts(type(body))
    named: tuple[str, ...] = tuple(getattr(body, "parts")) if many else ()  # noqa: B009 - no kind has all of them
    for name in ones:
        if (value := getattr(body, name)) is not UNSET:
            named = (*named, value)
    return named


@cache
def _naming_parts(shape: type[Struct]) -> tuple[bool, tuple[str, ...]]:
    """Which fields of a kind's body name parts: looked up once a kind, every entry asks."""
    fields = shape.__struct_fields__
    return "parts" in fields, tuple(name for name in ("part", "channel") if name in fields)


def mark_made(kind: str, body: Struct) -> PartMark | None:
    """The mark an entry makes on the parts it names. A channel is looked at only when it was run through."""
    match kind:
        case "finding.recorded":
            return "finding"
        case "part.marked":
            return "could_not_look" if getattr(body, "mark", "") == "could_not_look" else "nothing_found"
        case "channel.looked":
            return "nothing_found" if getattr(body, "outcome", "") == "through" else "could_not_look"
        case _:
            return None


def with_entry(state: State, sets: tuple[str, ...], hash: str, live: Live) -> State:
    """The state with one more entry that counts."""
    facts, marks, photos = state.facts, state.marks, state.photos
    for fact in sets:
        facts = {**facts, fact: (*facts.get(fact, ()), hash)}
    mark, parts = mark_made(live.kind, live.body), parts_of(live.body)
    if parts and mark is not None:
        marks = {**marks, **{part: (*marks.get(part, ()), (mark, hash)) for part in parts}}
    if parts and live.has_photos:
        photos = {**photos, **{part: (*photos.get(part, ()), hash) for part in parts}}
    begun = (hash, live.body) if live.kind == "inspection.begun" else state.begun
    return State({**state.live, hash: live}, begun, facts, marks, photos)
