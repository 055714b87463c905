"""Texts that entries pin by their hash: catalogues, policies, frequencies. Kept for ever, parsed once."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from sqlalchemy import Connection, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.sql.dml import Insert

from loupebook.log.tables import pinned
from loupebook.record.hashes import text_hash


class NotAPin(ValueError):
    """The text is no JSON object."""


class Pins:
    """The parsed texts by their SHA-256. Reading never blocks; a text once known stays."""

    def __init__(self) -> None:
        self._known: dict[str, Mapping[str, object]] = {}
        self._lock = threading.Lock()

    def __call__(self, sha256: str) -> Mapping[str, object] | None:
        """The parsed text of this hash, or nothing."""
        return self._known.get(sha256)

    def load(self, connection: Connection) -> None:
        """Learns every text kept in the database."""
        for sha256, text in connection.execute(select(pinned.c.sha256, pinned.c.text)):
            self._learn(sha256, text)

    def keep(self, connection: Connection, texts: Iterable[str], at: str) -> list[str]:
        """Keeps texts in the transaction of `connection`; their hashes, in order. Raises NotAPin."""
        hashes: list[str] = []
        for text in texts:
            sha256 = text_hash(text)
            self._learn(sha256, text)
            connection.execute(_insert(connection).values(sha256=sha256, text=text, added_at=at))
            hashes.append(sha256)
        return hashes

    def _learn(self, sha256: str, text: str) -> None:
        if sha256 in self._known:
            return
        try:
            value = msgspec.json.decode(text)
        except msgspec.DecodeError as wrong:
            raise NotAPin("the text is not JSON") from wrong
        if not isinstance(value, dict):
            raise NotAPin("the text is no object")
        with self._lock:
            self._known = {**self._known, sha256: value}


def _insert(connection: Connection) -> Any:
    """An insert that leaves a row that is there as it is."""
    make: Any = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    clause: Insert = make(pinned)
    return clause.on_conflict_do_nothing()  # type: ignore[attr-defined]
