"""What the command line does to keep a record: check it, make its tables anew, back it up, bring it back, export it."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import BinaryIO

from sqlalchemy import Connection, select

from loupebook import __version__, labels
from loupebook.backups import note_backup, note_drill
from loupebook.door.tables import ChainKey
from loupebook.facility import FACILITY
from loupebook.folder import MARKER, FolderRefused, Instance, hold, open_folder
from loupebook.inspections.tables.erased import erasures
from loupebook.inspections.tables.hidden import is_hidden
from loupebook.installation import FOLDED, FOLDS, PHOTOS
from loupebook.log.backup import DATABASE, BackupRefused, back_up, bring_back
from loupebook.log.declared import table_of
from loupebook.log.engine import open_engine, reader
from loupebook.log.export import WhyNot, export
from loupebook.log.rebuild import rebuild
from loupebook.log.tables import photos
from loupebook.log.views import server_keys
from loupebook.record import schema, verify
from loupebook.rules import catalogue
from loupebook.settings import Settings
from loupebook.vault.errors import VaultRefusal
from loupebook.vault.folder import FolderVault
from loupebook.vault.names import Sha256
from loupebook.vault.port import put, read_checked
from loupebook.vault.strip import carries_only_the_picture

EXIT_FAULT = 1
EXIT_FOLDER = 5
CHECKOUT = Path(__file__).resolve().parents[2]


def schema_verb(args: argparse.Namespace) -> int:
    """Writes what is made from `record/kinds.py`, the catalogue and the cards; or only says what is stale."""
    if args.check:
        stale = [*schema.stale_files(CHECKOUT), *catalogue.stale_files(CHECKOUT), *labels.stale_files(CHECKOUT)]
        print("\n".join(f"stale: {path}" for path in stale) or "Nothing is stale.")
        return EXIT_FAULT if stale else 0
    written = [*schema.write_schema(CHECKOUT), *catalogue.write_catalogue(CHECKOUT), *labels.write_cards(CHECKOUT)]
    print("\n".join(f"written: {path}" for path in written) or "Nothing was stale.")
    return 0


def verify_verb(args: argparse.Namespace) -> int:
    """Checks an exported folder; the same as the `verify.py` in it."""
    known = ["--known", str(args.known)] if args.known else []
    return verify.main([str(args.folder), *known, *(["--newest"] if args.newest else [])])


def rebuild_verb(settings: Settings) -> int:
    """Makes the features' tables anew from entries and verdicts."""
    try:
        with alone(settings):
            engine = open_engine(settings.folder / DATABASE)
            done = rebuild(engine, FOLDS, [table_of(model) for model in FOLDED])
            engine.dispose()
    except FolderRefused as refused:
        return _refused(refused)
    print(f"{done.entries} entries folded into {done.tables} tables. Entries and verdicts were not touched.")
    return 0


def backup_verb(settings: Settings, to: Path) -> int:
    """A whole copy of the record, also while it is in use: database, photos, and whose it is."""
    try:
        instance = _instance(settings)
        copied = back_up(settings.folder, to)
        for name in (MARKER, FACILITY):
            if (settings.folder / name).exists():
                shutil.copyfile(settings.folder / name, to / name)
        count, lost = _copy_photos(settings.folder, to, instance)
    except (FolderRefused, BackupRefused) as refused:
        return _refused(refused)
    note_backup(settings.folder, to, sum(copied.heads.values()), count, len(lost))
    print(f"{sum(copied.heads.values())} entries of {len(copied.heads)} chains and {count} photos are in {to}.")
    for sha256 in lost:
        print(f"photo {sha256}: cannot be read; it is not in the backup")
    return EXIT_FAULT if lost else 0


def drill_verb(settings: Settings, backup: Path) -> int:
    """Proves a backup: brings it back beside the record, reads every photo of it, exports it and checks the export.

    Nothing of the record changes but that the result is noted for the lead.
    """
    try:
        _instance(settings)
        if not (backup / MARKER).exists():
            raise BackupRefused(
                f"There is no backup in {backup}. Nothing was changed. Give the folder one was made in."
            )
        with tempfile.TemporaryDirectory(prefix="drill-", dir=settings.folder) as beside:
            brought = replace(settings, data=Path(beside) / "record")
            faults = _drilled(brought, backup, Path(beside) / "export")
    except (FolderRefused, BackupRefused) as refused:
        return _refused(refused)
    note_drill(settings.folder, backup, good=not faults)
    for line in faults:
        print(line)
    print(
        f"The backup in {backup} {'cannot be relied on; make another' if faults else 'was brought back and is whole'}."
    )
    return EXIT_FAULT if faults else 0


def _drilled(brought: Settings, backup: Path, exported: Path) -> list[str]:
    """What is wrong with a backup; nothing where it is whole."""
    with redirect_stdout(StringIO()) as told:
        if bring_back_verb(brought, backup) or export_verb(brought, exported):
            return told.getvalue().splitlines() or ["The backup could not be brought back."]
        if verify.main([str(exported)]):
            return told.getvalue().splitlines()
    # An export names a photo that cannot be read as one that is missing; here it must be found.
    return _unreadable(brought.folder, _instance(brought))


def bring_back_verb(settings: Settings, backup: Path) -> int:
    """Lays a backup into an empty data folder, as a new epoch."""
    folder = settings.folder
    try:
        if folder.exists() and any(folder.iterdir()):
            raise BackupRefused(
                f"{folder} is not empty. Nothing was changed. Move it aside first, or give another: --data FOLDER."
            )
        if not (backup / MARKER).exists():
            raise BackupRefused(
                f"There is no backup in {backup}. Nothing was changed. Give the folder one was made in."
            )
        folder.mkdir(parents=True, exist_ok=True)
        if (backup / PHOTOS).exists():
            shutil.copytree(backup / PHOTOS, folder / PHOTOS)
        for name in (FACILITY, MARKER):
            if (backup / name).exists():
                shutil.copyfile(backup / name, folder / name)
        epoch = bring_back(backup, folder)
        _instance(settings)
    except (FolderRefused, BackupRefused) as refused:
        return _refused(refused)
    print(f"The record is back in {folder} (epoch {epoch.n}). Tablets send again what they still hold.")
    print(
        "What leads did at the desk after this backup was made is not in it and comes from no tablet: "
        "a photo hidden or erased since then is here again. Hide it, and have it erased, again."
    )
    return 0


def export_verb(settings: Settings, to: Path) -> int:
    """The record as a folder that anybody can check; ends with what the check of it said."""
    try:
        instance = _instance(settings)
        if to.exists():
            raise BackupRefused(f"{to} is there already. Nothing was written. Give a new folder.")
    except (FolderRefused, BackupRefused) as refused:
        return _refused(refused)
    vault = FolderVault(settings.folder / PHOTOS, instance.id)

    engine = open_engine(settings.folder / DATABASE)
    with reader(engine).connect() as connection:

        def photo_of(sha256: str) -> BinaryIO | WhyNot:
            """Hidden ones never leave; of the others only those that carry nothing but the picture."""
            if is_hidden(connection, sha256):
                return "hidden"
            try:
                data = read_checked(vault, Sha256(sha256))
            except VaultRefusal:
                return "cannot_be_read"
            return BytesIO(data) if carries_only_the_picture(data) else "carries_more_than_the_picture"

        gone = {
            photo: {"at": one.at, "by": one.by, "asked_by": one.asked_by} for photo, one in erasures(connection).items()
        }
        result = export(connection, to, keys_of(connection), photo_of, gone)
    engine.dispose()
    for line in (*result.faults, *(f"photo {sha}: {how}" for sha, how in sorted(result.erased.items())), result.line()):
        print(line)
    return EXIT_FAULT if result.faults else 0


def keys_of(connection: Connection) -> dict[str, bytes]:
    """Chain -> public key, of tablets and of the server."""
    key = table_of(ChainKey)
    rows = connection.execute(select(key.c.chain, key.c.spki))
    return {**{chain: bytes(spki) for chain, spki in rows}, **server_keys(connection)}


def _copy_photos(folder: Path, to: Path, instance: Instance) -> tuple[int, list[str]]:
    """Every photo of the copied database into a vault beside it: how many, and those that could not be read."""
    here, there = FolderVault(folder / PHOTOS, instance.id), FolderVault.make(to / PHOTOS, instance.id)
    wanted = _stored(to)
    lost: list[str] = []
    for name in wanted:
        sha256 = Sha256(name)
        try:
            data = read_checked(here, sha256)
            put(there, [data], sha256, len(data))
        except VaultRefusal:
            lost.append(name)
    return len(wanted) - len(lost), lost


def _stored(folder: Path) -> list[str]:
    """Every photo whose bytes the database of a folder says were received and are not erased."""
    engine = open_engine(folder / DATABASE)
    with reader(engine).connect() as connection:
        gone = erasures(connection)
        found = [each for each in connection.execute(select(photos.c.sha256)).scalars() if each not in gone]
    engine.dispose()
    return found


def _unreadable(folder: Path, instance: Instance) -> list[str]:
    """What is wrong with the photos of a folder that was brought back, hidden ones too."""
    vault, faults = FolderVault(folder / PHOTOS, instance.id), []
    for name in _stored(folder):
        try:
            read_checked(vault, Sha256(name))
        except VaultRefusal as wrong:
            faults.append(str(wrong))
    return faults


def _instance(settings: Settings) -> Instance:
    """Whose record it is. Raises FolderRefused, also where there is none: nothing is made here."""
    if not (settings.folder / MARKER).exists():
        raise FolderRefused(
            f"There is no record in {settings.folder}. Nothing was written. Give the data folder: --data FOLDER."
        )
    return open_folder(settings.folder, "demo" if settings.demo else "own", __version__)


@contextmanager
def alone(settings: Settings) -> Iterator[Instance]:
    """Whose record it is; nobody serves the folder meanwhile. Raises FolderRefused."""
    instance = _instance(settings)
    with hold(settings.folder, "nowhere: a command works on it"):
        yield instance


def _refused(refused: Exception) -> int:
    print(refused, file=sys.stderr)
    return EXIT_FOLDER
