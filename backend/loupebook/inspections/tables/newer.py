"""Whether something seen or tested was looked at, or tested, again since: one indexed question for each fact."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, text

from loupebook.inspections.tables.stands import STANDS
from loupebook.log.asking import ask_one, ask_value

_ELSEWHERE = "SELECT 1 FROM inspection_parts p WHERE p.begun = d.begun AND p.practice = 0 AND p.root <> :root"
_LOOKED = text(
    "SELECT 1 FROM part_marks d JOIN acts a ON a.version = d.version WHERE d.scope = :scope AND d.part = :part "
    f"AND d.when_ms > :after AND d.mark = 'nothing_found' AND {STANDS} AND EXISTS ({_ELSEWHERE}) AND NOT EXISTS ("
    "SELECT 1 FROM findings f JOIN acts b ON b.version = f.version WHERE f.scope = d.scope AND f.part = d.part "
    "AND f.when_ms >= d.when_ms AND b.replaced_by IS NULL AND b.withdrawn_by IS NULL) LIMIT 1"
)
_TESTED = text(
    "SELECT d.result FROM inspection_parts p JOIN readings d ON d.begun = p.begun "
    "JOIN acts a ON a.version = d.version WHERE p.scope = :scope AND p.when_ms > :after AND p.practice = 0 "
    f"AND p.root <> :root AND d.what = :what AND {STANDS} ORDER BY d.when_ms DESC LIMIT 1"
)
_SERIAL = text(
    "SELECT d.agrees FROM serial_photos d JOIN acts a ON a.version = d.version WHERE d.scope = :scope "
    f"AND d.when_ms > :after AND {STANDS} AND EXISTS ({_ELSEWHERE}) AND NOT EXISTS "
    "(SELECT 1 FROM serial_readings s WHERE s.begun = d.begun) ORDER BY d.when_ms DESC LIMIT 1"
)
GOOD = ("held", "within_limit", "works")
"""What a test shows that takes back what an earlier one showed."""


def answered(connection: Connection, scope: str, root: str, after_ms: int, fact: Mapping[str, Any]) -> bool:
    """Whether another inspection of the scope, begun after this one, answers a fact: the part was looked at again and
    nothing found, the test showed what it should, the photographed number agreed. Practice answers nothing."""
    given: dict[str, object] = {"scope": scope, "root": root, "after": after_ms}
    if fact["what"] == "finding":
        return ask_one(connection, _LOOKED, given | {"part": fact["part"]}) is not None
    if fact["what"] == "inspection":
        return bool(ask_value(connection, _SERIAL, given) == "yes")
    what = fact["check"] if fact["what"] == "function" else fact["what"]
    return str(ask_value(connection, _TESTED, given | {"what": what})) in GOOD
