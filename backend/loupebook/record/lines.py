"""An entry to its one line and back. A line is written once; after that only its bytes are kept and sent.

Reading is what every received entry pays for: msgspec throughout, and the slow, exact look for doubled keys
only where a line is not written as a tablet writes it.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from typing import Literal, NamedTuple, get_args

import msgspec
from msgspec import UNSET, Struct

from loupebook.record.kinds import KINDS, Entry

LONGEST_LINE = 65536
"""Bytes, the line feed left out."""
LARGEST = 2**53 - 1
"""The largest whole number both languages hold exactly."""

LineReason = Literal["unparseable", "doubled_key", "not_whole", "unknown_kind", "bad_body"]
"""Why a line cannot be read as an entry.

unparseable    too long, not UTF-8, not JSON, or without the fields every entry has
doubled_key    an object names a key twice: two readers may see two things
not_whole      a fraction, or a whole number beyond ±(2^53 - 1)
unknown_kind   the kind is not in the closed list
bad_body       the body lacks what its kind asks for
"""
LINE_REASONS: tuple[LineReason, ...] = get_args(LineReason)

KEYS = (
    "v", "chain", "seq", "prev", "kind", "at", "clock", "person", "proof", "build", "about", "basis", "body", "photos",
)  # fmt: skip
"""The order of a line's keys."""


class Line(NamedTuple):
    """A line as read: the entry, and its body as its kind's struct."""

    entry: Entry
    body: Struct


class LineRefused(Exception):
    """A line that is no entry. `entry` is there where the fields every entry has could be read."""

    def __init__(self, reason: LineReason, entry: Entry | None = None) -> None:
        super().__init__(reason)
        self.reason = reason
        self.entry = entry


class NotWritable(ValueError):
    """A value a line cannot hold: a fraction, a number out of range, a strange type, too long a line."""


# ---------------------------------------------------------------- writing


def write_line(fields: Mapping[str, object]) -> bytes:
    """The line of an entry's fields: keys in their order, no blanks, NFC text, UNSET fields left out.

    Raises NotWritable for what a line cannot hold, and KeyError for a missing field.
    """
    ordered = {key: fields[key] for key in KEYS if key != "basis" or fields.get("basis", UNSET) is not UNSET}
    line = msgspec.json.encode(_plain(msgspec.to_builtins(ordered)))
    if len(line) > LONGEST_LINE:
        raise NotWritable(f"the line has {len(line)} bytes of at most {LONGEST_LINE}")
    return line


def _plain(value: object) -> object:
    match value:
        case None | bool():
            return value
        case str():
            return unicodedata.normalize("NFC", value)
        case int() if -LARGEST <= value <= LARGEST:
            return value
        case list() | tuple():
            return [_plain(item) for item in value]
        case dict():
            return {unicodedata.normalize("NFC", key): _plain(item) for key, item in value.items()}
        case _:
            raise NotWritable(f"a line cannot hold {value!r}")


# ---------------------------------------------------------------- reading


class _Fraction(Exception):
    pass


def _fraction(_: str) -> float:
    raise _Fraction


_anything = msgspec.json.Decoder(float_hook=_fraction)
_again = msgspec.json.Encoder()
_entry = msgspec.json.Decoder(Entry)
_bodies = {kind: msgspec.json.Decoder(shape) for kind, shape in KINDS.items()}
_DIGITS_ALIKE = bytes(48 if 48 <= byte < 58 else byte for byte in range(256))
_SIXTEEN_DIGITS = b"0" * 16


def parse_line(line: bytes) -> Line:
    """The entry on a line, its body read. Raises LineRefused, naming the first reason in the order of LINE_REASONS."""
    _check_plain(line)
    try:
        entry = _entry.decode(line)
    except msgspec.DecodeError:
        raise LineRefused("unparseable") from None
    decoder = _bodies.get(entry.kind)
    if decoder is None:
        raise LineRefused("unknown_kind", entry)
    try:
        return Line(entry, decoder.decode(entry.body))
    except msgspec.DecodeError:
        raise LineRefused("bad_body", entry) from None


def parse_body(kind: str, body: msgspec.Raw) -> Struct:
    """The body of a kind. Raises LineRefused: unknown_kind, bad_body."""
    if kind not in _bodies:
        raise LineRefused("unknown_kind")
    try:
        return _bodies[kind].decode(body)
    except msgspec.DecodeError:
        raise LineRefused("bad_body") from None


def _check_plain(line: bytes) -> None:
    """JSON, an object, no key twice, whole numbers in range.

    What comes back byte for byte when it is written again names no key twice; a tablet's lines do. Only
    others are read key by key, which costs five times as much.
    """
    if len(line) > LONGEST_LINE:
        raise LineRefused("unparseable")
    try:
        value = _anything.decode(line)
    except _Fraction:
        _check_exactly(line)
        raise LineRefused("not_whole") from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        raise LineRefused("unparseable") from None
    if type(value) is not dict:
        raise LineRefused("unparseable")
    if _again.encode(value) != line or _SIXTEEN_DIGITS in line.translate(_DIGITS_ALIKE):
        _check_exactly(line)


class _Doubled(Exception):
    pass


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    fields = dict(pairs)
    if len(fields) != len(pairs):
        raise _Doubled
    return fields


def _check_exactly(line: bytes) -> None:
    """Reads every key and number: doubled_key before not_whole."""
    whole = True

    def number(text: str) -> int:
        nonlocal whole
        if len(text) > 17 or not text.lstrip("-").isdigit() or abs(int(text)) > LARGEST:
            whole = False
        return 0

    try:
        json.loads(line, object_pairs_hook=_once, parse_int=number, parse_float=number, parse_constant=number)
    except _Doubled:
        raise LineRefused("doubled_key") from None
    except (ValueError, RecursionError):
        raise LineRefused("unparseable") from None
    if not whole:
        raise LineRefused("not_whole")
