"""Composes `catalogue.json`, the text that entries pin, from the three files people edit beside it. Pure.

findings.json   what may be seen, reasons, function checks
parts.json      each part, channel and before-use item once: code, shape on the line, zone, what to look for
kinds.json      the kinds of scope as lists of those, tip to plug, and what each point contains

A kind may copy another: `copies` names it, `without` takes parts and channels out, `with` puts some in after one
that is there (or at the end), and any other field replaces the copied one. In the composed text nothing is copied:
every kind stands there whole, so that neither side resolves anything when a rule is asked.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, cast

Json = dict[str, Any]
_ONLY_SOURCE = frozenset({"gross", "wet"})
"""What parts.json says of a part for the table of points; the points themselves say it in the composed text."""


class CatalogueUnfit(ValueError):
    """The files do not fit together; the words say which kind and what."""


WRITTEN = "shared/catalogue/catalogue.json"


def stale_files(root: Path) -> list[str]:
    """The composed file's path below the checkout, if its text is not what the three files say now."""
    path = root / WRITTEN
    now = path.read_text("utf-8") if path.exists() else None
    return [] if now == composed(path.parent) else [WRITTEN]


def write_catalogue(root: Path) -> list[str]:
    """Composes the catalogue anew if it is stale; the paths written."""
    stale = stale_files(root)
    for name in stale:
        (root / name).write_text(composed((root / name).parent), encoding="utf-8")
    return stale


def composed(folder: Path) -> str:
    """The text of catalogue.json from the files in `folder`. Raises CatalogueUnfit."""
    findings, parts, kinds = (_read(folder / name) for name in ("findings.json", "parts.json", "kinds.json"))
    whole = {
        "v": 1,
        "findings": findings["findings"],
        "reasons": findings["reasons"],
        "checks": findings["checks"],
        "kinds": {name: kind_of(name, kinds, parts) for name in kinds["kinds"]},
    }
    return _text(whole)


def _read(path: Path) -> Json:
    return cast(Json, json.loads(path.read_text("utf-8")))


def resolved(name: str, kinds: Mapping[str, Json], above: tuple[str, ...] = ()) -> Json:
    """A kind of kinds.json with what it copies laid under it. Raises CatalogueUnfit."""
    if name not in kinds or name in above:
        raise CatalogueUnfit(f"{' copies '.join((*above, name))}: there is no end to it")
    own = kinds[name]
    if "copies" not in own:
        return dict(own)
    base = resolved(own["copies"], kinds, (*above, name))
    taken = {field: value for field, value in own.items() if field not in ("copies", "without", "with")}
    out = set(own.get("without", ()))
    lists = {half: [each for each in base[half] if each not in out] for half in ("parts", "channels")}
    absent = out - {*base["parts"], *base["channels"]}
    if absent:
        raise CatalogueUnfit(f"{name} leaves out what {own['copies']} has not: {sorted(absent)}")
    for more in own.get("with", ()):
        half, new = ("parts", more["part"]) if "part" in more else ("channels", more["channel"])
        after = more.get("after")
        if new in lists[half] or (after is not None and after not in lists[half]):
            raise CatalogueUnfit(f"{name} cannot put {new} after {after}")
        lists[half].insert(len(lists[half]) if after is None else lists[half].index(after) + 1, new)
    return base | lists | taken


def kind_of(name: str, kinds: Json, library: Json) -> Json:
    """A kind as rules and screens read it: parts, channels, leak steps, and what each point contains."""
    kind = resolved(name, kinds["kinds"])
    unknown = [
        *(id for id in kind["parts"] if id not in library["parts"]),
        *(id for id in kind["channels"] if id not in library["channels"]),
    ]
    if unknown:
        raise CatalogueUnfit(f"{name} names what parts.json has not: {unknown}")
    dry = kind.get("not_immersed", ())
    return {
        **({"risk": kind["risk"], "risk_source": kind["risk_source"]} if kind.get("risk") == "high" else {}),
        "zones": kinds["zones"],
        "parts": [_part(id, library["parts"][id], id in dry) for id in kind["parts"]],
        "channels": [{"id": id, **library["channels"][id]} for id in kind["channels"]],
        "leak_steps": kind["leak_steps"],
        "points": {point: _point(rule, kind, library) for point, rule in kinds["points"].items()},
    }


def _part(id: str, part: Json, dry: bool) -> Json:
    shown = {field: value for field, value in part.items() if field not in _ONLY_SOURCE}
    return {"id": id, **shown, **({"caution": "not_immersed"} if dry else {})}


def _point(rule: Json, kind: Json, library: Json) -> Json:
    """What a point contains. Before use it is five items, each the parts it looks at or the check it asks for."""
    items = [_item(id, kind, library) for id in kind["before_use"]] if rule["parts"] == "items" else []
    checks = [item["check"] for item in items if "check" in item] + (kind["function"] if rule["function"] else [])
    return {
        "parts": _parts_at(rule["parts"], kind["parts"], items, library["parts"]),
        "channels": kind["channels"] if rule["channels"] else [],
        "zones": bool(rule["zones"] and kind["zoned"]),
        "needs": kind["needs"] if rule["needs"] else [],
        **({"checks": checks} if checks else {}),
        **({"items": items} if items else {}),
        **({"record": rule["record"]} if "record" in rule else {}),
    }


def _parts_at(which: str, parts: Sequence[str], items: Sequence[Json], library: Mapping[str, Json]) -> list[str]:
    if which == "items":
        named = {id for item in items for id in item.get("parts", ())}
        return [id for id in parts if id in named]
    return [id for id in parts if which == "all" or library[id][which]]


def _item(id: str, kind: Json, library: Json) -> Json:
    item = library["items"][id]
    here = [part for part in item.get("parts", ()) if part in kind["parts"]]
    return {"id": id, **({"parts": here} if here else {}), **({"check": item["check"]} if "check" in item else {})}


def _text(whole: Json) -> str:
    """JSON whose lists of ids stand on one line, so that a change of one part is a change of one line."""
    return f"{_written(whole, 0)}\n"


def _written(value: object, indent: int) -> str:
    flat = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    if not isinstance(value, (dict, list)) or len(flat) <= 240 or _all_plain(value):
        return flat
    pad = "\n" + " " * (indent + 1)
    if isinstance(value, list):
        return "[" + ",".join(pad + _written(each, indent + 1) for each in value) + "\n" + " " * indent + "]"
    rows = (f"{pad}{json.dumps(name)}:{_written(each, indent + 1)}" for name, each in value.items())
    return "{" + ",".join(rows) + "\n" + " " * indent + "}"


def _all_plain(value: Json | list[object]) -> bool:
    """A list of words, or one part with its list of words."""
    if isinstance(value, list):
        return not any(isinstance(each, (dict, list)) for each in value)
    return "look_for" in value
