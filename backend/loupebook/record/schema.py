"""`kinds.py` told to others: JSON Schema for readers of an export, types for the tablet.

`loupebook schema` writes them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import get_args

import msgspec
from msgspec import Struct, inspect

from loupebook.record import kinds
from loupebook.record.kinds import SERVER_KINDS, STATION_KINDS, Entry

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def written() -> dict[str, str]:
    """Every file made from `kinds.py`: its path below the checkout, its text."""
    return {
        "shared/schema/entry.json": _schema_text(Entry, "Entry, version 1: one line of a chain"),
        "shared/schema/bodies.json": _bodies_text(),
        "frontend/src/record/kinds.ts": typescript(),
    }


def write_schema(root: Path) -> list[str]:
    """Writes what is stale below `root`; the paths written."""
    stale = stale_files(root)
    for path in stale:
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(written()[path], encoding="utf-8")
    return stale


def stale_files(root: Path) -> list[str]:
    """The paths whose text is not what `kinds.py` says now."""
    return [path for path, text in written().items() if _read(root / path) != text]


def _read(path: Path) -> str | None:
    return path.read_text(encoding="utf-8") if path.exists() else None


def _schema_text(shape: type[Struct], title: str) -> str:
    (schema,), parts = msgspec.json.schema_components([shape])
    return _json({"$schema": DIALECT, "title": title, **schema, "$defs": dict(sorted(parts.items()))})


def _bodies_text() -> str:
    all_kinds = STATION_KINDS | SERVER_KINDS
    schemas, parts = msgspec.json.schema_components(list(all_kinds.values()))
    kinds_of = {"station": list(STATION_KINDS), "server": list(SERVER_KINDS)}
    bodies = dict(zip(all_kinds, schemas, strict=True))
    top = {"$schema": DIALECT, "title": "The body of each kind", "kinds": kinds_of, "properties": bodies}
    return _json({**top, "$defs": dict(sorted(parts.items()))})


def _json(value: object) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False) + "\n"


# ---------------------------------------------------------------- TypeScript

_TOP = """\
// Made by `loupebook schema` from backend/loupebook/record/kinds.py. Change it there; a test fails when this is stale.
/** The closed list of entry kinds and the shape of each body. Whole numbers only. */

/** What a line holds where the kind decides the shape. */
export type Json = null | boolean | number | string | readonly Json[] | { readonly [key: string]: Json };
"""


def typescript() -> str:
    """The types of `kinds.py`: one interface a struct, and the body of each kind."""
    structs = [each for each in vars(kinds).values() if isinstance(each, type) and issubclass(each, Struct)]
    shapes = [each for each in structs if each is not Struct]
    blocks = [_TOP, *_named_lists(), *(_interface(each) for each in shapes)]
    blocks.append(_table("StationBodies", "Bodies a station writes, by kind.", STATION_KINDS))
    blocks.append(_table("ServerBodies", "Bodies the server's own chain holds, by kind.", SERVER_KINDS))
    blocks.append(
        "export type StationKind = keyof StationBodies;\n"
        "export type ServerKind = keyof ServerBodies;\n"
        "export type Kind = StationKind | ServerKind;\n"
    )
    blocks.append(_array("STATION_KINDS", "StationKind", STATION_KINDS))
    blocks.append(_array("SERVER_KINDS", "ServerKind", SERVER_KINDS))
    return "\n".join(blocks)


_LISTS = ("Point", "First", "Goes", "Grade", "Since", "Shows", "Known", "End")
_TEXTS = {
    "Sha256": "Lower-case hex of a SHA-256: the identity of an entry, a photo, a chain, a catalogue, a policy.",
    "ScopeKey": "`udi:DI/SERIAL`, or `mms:MAKER|MODEL|SERIAL` where the scope carries no UDI.",
    "Moment": "RFC 3339 with milliseconds and offset.",
}


def _named_lists() -> list[str]:
    texts = [f"/** {says} */\nexport type {name} = string;\n" for name, says in _TEXTS.items()]
    lists = [f"export type {name} = {_words(get_args(getattr(kinds, name)))};\n" for name in _LISTS]
    return [*texts, *lists]


def _words(values: Iterable[object]) -> str:
    return " | ".join(json.dumps(value) for value in values)


def _interface(shape: type[Struct]) -> str:
    info = inspect.type_info(shape)
    assert isinstance(info, inspect.StructType)
    says = " ".join((shape.__doc__ or "").split())
    lines = [f"/** {says} */"] if says and not says.startswith(f"{shape.__name__}(") else []
    lines.append(f"export interface {shape.__name__} {{")
    for field in info.fields:
        optional = "" if field.required else "?"
        lines.append(f"  readonly {field.encode_name}{optional}: {_type(field.type)};")
    return "\n".join([*lines, "}\n"])


def _type(info: inspect.Type) -> str:
    alias = _alias(info)
    if alias is not None:
        return alias
    match info:
        case inspect.Metadata(type=bare):
            return _type(bare)
        case inspect.LiteralType(values=values):
            return _words(values)
        case inspect.StrType():
            return "string"
        case inspect.IntType():
            return "number"
        case inspect.BoolType():
            return "boolean"
        case inspect.NoneType():
            return "null"
        case inspect.RawType():
            return "Json"
        case inspect.StructType(cls=shape):
            return str(shape.__name__)
        case inspect.ListType(item_type=item):
            inner = _type(item)
            return f"readonly ({inner})[]" if " | " in inner else f"readonly {inner}[]"
        case inspect.UnionType(types=types):
            return " | ".join(_type(each) for each in types if not _is_unset(each))
        case _:
            raise TypeError(f"no TypeScript for {info!r}")


def _is_unset(info: inspect.Type) -> bool:
    return isinstance(info, inspect.CustomType) and info.cls is msgspec.UnsetType


def _alias(info: inspect.Type) -> str | None:
    for name in (*_TEXTS, *_LISTS):
        if info == inspect.type_info(getattr(kinds, name)):
            return name
    return None


def _table(name: str, says: str, shapes: dict[str, type[Struct]]) -> str:
    rows = [f'  readonly "{kind}": {shape.__name__};' for kind, shape in shapes.items()]
    return "\n".join([f"/** {says} */", f"export interface {name} {{", *rows, "}\n"])


def _array(name: str, kind: str, shapes: dict[str, type[Struct]]) -> str:
    words = "".join(f'  "{each}",\n' for each in shapes)
    return f"export const {name}: readonly {kind}[] = [\n{words}];\n"
