"""What other folders read of the log's own tables, one indexed query each."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, bindparam, select, text

from loupebook.log.asking import ask, ask_value, ask_values
from loupebook.log.port import Statement
from loupebook.log.states import CURRENT
from loupebook.log.tables import SERVER_KEY, chains, entries, facts, photos, photos_named, verdicts
from loupebook.record.heads import unbase64url


class AsideRow(NamedTuple):
    """An entry that was put aside and waits for a lead; of a line that cannot be read only its place is known."""

    position: int
    hash: str
    chain: str
    seq: int
    kind: str | None
    at: str | None
    person: str | None
    scope: str | None
    reason: str
    received_at: str
    settled: str | None
    """`count` where a lead let it in and a rule, or what it names, still stands against it."""


ASIDES = text(
    "SELECT e.position, e.hash, e.chain, e.seq, e.kind, e.at, e.person, e.scope, v.reason, e.received_at, v.settled "
    "FROM log_unsettled JOIN log_entries e ON e.position = log_unsettled.position "
    "JOIN log_verdicts v ON v.position = e.position "
    "AND v.n = (SELECT max(w.n) FROM log_verdicts w WHERE w.position = e.position) ORDER BY log_unsettled.position"
)


def asides(connection: Connection) -> list[AsideRow]:
    """Everything put aside that is not settled, or was let in and still does not count, oldest first."""
    return [AsideRow._make(row) for row in ask(connection, ASIDES)]


class SignedHead(NamedTuple):
    """How far a chain is proved: the newest of its lines that its key signed."""

    chain: str
    seq: int
    hash: str
    sig: str


SIGNED = text(
    "SELECT c.chain, h.seq, h.hash, h.sig FROM log_chains c JOIN log_heads h ON h.chain = c.chain "
    "AND h.seq = (SELECT max(n.seq) FROM log_heads n WHERE n.chain = c.chain) ORDER BY c.chain"
)


def signed_heads(connection: Connection) -> list[SignedHead]:
    """The newest signed head of every chain, the server's too."""
    return [SignedHead._make(row) for row in ask(connection, SIGNED)]


class StrayLines(NamedTuple):
    """Whole lines of a chain that forked, kept beside it: how many, and from which place of the chain to which."""

    chain: str
    lines: int
    first_seq: int
    last_seq: int
    received_at: str


STRAYS = text(
    "SELECT s.chain, count(*), min(s.seq), max(s.seq), max(s.received_at) FROM json_each(:chains) c "
    "JOIN log_strays s ON s.chain = c.value GROUP BY s.chain ORDER BY 5 DESC, 1"
)


def stray_lines(connection: Connection, wanted: Sequence[str]) -> list[StrayLines]:
    """The strays of each of these chains that has some, the newest first."""
    rows = ask(connection, STRAYS, {"chains": json.dumps(list(wanted))})
    return [StrayLines._make(row) for row in rows]


POSITION = text("SELECT max(position) FROM log_entries")


def position(connection: Connection) -> int:
    """The last place in the log, as this connection sees it."""
    return int(ask_value(connection, POSITION) or 0)


class NamedPhoto(NamedTuple):
    """A photo as received entries name it: its length, and whether its bytes are here."""

    sha256: str
    bytes: int
    stored: bool


NAMED_PHOTO = Statement(
    select(photos_named.c.bytes, photos.c.sha256)
    .outerjoin(photos, photos.c.sha256 == photos_named.c.sha256)
    .where(photos_named.c.sha256 == bindparam("photo"))
    .limit(1)
)


def named_photo(connection: Connection, sha256: str) -> NamedPhoto | None:
    """The photo of this name, or None where no received entry names it."""
    row = connection.execute(NAMED_PHOTO.clause, {"photo": sha256}).one_or_none()
    return NamedPhoto(sha256, row[0], row[1] is not None) if row else None


HERE = text("SELECT sha256 FROM log_photos WHERE sha256 IN :wanted").bindparams(bindparam("wanted", expanding=True))


def photos_here(connection: Connection, wanted: Sequence[str]) -> set[str]:
    """Those of the hashes whose bytes are durable."""
    here: set[str] = set()
    for start in range(0, len(wanted), 500):
        some = wanted[start : start + 500]
        here.update(ask_values(connection, HERE, {"wanted": some}))
    return here


def lines_of(connection: Connection, hashes: Sequence[str]) -> Mapping[str, bytes]:
    """The stored lines of entries, by their hashes; those not here are left out."""
    wanted = list(hashes)
    found: dict[str, bytes] = {}
    for start in range(0, len(wanted), 500):
        some = wanted[start : start + 500]
        rows = connection.execute(select(entries.c.hash, entries.c.line).where(entries.c.hash.in_(some)))
        found |= {hash: bytes(line) for hash, line in rows}
    return found


def all_heads(connection: Connection) -> Mapping[str, tuple[int, str, str]]:
    """Chain -> (seq, hash, received at) of every chain."""
    rows = connection.execute(select(chains.c.chain, chains.c.seq, chains.c.hash, chains.c.received_at))
    return {chain: (seq, hash, at) for chain, seq, hash, at in rows}


HEADS = text("SELECT chain, seq, hash, received_at FROM log_chains WHERE chain IN :wanted").bindparams(
    bindparam("wanted", expanding=True)
)


def heads_of(connection: Connection, wanted: Sequence[str]) -> Mapping[str, tuple[int, str, str]]:
    """The same of these chains; one of which nothing came is left out."""
    rows = ask(connection, HEADS, {"wanted": list(wanted)})
    return {chain: (seq, hash, at) for chain, seq, hash, at in rows}


def last_of_kind(connection: Connection, kind: str) -> tuple[int, bytes] | None:
    """Position and line of the newest counted entry of a kind that is about no scope (`policy.set` ...), or None."""
    row = connection.execute(
        select(entries.c.position, entries.c.line)
        .join(verdicts, CURRENT)
        .where(entries.c.kind == kind, entries.c.scope.is_(None), verdicts.c.verdict == "counted")
        .order_by(entries.c.position.desc())
        .limit(1)
    ).one_or_none()
    return (row[0], bytes(row[1])) if row else None


def all_of_kind(connection: Connection, kind: str) -> list[bytes]:
    """Lines of every counted entry of a kind that is about no scope, oldest first."""
    rows = connection.execute(
        select(entries.c.line)
        .join(verdicts, CURRENT)
        .where(entries.c.kind == kind, entries.c.scope.is_(None), verdicts.c.verdict == "counted")
        .order_by(entries.c.position)
    )
    return [bytes(line) for line in rows.scalars()]


def server_keys(connection: Connection) -> Mapping[str, bytes]:
    """Chain -> public key (SPKI, DER) of every chain this record's server has written."""
    rows = connection.execute(select(facts.c.name, facts.c.value).where(facts.c.name.startswith(SERVER_KEY)))
    return {name.removeprefix(SERVER_KEY): unbase64url(value) for name, value in rows}


def named_photos(connection: Connection) -> Iterable[tuple[str, int]]:
    """Every photo named: its hash and length. For scrubs and exports."""
    rows = connection.execute(select(photos_named.c.sha256, photos_named.c.bytes).distinct())
    return ((sha256, length) for sha256, length in rows)
