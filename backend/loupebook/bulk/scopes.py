"""Scopes in a file: which scope each row names, and what would be written of it. Pure."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from msgspec import UNSET
from msgspec.structs import replace

from loupebook.bulk.columns import INNER, LENGTH, SCOPES, Columns, bare, channel_columns, find_columns
from loupebook.bulk.fates import Differs, Fate, Plan, Refused, Remark, Write
from loupebook.bulk.identity import Identity, identity_of
from loupebook.bulk.sheet import Line, Sheet
from loupebook.bulk.sizes import Anatomy, Sizes, length_mm, merged, sizes_of
from loupebook.record.kinds import ChannelSize, Instructions, ScopeDescribed
from loupebook.rules.units import mm_of_um
from loupebook.scopes.tables.known import ScopeKnown

SHORT = 200
LISTED = frozenset(("none_here", "flow_only", "neither"))
TYPED = frozenset(("tag", "model", "serial", "udi", "codes", "dated", "tube_mm"))
"""Columns, beside those of channels, that a spreadsheet must not have changed."""
MANGLED = re.compile(r"[+-]?\d(?:[.,]\d+)?E\+\d{1,3}", re.ASCII)
"""A long number as a spreadsheet shows it: 5.10222E+13."""


@dataclass(frozen=True)
class OnRecord:
    """What the record says of the scopes that a file may mean: by key, and by small letters of serial and tag."""

    known: Mapping[str, ScopeKnown] = field(default_factory=dict)
    by_serial: Mapping[str, Sequence[ScopeKnown]] = field(default_factory=dict)
    by_tag: Mapping[str, Sequence[ScopeKnown]] = field(default_factory=dict)


@dataclass(frozen=True)
class Row:
    """A row read as far as it can be without the record: what it says, or why it is refused."""

    line: Line
    name: str
    identity: Identity | None
    said: Mapping[str, str]
    tube_mm: int | None = None
    sizes: Sizes = Sizes()
    notes: tuple[Remark, ...] = ()
    reason: Remark | None = None


@dataclass(frozen=True)
class Words:
    """How kinds are called. `names`: id -> every name it is known by, ours first; `chosen`: id by a word a person
    decided on."""

    names: Mapping[str, Sequence[str]]
    chosen: Mapping[str, str]

    def by_name(self) -> dict[str, str]:
        """Id by each name as it is compared; the id is a name too."""
        return {bare(word): id for id, names in self.names.items() for word in (id, *names)}


def scope_columns(anatomy: Anatomy) -> dict[str, tuple[str, ...]]:
    """The columns of a file of scopes: those of every scope, then two for each channel in force."""
    return {**SCOPES, **channel_columns(anatomy.channel_names())}


def read_rows(sheet: Sheet, words: Words, anatomy: Anatomy, today_year: int) -> tuple[Columns, list[Row]]:
    """Every row of the file, as far as it can be read without the record."""
    columns = find_columns(sheet, scope_columns(anatomy), (("kind",), ("serial", "udi")))
    kinds = words.by_name()
    return columns, [_row(columns, line, (words, kinds), anatomy, today_year) for line in columns.lines]


def _row(
    columns: Columns, line: Line, words: tuple[Words, Mapping[str, str]], anatomy: Anatomy, today_year: int
) -> Row:
    every = [column for column in scope_columns(anatomy) if column != "codes"]
    said = {column: _cell(columns, line, column) for column in every}
    name = said["tag"] or said["serial"] or said["udi"] or said["model"]
    try:
        for column in scope_columns(anatomy):
            if column in TYPED or column.startswith((INNER, LENGTH)):
                _as_typed(columns, line, column)
        said["kind"], notes = _kind(said["kind"], *words)
        identity = identity_of(said, today_year)
        tube_mm = length_mm(said["tube_mm"], "length_not_read")
        for column in ("tag", "maker", "model", "serial", "serial_where", "source", "edition"):
            if len(said[column]) > SHORT:
                raise Refused("text_too_long", column=column)
        sizes = sizes_of(said, said["kind"], anatomy)
    except Refused as why:
        return Row(line, name[:SHORT], None, said, reason=why.remark)
    codes = [code for part in columns.text(line, "codes").splitlines() for code in part.split(";")]
    said["codes"] = "\n".join(dict.fromkeys(code.strip() for code in codes if code.strip()))
    return Row(line, name or identity.serial, identity, said, tube_mm, sizes, (*notes, *sizes.notes))


def _cell(columns: Columns, line: Line, column: str) -> str:
    """A cell in one line; where it is a list, one to a line."""
    text = columns.text(line, column)
    return "\n".join(text.splitlines()) if column in LISTED else " ".join(text.split())


def _as_typed(columns: Columns, line: Line, column: str) -> None:
    """Refuses a cell that a spreadsheet made a date or a short form of."""
    if columns.was_date(line, column):
        raise Refused("became_date", column=column, found=columns.text(line, column)[:60])
    if MANGLED.fullmatch(columns.text(line, column)):
        raise Refused("became_number", column=column, found=columns.text(line, column))


def _kind(word: str, words: Words, kinds: Mapping[str, str]) -> tuple[str, tuple[Remark, ...]]:
    """The kind a word means, and a note where it is not the name it has here."""
    if not word:
        raise Refused("kind_missing")
    wanted = bare(word)
    if (found := kinds.get(wanted) or words.chosen.get(word)) is not None:
        named = wanted in (bare(name) for name in words.names[found][:1])
        return found, () if named else (Remark("kind_read", word=word[:100], found=found),)
    near = difflib.get_close_matches(wanted[:100], kinds, n=1, cutoff=0.55)
    raise Refused("kind_unknown", word=word[:100], nearest=kinds[near[0]] if near else "")


def plan_scopes(rows: Sequence[Row], record: OnRecord) -> Plan:
    """Every row's fate against the record, and the descriptions to be written."""
    fates: list[Fate] = []
    writes: list[Write] = []
    seen: dict[str, int] = {}
    tags: dict[str, int] = {}
    for row in rows:
        fate, write = _fate(row, record, seen, tags)
        fates.append(fate)
        if write is not None:
            writes.append(write)
    return Plan("scopes", fates, writes)


def _fate(row: Row, record: OnRecord, seen: dict[str, int], tags: dict[str, int]) -> tuple[Fate, Write | None]:
    n, identity = row.line.n, row.identity
    if identity is None:
        return Fate(n, row.name, "refused", reason=row.reason), None
    key = identity.key
    told = Fate(
        n, row.name, "new", key, kind=row.said["kind"], serial=identity.serial, sizes=row.sizes.read(),
        none_here=list(row.sizes.none_here),
    )  # fmt: skip
    if key in seen:
        return replace(told, fate="duplicate", of=seen[key]), None
    seen[key] = n
    notes = [*row.notes, *identity.notes, *_elsewhere(row, key, record, tags)]
    known = record.known.get(key)
    on_record = known if known is not None and known.on_record != "unknown" else None
    if row.sizes.some and row.sizes.instructions is None and (on_record is None or on_record.instructions is None):
        return replace(told, fate="refused", reason=Remark("sizes_without_source")), None
    denied = [channel for channel in row.sizes.channels if on_record is not None and channel in on_record.none_here]
    if denied:
        return replace(told, fate="refused", reason=Remark("none_but_sized", word=denied[0])), None
    body = _body(row, identity, on_record)
    changes = _changes(on_record, body) if on_record is not None else []
    fate = replace(told, notes=notes, changes=changes)
    if on_record is not None and on_record.on_record == "described":
        if not changes:
            return replace(fate, fate="same"), None
        return replace(fate, fate="changes"), Write(key, body, on_record.version or "")
    if on_record is not None:
        return replace(fate, fate="known"), Write(key, body, on_record.version or "")
    return fate, Write(key, body, "")


def _elsewhere(row: Row, key: str, record: OnRecord, tags: dict[str, int]) -> list[Remark]:
    """Where the tag or the serial number is already that of another scope: a slip, or two alike; a person decides."""
    assert row.identity is not None
    found: list[Remark] = []
    tag = row.said["tag"].lower()
    if tag and tag in tags:
        found.append(Remark("tag_twice", row=tags[tag]))
    if tag:
        tags.setdefault(tag, row.line.n)
    others = [each for each in record.by_tag.get(tag, ()) if tag and each.key != key]
    if others:
        found.append(Remark("tag_elsewhere", other=others[0].serial or others[0].key))
    twins = [each for each in record.by_serial.get(row.identity.serial.lower(), ()) if each.key != key]
    if twins:
        found.append(Remark("serial_elsewhere", other=twins[0].tag or twins[0].key))
    return found


def _body(row: Row, identity: Identity, known: ScopeKnown | None) -> ScopeDescribed:
    """What the record says, with what the row says in its place. An empty cell leaves what is on record."""
    said = row.said
    codes = [*(known.codes if known else ()), *filter(None, said["codes"].split("\n")), *identity.codes]
    tag = said["tag"] or (known.tag if known else None)
    return ScopeDescribed(
        scope_kind=said["kind"],
        serial=identity.serial,
        di=identity.di or (known.di if known else None) or UNSET,
        maker=said["maker"] or (known.maker if known else None) or UNSET,
        model=said["model"] or (known.model if known else None) or UNSET,
        tag=tag or UNSET,
        codes=[code for code in dict.fromkeys(codes) if code not in (tag, known.tag if known else None)],
        none_here=list(dict.fromkeys((*(known.none_here if known else ()), *row.sizes.none_here))),
        tube_mm=row.tube_mm or (known.tube_mm if known else None) or UNSET,
        tube_um=(known.tube_um if known else None) or UNSET,
        serial_where=said["serial_where"] or (known.serial_where if known else None) or UNSET,
        channels=merged(known.channels if known else (), row.sizes),
        instructions=row.sizes.instructions or (known.instructions if known else None) or UNSET,
    )


def _changes(known: ScopeKnown, body: ScopeDescribed) -> list[Differs]:
    """What a description says otherwise than the record. The serial number and the DI are the key: they cannot."""
    pairs = [
        ("kind", known.scope_kind, body.scope_kind),
        ("maker", known.maker, body.maker),
        ("model", known.model, body.model),
        ("tag", known.tag, body.tag),
        ("tube_mm", known.tube_mm, body.tube_mm),
        ("serial_where", known.serial_where, body.serial_where),
    ]
    found = [
        Differs(name, _text(before), _text(after)) for name, before, after in pairs if _text(before) != _text(after)
    ]
    before = [code for code in known.codes if code != known.tag]
    if set(before) != set(body.codes):
        found.append(Differs("codes", ", ".join(before), ", ".join(body.codes)))
    return found + _sizes_differ(known, body)


def _sizes_differ(known: ScopeKnown, body: ScopeDescribed) -> list[Differs]:
    """The same of channels, of what there is none of, and of the instructions."""
    found: list[Differs] = []
    before, after = ({each.channel: each for each in channels} for channels in (known.channels, body.channels))
    for id in dict.fromkeys((*before, *after)):
        old, new = before.get(id), after.get(id)
        for name, part in (("inner", _inner), ("length", _length), ("reach", _reach)):
            if part(old) != part(new):
                found.append(Differs(f"{name}:{id}", part(old), part(new)))
    if set(known.none_here) != set(body.none_here):
        found.append(Differs("none_here", " ".join(known.none_here), " ".join(body.none_here)))
    told = [_source(known.instructions), _source(body.instructions or None)]
    return found + ([Differs("source", *told)] if told[0] != told[1] else [])


def _inner(size: ChannelSize | None) -> str:
    return mm_of_um(size.inner_um) if size is not None and size.inner_um else ""


def _length(size: ChannelSize | None) -> str:
    return _text(size.length_mm) if size is not None else ""


def _reach(size: ChannelSize | None) -> str:
    return _text(size.reach) if size is not None else ""


def _source(source: Instructions | None) -> str:
    return "" if source is None else ", ".join(filter(None, (source.title, source.edition or "", source.dated or "")))


def _text(value: object) -> str:
    return "" if value is None or value is UNSET else str(value)
