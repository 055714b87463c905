"""What is known of scopes, people, stations and the facility: values that views and cards are handed or read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import msgspec
from sqlalchemy import Connection, bindparam, text

from loupebook.log.asking import ask, ask_by_name
from loupebook.record.kinds import ChannelSize, Instructions

Reading = Callable[[], AbstractContextManager[Connection]]
"""A connection that sees what is committed."""


@dataclass(frozen=True)
class Person:
    """Someone who acts here; the name stands outside the log."""

    id: str
    name: str
    initials: str
    roles: tuple[str, ...]


@dataclass(frozen=True)
class Station:
    """A tablet or desk, all chains it ever wrote, and when it was last heard from (RFC 3339, or nothing).

    `points`: where in the cycle it may look at a scope; none said = those of its side.
    """

    id: str
    name: str
    place: str
    side: str
    chains: tuple[str, ...]
    heard_at: str | None
    revoked: bool = False
    points: tuple[str, ...] = ()


@dataclass(frozen=True)
class Place:
    """Where stations stand: its side, and what may be looked at there."""

    name: str
    side: str
    points: tuple[str, ...]


@dataclass(frozen=True)
class Facility:
    """The hospital's name, IANA time zone, shift hours as (name, begins, ends), and places."""

    name: str
    zone: str
    shifts: tuple[tuple[str, str, str], ...]
    places: tuple[Place, ...] = ()


@dataclass(frozen=True)
class Epoch:
    """Which life of the database answers."""

    n: int
    id: str


@dataclass(frozen=True)
class ScopeKnown:
    """One scope: fields of the newest description; those it leaves out, of the first registration that has them."""

    key: str
    on_record: str
    """described, registered, or unknown (only its key was ever named)."""
    scope_kind: str | None = None
    serial: str | None = None
    di: str | None = None
    maker: str | None = None
    model: str | None = None
    tag: str | None = None
    codes: tuple[str, ...] = ()
    none_here: tuple[str, ...] = ()
    tube_mm: int | None = None
    tube_um: int | None = None
    serial_where: str | None = None
    channels: tuple[ChannelSize, ...] = ()
    instructions: Instructions | None = None
    version: str | None = None
    """The entry that says so: the newest description, else the first registration."""


def described(scope: ScopeKnown) -> dict[str, object]:
    """What a scope's description says beyond its identity, as it travels to tablets and to the desk."""
    return {
        "codes": list(scope.codes),
        "none_here": list(scope.none_here),
        "tube_mm": scope.tube_mm,
        "tube_um": scope.tube_um,
        "serial_where": scope.serial_where,
        "channels": msgspec.to_builtins(scope.channels),
        "instructions": msgspec.to_builtins(scope.instructions),
    }


# The last description, then registrations in the order of (chain, seq): the same whoever arrived first.
_RECORDS = text(
    "SELECT d.version, d.scope, d.source, d.scope_kind, d.serial, d.di, d.maker, d.model, d.tag, d.none_here, "
    "d.tube_mm, d.tube_um, d.serial_where, s.channels, s.instructions FROM scope_records d "
    "JOIN acts a ON a.version = d.version LEFT JOIN scope_sizes s ON s.version = d.version "
    "WHERE d.scope IN :scopes AND a.replaced_by IS NULL AND a.withdrawn_by IS NULL "
    "ORDER BY d.scope, d.source, CASE d.source WHEN 'described' THEN -d.seq ELSE 0 END, d.chain, d.seq"
).bindparams(bindparam("scopes", expanding=True))
_CODES = text("SELECT version, code FROM scope_codes WHERE scope IN :scopes ORDER BY version, code").bindparams(
    bindparam("scopes", expanding=True)
)
_FILLED = ("scope_kind", "serial", "di", "maker", "model", "tag", "tube_mm", "tube_um", "serial_where")


def scopes_known(connection: Connection, keys: Sequence[str]) -> dict[str, ScopeKnown]:
    """What is on record of these scopes; one never described or registered is `unknown` with the serial of its key."""
    if not keys:
        return {}
    wanted = {"scopes": list(dict.fromkeys(keys))}
    codes: dict[str, list[str]] = {}
    for version, code in ask(connection, _CODES, wanted):
        codes.setdefault(version, []).append(code)
    rows: dict[str, list[Mapping[Any, Any]]] = {}
    for row in ask_by_name(connection, _RECORDS, wanted):
        rows.setdefault(row["scope"], []).append(row)
    return {key: _joined(key, rows[key], codes) if key in rows else _only_named(key) for key in wanted["scopes"]}


def _joined(key: str, rows: Sequence[Mapping[Any, Any]], codes: Mapping[str, list[str]]) -> ScopeKnown:
    first = rows[0]
    same = rows[:1] if first["source"] == "described" else rows
    filled = {name: next((row[name] for row in rows if row[name] is not None), None) for name in _FILLED}
    filled["tag"] = first["tag"] if first["source"] == "described" else filled["tag"]
    return ScopeKnown(
        key=key,
        on_record=first["source"],
        codes=tuple(dict.fromkeys(code for row in same for code in codes.get(row["version"], ()))),
        none_here=tuple(msgspec.json.decode(first["none_here"], type=list[str])),
        channels=tuple(msgspec.json.decode(first["channels"] or "[]", type=list[ChannelSize])),
        instructions=msgspec.json.decode(first["instructions"] or "null", type=Instructions | None),
        version=first["version"],
        **filled,
    )


def _only_named(key: str) -> ScopeKnown:
    return ScopeKnown(key, "unknown", serial=key.replace("|", "/").rsplit("/", 1)[-1])
