"""The vector files have the shape their schema says, and no case is told twice."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.sink

VECTORS = Path(__file__).resolve().parents[2] / "shared/vectors"
NAMES = ("chain", "entries", "hashes", "measure", "policy", "units")
TYPES = {str: "string", bool: "boolean", int: "integer", list: "array", dict: "object", type(None): "null"}


def faults(value: Any, rule: dict[str, Any], whole: dict[str, Any], at: str = "$") -> list[str]:
    """Where a value breaks a schema, as far as these schemas use the language of JSON Schema 2020-12."""
    if "$ref" in rule:
        rule = whole["$defs"][rule["$ref"].rsplit("/", 1)[1]]
    found: list[str] = []
    types = rule.get("type", TYPES[type(value)])
    if TYPES[type(value)] not in ([types] if isinstance(types, str) else types):
        return [f"{at}: is a {TYPES[type(value)]}"]
    if "enum" in rule and value not in rule["enum"]:
        found.append(f"{at}: {value!r} is not in the list")
    if isinstance(value, str) and not re.search(rule.get("pattern", ""), value):
        found.append(f"{at}: pattern")
    if isinstance(value, str | list) and len(value) < rule.get("minItems", rule.get("minLength", 0)):
        found.append(f"{at}: too few")
    if isinstance(value, list):
        for number, item in enumerate(value):
            found += faults(item, rule.get("items", {}), whole, f"{at}[{number}]")
    if isinstance(value, dict):
        inner = rule.get("properties", {})
        found += [f"{at}: lacks {name}" for name in rule.get("required", []) if name not in value]
        if rule.get("additionalProperties") is False:
            found += [f"{at}: does not know {name}" for name in value if name not in inner]
        other = rule.get("additionalProperties")
        if isinstance(other, dict):
            inner = {name: inner.get(name, other) for name in value}
        for name, item in value.items():
            found += faults(item, inner.get(name, {}), whole, f"{at}.{name}")
    return found


def read(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return json.loads((VECTORS / f"{name}.json").read_text()), json.loads((VECTORS / f"{name}.schema.json").read_text())


@pytest.mark.parametrize("name", NAMES)
def test_a_vector_file_has_the_shape_of_its_schema(name: str) -> None:
    vectors, schema = read(name)
    assert faults(vectors, schema, schema) == []


@pytest.mark.parametrize("name", NAMES)
def test_no_case_is_told_twice(name: str) -> None:
    vectors, _ = read(name)
    for group, cases in vectors.items():
        if isinstance(cases, list):
            told = [case["description"] for case in cases]
            assert len(told) == len(set(told)), f"{name}.{group}"


def test_a_case_without_its_source_is_found() -> None:
    vectors, schema = read("chain")
    del vectors["cases"][3]["source"]
    vectors["cases"][4]["expected"]["verdict"] = "perhaps"
    assert faults(vectors, schema, schema) == [
        "$.cases[3]: lacks source",
        "$.cases[4].expected.verdict: 'perhaps' is not in the list",
    ]
