"""The policy in force as a table: each row with who last set it, when and why, and every change before."""

from __future__ import annotations

import json
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from sqlalchemy import Connection

from loupebook.reading.port import Sources
from loupebook.reading.shown import person_shown
from loupebook.rules.policy_table import changed


def policy_page(connection: Connection, sources: Sources) -> dict[str, object]:
    """The policies that were ever in force, oldest first, make the history; the first came with the software."""
    versions = sources.policies(connection)
    texts: list[dict[str, Any]] = [json.loads(version.text) for version in versions]
    changes: list[dict[str, Any]] = [
        {"at": now.at, "person": now.person, "reason": now.reason, "sha256": now.sha256, "rows": changed(old, new),
         "second": _second_changed(old, new), "recleans": _recleans_changed(old, new)}
        for (_, now), (old, new) in zip(pairwise(versions), pairwise(texts), strict=True)
    ]  # fmt: skip
    newest = {row["row"]: change for change in changes for row in change["rows"]}
    second = next((_told(change) for change in reversed(changes) if change["second"]), None)
    days = next((_told(change) for change in reversed(changes) if change["recleans"]), None)
    named = {change["person"] for change in changes}
    epoch = sources.epoch()
    return {
        "epoch": {"n": epoch.n, "id": epoch.id},
        "position": sources.position(connection),
        "sha256": versions[-1].sha256,
        "text": versions[-1].text,
        "rows": [row | {"set": _told(newest[row["id"]]) if row["id"] in newest else None} for row in texts[-1]["rows"]],
        "second_opinion": _second(texts[-1]) | {"set": second},
        "recleans": _recleans(texts[-1]) | {"set": days},
        "changes": changes[::-1],
        "people": [person_shown(person) for person in sources.people(connection) if person.id in named],
    }


def _second(policy: Mapping[str, Any]) -> dict[str, Any]:
    """Whether second opinions are on, and how many of a hundred inspections are drawn; off in an older policy."""
    said = policy.get("second_opinion", {})
    return {name: said.get(name, other) for name, other in (("on", False), ("share_percent", 0), ("source", ""))}


def _second_changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, Any] | None:
    old, new = _second(before), _second(now)
    return None if old == new else {"before": old, "after": new}


def _recleans(policy: Mapping[str, Any]) -> dict[str, Any]:
    """Over how many days cleanings are counted; none in an older policy."""
    said = policy.get("recleans", {})
    return {"days": said.get("days"), "source": said.get("source", "")}


def _recleans_changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, Any] | None:
    old, new = _recleans(before), _recleans(now)
    return None if old == new else {"before": old["days"], "after": new["days"]}


def _told(change: dict[str, Any]) -> dict[str, object]:
    return {name: change[name] for name in ("at", "person", "reason")}
