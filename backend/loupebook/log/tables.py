"""The log's own tables. Entries and verdicts are only ever added to; chains, photos and pins say how far things are.

`rebuild` never touches these. Times are RFC 3339, UTC.
"""

from __future__ import annotations

from sqlalchemy import Column, Index, Integer, LargeBinary, MetaData, Table, Text, UniqueConstraint

LOG = MetaData()

chains = Table(
    "log_chains",
    LOG,
    Column("chain", Text, primary_key=True),
    Column("seq", Integer, nullable=False),
    Column("hash", Text, nullable=False),
    Column("received_at", Text, nullable=False),
    Column("build", Text),
    Column("backed_up_seq", Integer, nullable=False),
)
"""The last line of each chain."""

entries = Table(
    "log_entries",
    LOG,
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("chain", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("hash", Text, nullable=False, index=True),
    Column("kind", Text),
    Column("person", Text),
    Column("scope", Text),
    Column("inspection", Text),
    Column("target", Text),
    Column("at", Text),
    Column("received_at", Text, nullable=False),
    Column("line", LargeBinary, nullable=False),
    UniqueConstraint("chain", "seq"),
)
"""Every line, in the order received. Of a line that could not be read only its place and its bytes are known.

`inspection` is the begun entry of its part (its own hash for `inspection.begun`); `target` the entry it takes back
or corrects. A hash names one entry; only bytes that could not be read, or stand in a wrong place, can come twice.
"""
Index("log_entries_inspection", entries.c.inspection, sqlite_where=entries.c.inspection.isnot(None),
      postgresql_where=entries.c.inspection.isnot(None))  # fmt: skip
Index("log_entries_of_no_scope", entries.c.kind, entries.c.position, sqlite_where=entries.c.scope.is_(None),
      postgresql_where=entries.c.scope.is_(None))  # fmt: skip
Index("log_entries_target", entries.c.target, sqlite_where=entries.c.target.isnot(None),
      postgresql_where=entries.c.target.isnot(None))  # fmt: skip

verdicts = Table(
    "log_verdicts",
    LOG,
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("verdict", Text, nullable=False),
    Column("reason", Text),
    Column("settled", Text),
    Column("changed", Integer, nullable=False),
    Column("build", Text, nullable=False),
    Column("at", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""What was said of an entry, the newest `n` last. `changed`: the position at which it was said. `settled`: what a
lead said of it (count, leave_out), if one did."""
_aside = verdicts.c.verdict == "aside"
Index("log_verdicts_aside", verdicts.c.position, sqlite_where=_aside, postgresql_where=_aside)

unsettled = Table("log_unsettled", LOG, Column("position", Integer, primary_key=True, autoincrement=False))
"""Entries put aside that no lead has left out, those let in that still do not count too. It follows from the verdicts
and is made anew at each start; kept, so that who asks what waits visits nothing that was settled long ago."""

heads = Table(
    "log_heads",
    LOG,
    Column("chain", Text, primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("hash", Text, nullable=False),
    Column("sig", Text, nullable=False),
    Column("received_at", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""Signed heads as received, one a batch; the server's own, one an entry."""

strays = Table(
    "log_strays",
    LOG,
    Column("hash", Text, primary_key=True),
    Column("chain", Text, nullable=False, index=True),
    Column("seq", Integer, nullable=False),
    Column("received_at", Text, nullable=False),
    Column("line", LargeBinary, nullable=False),
)
"""Whole lines of a forked chain: kept, never counted, without a position."""

photos_named = Table(
    "log_photos_named",
    LOG,
    Column("sha256", Text, primary_key=True),
    Column("entry", Text, primary_key=True),
    Column("bytes", Integer, nullable=False),
    Column("type", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""Photos that received lines name, strays and entries put aside too."""

photos = Table(
    "log_photos",
    LOG,
    Column("sha256", Text, primary_key=True),
    Column("bytes", Integer, nullable=False),
    Column("stored_at", Text, nullable=False),
    Column("epoch_n", Integer, nullable=False),
    sqlite_with_rowid=False,
)
"""Photos whose bytes were durable before this row was written."""

pinned = Table(
    "log_pinned",
    LOG,
    Column("sha256", Text, primary_key=True),
    Column("text", Text, nullable=False),
    Column("added_at", Text, nullable=False),
)
"""Texts of catalogues, policies and frequencies, by the plain SHA-256 of the text."""

facts = Table(
    "log_facts",
    LOG,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
"""Single facts: `epoch_n`, `epoch_id`, and the public key of every chain the server has written."""
SERVER_KEY = "server_key/"
"""What stands before the chain's id in the name of such a fact."""
