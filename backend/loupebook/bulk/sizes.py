"""A scope's own sizes in a row: its channels, what it has none of, and which instructions say so. Pure."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from msgspec import UNSET, UnsetType

from loupebook.bulk.columns import INNER, LENGTH, bare
from loupebook.bulk.fates import Refused, Remark, SizeRead
from loupebook.record.kinds import ChannelSize, Instructions
from loupebook.rules.units import NotASize, um_of_fr, um_of_mm

LEAST_INNER_UM, MOST_INNER_UM = 200, 10_000
LEAST_MM, MOST_MM = 100, 6000
"""Sizes beyond these are no flexible endoscope's: a wrong unit, or a slip. Common practice, no source."""

_INNER = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?)\s*(mm|fr|ch)?", re.ASCII)
_LENGTH = re.compile(r"(\d{1,5}(?:[.,]\d{1,3})?)\s*(mm|cm|m)?", re.ASCII)
LISTS: Mapping[str, Literal["flow", "none"]] = {"flow_only": "flow", "neither": "none"}


@dataclass(frozen=True)
class Anatomy:
    """What kinds are made of, and the words for it.

    `of_kind`: kind -> its parts and channels by id. `names`: id of a part or channel -> every name it is known by, ours
    first. `channels`: ids of channels, in the order of the template.
    """

    of_kind: Mapping[str, frozenset[str]] = field(default_factory=dict)
    names: Mapping[str, Sequence[str]] = field(default_factory=dict)
    channels: Sequence[str] = ()

    def channel_names(self) -> dict[str, Sequence[str]]:
        """Id -> names of the channels alone."""
        return {id: self.names.get(id, ()) for id in self.channels}


@dataclass(frozen=True)
class Sizes:
    """What a row says; `none_here` and the reach of a channel only where a cell says so."""

    channels: Mapping[str, ChannelSize] = field(default_factory=dict)
    none_here: tuple[str, ...] = ()
    instructions: Instructions | None = None
    notes: tuple[Remark, ...] = ()

    @property
    def some(self) -> bool:
        """Whether the row says anything of channels or of what there is none of."""
        return bool(self.channels or self.none_here)

    def read(self) -> list[SizeRead]:
        """The channels as the fate says them."""
        return [
            SizeRead(each.channel, _number(each.inner_um), _number(each.length_mm), each.reach or "")
            for each in self.channels.values()
        ]


def sizes_of(said: Mapping[str, str], kind: str, anatomy: Anatomy) -> Sizes:
    """From the row's cells. Raises Refused."""
    own = anatomy.of_kind.get(kind, frozenset())
    notes: list[Remark] = []
    none_here = _list(said["none_here"], "none_here", own, anatomy, notes)
    reach: dict[str, Literal["flow", "none"]] = {}
    for column, way in LISTS.items():
        channels = own & frozenset(anatomy.channels)
        reach |= dict.fromkeys(_list(said[column], column, channels, anatomy, notes), way)
    found: dict[str, ChannelSize] = {}
    for channel in anatomy.channels:
        inner = _inner_um(said.get(INNER + channel, ""))
        length = length_mm(said.get(LENGTH + channel, ""), "channel_length_not_read")
        if inner is None and length is None and channel not in reach:
            continue
        if channel not in own:
            raise Refused("channel_not_of_kind", word=channel)
        if channel in none_here:
            raise Refused("none_but_sized", word=channel)
        found[channel] = ChannelSize(channel, _or_unset(inner), _or_unset(length), reach.get(channel, UNSET))
    return Sizes(found, tuple(none_here), _instructions(said), tuple(notes))


def merged(before: Sequence[ChannelSize], row: Sizes) -> list[ChannelSize]:
    """What the record says of each channel, with what the row says in its place."""
    known = {each.channel: each for each in before}
    for id, new in row.channels.items():
        old = known.get(id, new)
        inner, length = new.inner_um or old.inner_um, new.length_mm or old.length_mm
        known[id] = ChannelSize(id, inner, length, new.reach or old.reach)
    return [each for id, each in known.items() if id not in row.none_here]


def length_mm(text: str, reason: Literal["length_not_read", "channel_length_not_read"]) -> int | None:
    """Whole millimetres; a bare number is millimetres, as the column says. Raises Refused with that reason."""
    if not text:
        return None
    found = _LENGTH.fullmatch(text.lower())
    if found is None:
        raise Refused(reason, found=text[:60])
    factor = {"cm": 10, "m": 1000}.get(found[2] or "mm", 1)
    mm = round(float(found[1].replace(",", ".")) * factor)
    if not LEAST_MM <= mm <= MOST_MM:
        raise Refused(reason, found=text[:60])
    return mm


def _inner_um(text: str) -> int | None:
    """Micrometres; a bare number is millimetres, Fr (ISO 8600-4: a third of a millimetre) where it says so."""
    if not text:
        return None
    found = _INNER.fullmatch(text.lower())
    try:
        if found is None:
            raise NotASize(text)
        size = found[1].replace(",", ".")
        um = um_of_fr(size) if found[2] in ("fr", "ch") else um_of_mm(size)
    except NotASize as wrong:
        raise Refused("inner_not_read", found=text[:60]) from wrong
    if not LEAST_INNER_UM <= um <= MOST_INNER_UM:
        raise Refused("inner_not_read", found=text[:60])
    return um


def _list(text: str, column: str, own: frozenset[str], anatomy: Anatomy, notes: list[Remark]) -> list[str]:
    """Ids of the parts or channels a cell names; a note for each that is not called by the name it has here."""
    by_name = {bare(word): id for id in sorted(own) for word in (id, *anatomy.names.get(id, ()))}
    found: list[str] = []
    for word in _words(text, by_name):
        wanted = bare(word)
        if (id := by_name.get(wanted)) is None:
            near = difflib.get_close_matches(wanted[:100], by_name, n=1, cutoff=0.55)
            raise Refused("part_unknown", column=column, word=word[:100], nearest=by_name[near[0]] if near else "")
        if wanted not in (bare(id), *(bare(name) for name in anatomy.names.get(id, ())[:1])):
            notes.append(Remark("part_read", word=word[:100], found=id))
        found.append(id)
    return list(dict.fromkeys(found))


def _words(text: str, by_name: Mapping[str, str]) -> list[str]:
    """The names in a cell. Some hold a comma themselves: it parts only what is no name as a whole."""
    parts = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    split = [[part] if bare(part) in by_name else part.split(",") for part in parts]
    return [word.strip() for words in split for word in words if word.strip()]


def _instructions(said: Mapping[str, str]) -> Instructions | None:
    title, edition, dated = said["source"], said["edition"], said["dated"]
    if dated:
        try:
            good = date.fromisoformat(dated).isoformat() == dated
        except ValueError:
            good = False
        if not good:
            raise Refused("date_not_read", found=dated[:60])
    if not title and (edition or dated):
        raise Refused("sizes_without_source")
    if not title:
        return None
    return Instructions(title, edition or UNSET, dated or UNSET)


def _or_unset(value: int | None) -> int | UnsetType:
    return UNSET if value is None else value


def _number(value: int | UnsetType) -> int:
    return value or 0
