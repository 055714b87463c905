"""The database: SQLite by the newest driver at hand, every commit durable, write transactions taken at once."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import ModuleType
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

WAL_FROM = (3, 51, 3)
"""Before this version SQLite could damage a database when a WAL is reset (3.7.0 to 3.51.2)."""
WAIT_MS = 10_000
"""How long a transaction waits for another process's; ours never wait for each other."""

CACHE_KIB = 65536
"""Memory for pages a connection: the default of 2 MB reads the same index pages again and again while writing."""
PAGE_BYTES = 8192
"""Of a new database: a row with its line is about 1 kB, so fewer pages are begun and written; a database that is
there keeps its own."""
CHECKPOINT_PAGES = 2000
"""Pages in the WAL before they are moved into the database (16 MB): measured 12 us an entry less than at 4 MB."""


def sqlite_module() -> ModuleType:
    """`pysqlite3` where there is a build of it (it brings a new SQLite), else the Python's own."""
    try:
        import pysqlite3.dbapi2 as newer
    except ImportError:
        return sqlite3
    return newer  # type: ignore[no-any-return]


def sqlite_version() -> tuple[int, ...]:
    """The version of the SQLite in use."""
    return tuple(sqlite_module().sqlite_version_info)


def journal() -> str:
    """WAL where this SQLite keeps it safe, else the rollback journal (each commit is slower, none is lost)."""
    return "WAL" if sqlite_version() >= WAL_FROM else "DELETE"


def journal_note() -> str | None:
    """What is to be said at start where the older way is taken; None where all is as it should be."""
    if journal() == "WAL":
        return None
    version = ".".join(map(str, sqlite_version()))
    return f"SQLite {version} is older than 3.51.3: saving is safe but slower. Install pysqlite3 to make it faster."


def open_engine(path: Path, *, module: ModuleType | None = None) -> Engine:
    """The database in `path`, made there when there is none. Every connection: FULL, so that a commit is durable.

    Transactions begin IMMEDIATE (a read that later writes would fail instead of waiting); an engine with
    the execution option `ro` begins deferred and takes no write lock.
    """
    driver = module or sqlite_module()
    engine = create_engine(
        f"sqlite:///{path}",
        module=driver,
        connect_args={"timeout": WAIT_MS / 1000, "check_same_thread": False},
        pool_size=8,
        max_overflow=24,
        hide_parameters=True,  # a failed statement is logged without its values: names and PIN hashes are among them
    )
    mode = journal()

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _: object) -> None:
        connection.isolation_level = None  # the driver sends no BEGIN of its own
        connection.execute(f"PRAGMA page_size={PAGE_BYTES}")  # before the first page is written
        for pragma in (f"journal_mode={mode}", "synchronous=FULL", "foreign_keys=ON", f"busy_timeout={WAIT_MS}"):
            connection.execute(f"PRAGMA {pragma}")
        for pragma in ("mmap_size=0", f"cache_size=-{CACHE_KIB}", f"wal_autocheckpoint={CHECKPOINT_PAGES}"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        reads = connection.get_execution_options().get("ro")
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    return engine


def reader(engine: Engine) -> Engine:
    """The same database for reading: a stable snapshot, no write lock."""
    return engine.execution_options(ro=True)
