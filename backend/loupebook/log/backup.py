"""Copies of the record while it is in use, and bringing one back. A brought-back record is a new epoch."""

from __future__ import annotations

import os
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import Engine, bindparam, text, update

from loupebook.log.engine import open_engine, sqlite_module
from loupebook.log.log import KEY_FILE
from loupebook.log.port import Epoch
from loupebook.log.tables import chains, facts

DATABASE = "record.sqlite"
"""The database's file in the data folder."""
PAGES = 2000
"""Pages copied at a time, so that the writer is not kept waiting."""


class BackupRefused(Exception):
    """The copy cannot be made or brought back. The text says what is so, what is safe and what to do next."""


class Copied(NamedTuple):
    """What was copied: the database's file, and how far each chain is in it."""

    file: Path
    heads: Mapping[str, int]


def back_up(folder: Path, to: Path) -> Copied:
    """Copies the database of a data folder into the new folder `to`; durable when it returns.

    By SQLite's own way, never by copying a file in use. Afterwards the chains know how far they are backed up.
    Photos are the vault's to copy. The server's key is not copied: a record that is brought back goes on in a
    new chain with a new key, because what the old one said after the backup is known outside. Raises BackupRefused.
    """
    if to.exists() and any(to.iterdir()):
        raise BackupRefused(f"{to} is not empty. Nothing was written. Give a new folder.")
    if not (folder / DATABASE).exists():
        raise BackupRefused(
            f"There is no record in {folder}. Nothing was written. Give the data folder: --data FOLDER."
        )
    to.mkdir(parents=True, exist_ok=True)
    heads = copy_database(folder / DATABASE, to / DATABASE)
    _sync(to)
    engine = open_engine(folder / DATABASE)
    try:
        _note(engine, heads)
    finally:
        engine.dispose()
    return Copied(to / DATABASE, heads)


def copy_database(source: Path, target: Path) -> Mapping[str, int]:
    driver: Any = sqlite_module()
    beside = target.with_suffix(".part")
    from_, to = driver.connect(str(source)), driver.connect(str(beside))
    try:
        from_.backup(to, pages=PAGES)
        ok = to.execute("PRAGMA integrity_check").fetchone()[0]
        heads = dict(to.execute("SELECT chain, seq FROM log_chains").fetchall())
    finally:
        to.close()
        from_.close()
    if ok != "ok":
        beside.unlink()
        raise BackupRefused(
            f"The copy of {source} is damaged: {ok}. The record itself was not touched; check its disk."
        )
    with open(beside, "rb+") as file:
        os.fsync(file.fileno())
    os.replace(beside, target)
    return heads


def _note(engine: Engine, heads: Mapping[str, int]) -> None:
    """How far each chain is backed up; a tablet may let go of photos behind it."""
    if not heads:
        return
    further = (
        update(chains)
        .where(chains.c.chain == bindparam("of_chain"), chains.c.backed_up_seq < bindparam("seq_now"))
        .values(backed_up_seq=bindparam("seq_now"))
    )
    with engine.begin() as connection:
        connection.execute(further, [{"of_chain": chain, "seq_now": seq} for chain, seq in heads.items()])


def bring_back(backup: Path, folder: Path) -> Epoch:
    """Lays a backup into a data folder that has no database, as a new epoch: n one higher, id new.

    Tablets then offer again everything they still hold. Raises BackupRefused.
    """
    if not (backup / DATABASE).exists():
        raise BackupRefused(
            f"There is no backup in {backup}. Nothing was changed. Give the folder a backup was made in."
        )
    if (folder / DATABASE).exists():
        raise BackupRefused(
            f"{folder} holds a record. Nothing was changed. Move that folder aside first, it may hold what the backup "
            "does not."
        )
    folder.mkdir(parents=True, exist_ok=True)
    beside = folder / (DATABASE + ".part")
    copy_database(backup / DATABASE, beside)
    engine = open_engine(beside)
    try:
        epoch = raise_epoch(engine)
    finally:
        engine.dispose()
    _leave_wal(beside)
    if (folder / KEY_FILE).exists():
        os.replace(folder / KEY_FILE, folder / f"{KEY_FILE}.before-{epoch.n}")
    os.replace(beside, folder / DATABASE)
    _sync(folder)
    return epoch


def raise_epoch(engine: Engine) -> Epoch:
    """The next epoch of a database that was brought back."""
    with engine.begin() as connection:
        n = int(connection.execute(text("SELECT value FROM log_facts WHERE name = 'epoch_n'")).scalar_one()) + 1
        epoch = Epoch(n, uuid.uuid4().hex)
        change = update(facts).where(facts.c.name == bindparam("of")).values(value=bindparam("to"))
        rows = [{"of": "epoch_n", "to": str(epoch.n)}, {"of": "epoch_id", "to": epoch.id}]
        connection.execute(change, rows)
    return epoch


def _leave_wal(path: Path) -> None:
    """Everything into the one file, so that renaming it takes all along."""
    driver: Any = sqlite_module()
    connection = driver.connect(str(path))
    try:
        connection.execute("PRAGMA journal_mode=DELETE")
    finally:
        connection.close()


def _sync(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
