"""Scopes in a file: which scope each row names, and what would be written of it. Pure."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from msgspec import UNSET
from msgspec.structs import replace

from loupebook.bulk.columns import SCOPES, Columns, bare, find_columns
from loupebook.bulk.fates import Differs, Fate, Plan, Refused, Remark, Write
from loupebook.bulk.identity import Identity, identity_of
from loupebook.bulk.sheet import Line, Sheet
from loupebook.record.kinds import ScopeDescribed
from loupebook.scopes.tables.known import ScopeKnown

SHORT = 200
LENGTH = re.compile(r"(\d{1,5}(?:[.,]\d{1,3})?)\s*(mm|cm|m)?", re.ASCII)
LEAST_MM, MOST_MM = 100, 6000
"""Working lengths beyond these are no flexible endoscope's (common practice, no source): a wrong unit, or a slip."""
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
    reason: Remark | None = None


def read_rows(
    sheet: Sheet, kinds: Mapping[str, str], chosen: Mapping[str, str], today_year: int
) -> tuple[Columns, list[Row]]:
    """Every row of the file. `kinds`: id by each name as it is compared; `chosen`: id by a word a person decided on."""
    columns = find_columns(sheet, SCOPES, (("kind",), ("serial", "udi")))
    return columns, [_row(columns, line, kinds, chosen, today_year) for line in columns.lines]


def _row(columns: Columns, line: Line, kinds: Mapping[str, str], chosen: Mapping[str, str], today_year: int) -> Row:
    said = {column: " ".join(columns.text(line, column).split()) for column in SCOPES if column != "codes"}
    name = said["tag"] or said["serial"] or said["udi"] or said["model"]
    try:
        for column in ("tag", "model", "serial", "udi", "codes"):
            _as_typed(columns, line, column)
        said["kind"] = _kind(said["kind"], kinds, chosen)
        identity = identity_of(said, today_year)
        tube_mm = _length_mm(said["tube_mm"])
        for column in ("tag", "maker", "model", "serial", "serial_where"):
            if len(said[column]) > SHORT:
                raise Refused("text_too_long", column=column)
    except Refused as why:
        return Row(line, name[:SHORT], None, said, reason=why.remark)
    codes = [code for part in columns.text(line, "codes").splitlines() for code in part.split(";")]
    said["codes"] = "\n".join(dict.fromkeys(code.strip() for code in codes if code.strip()))
    return Row(line, name or identity.serial, identity, said, tube_mm)


def _as_typed(columns: Columns, line: Line, column: str) -> None:
    """Refuses a cell that a spreadsheet made a date or a short form of."""
    if columns.was_date(line, column):
        raise Refused("became_date", column=column, found=columns.text(line, column)[:60])
    if MANGLED.fullmatch(columns.text(line, column)):
        raise Refused("became_number", column=column, found=columns.text(line, column))


def _kind(word: str, kinds: Mapping[str, str], chosen: Mapping[str, str]) -> str:
    if not word:
        raise Refused("kind_missing")
    wanted = bare(word)
    if (found := kinds.get(wanted) or chosen.get(word)) is not None:
        return found
    near = difflib.get_close_matches(wanted[:100], kinds, n=1, cutoff=0.55)
    raise Refused("kind_unknown", word=word[:100], nearest=kinds[near[0]] if near else "")


def _length_mm(text: str) -> int | None:
    """Whole millimetres; a bare number is millimetres, as the column says."""
    if not text:
        return None
    found = LENGTH.fullmatch(text.lower())
    if found is None:
        raise Refused("length_not_read", found=text[:60])
    factor = {"cm": 10, "m": 1000}.get(found[2] or "mm", 1)
    mm = round(float(found[1].replace(",", ".")) * factor)
    if not LEAST_MM <= mm <= MOST_MM:
        raise Refused("length_not_read", found=text[:60])
    return mm


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
    told = Fate(n, row.name, "new", key, kind=row.said["kind"], serial=identity.serial)
    if key in seen:
        return replace(told, fate="duplicate", of=seen[key]), None
    seen[key] = n
    notes = [*identity.notes, *_elsewhere(row, key, record, tags)]
    known = record.known.get(key)
    on_record = known if known is not None and known.on_record != "unknown" else None
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
        none_here=list(known.none_here) if known else [],
        tube_mm=row.tube_mm or (known.tube_mm if known else None) or UNSET,
        serial_where=said["serial_where"] or (known.serial_where if known else None) or UNSET,
        channels=list(known.channels) if known else [],
        instructions=(known.instructions if known else None) or UNSET,
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
    return found


def _text(value: object) -> str:
    return "" if value is None or value is UNSET else str(value)
