"""The record as a folder anybody can check with `record/verify.py`, which is put beside it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import BinaryIO, Literal

from sqlalchemy import Connection, select

from loupebook.log.states import CURRENT
from loupebook.log.tables import chains, entries, heads, photos, photos_named, strays, verdicts
from loupebook.record import verify
from loupebook.record.heads import base64url

WhyNot = Literal["not_received", "cannot_be_read", "hidden", "erased", "carries_more_than_the_picture"]
"""Why a photo that an entry names is not in the export. hidden: it may show a person or patient data. erased: it was
hidden and two leads had its bytes erased; the entry that says so is in the export, the row says when and by whom.
carries_more_than_the_picture: whoever sent it left words or places in its file; changed bytes would prove nothing."""
PhotoOf = Callable[[str], BinaryIO | WhyNot]
"""The bytes of a photo, or why they do not leave."""


def export(
    connection: Connection,
    folder: Path,
    keys: Mapping[str, bytes],
    photo_of: PhotoOf,
    erased: Mapping[str, Mapping[str, str]] | None = None,
) -> verify.Result:
    """Writes the record into a new folder and checks what was written.

    connection  one read transaction: the export is of one moment
    keys        chain -> public key (SPKI, DER) of every chain, the server's too
    erased      photo -> what is said of its erasing, for those that were erased
    Raises FileExistsError where the folder is there, KeyError for a chain without its key.
    """
    folder.mkdir(parents=True)
    names = list(connection.execute(select(chains.c.chain).order_by(chains.c.chain)).scalars())
    _write_json(folder / "keys.json", {chain: base64url(keys[chain]) for chain in names})
    (folder / "entries").mkdir()
    for chain in names:
        lines = connection.execute(select(entries.c.line).where(entries.c.chain == chain).order_by(entries.c.seq))
        with open(folder / "entries" / f"{chain}.jsonl", "wb") as out:
            out.writelines(line + b"\n" for (line,) in lines)
    h = heads.c
    _write_lines(folder / "heads.jsonl", connection, ("chain", "seq", "hash", "sig"),
                 select(h.chain, h.seq, h.hash, h.sig).order_by(h.chain, h.seq))  # fmt: skip
    _write_lines(
        folder / "aside.jsonl", connection, ("chain", "seq", "reason"),
        select(entries.c.chain, entries.c.seq, verdicts.c.reason)
        .join(verdicts, CURRENT).where(verdicts.c.verdict == "aside").order_by(entries.c.chain, entries.c.seq),
    )  # fmt: skip
    _strays(connection, folder)
    _photos(connection, folder, photo_of, erased or {})
    shutil.copyfile(verify.__file__, folder / "verify.py")
    return verify.check(folder)


def _strays(connection: Connection, folder: Path) -> None:
    """Forked lines as they came, and the photos only they name."""
    rows = list(connection.execute(select(strays.c.chain, strays.c.seq, strays.c.hash, strays.c.line)))
    if not rows:
        return
    (folder / "strays").mkdir()
    for chain, seq, hash, line in rows:
        (folder / "strays" / f"{chain}.{seq}.{hash}.json").write_bytes(line)
    _write_lines(
        folder / "strays.jsonl", connection, ("sha256", "bytes", "chain", "seq"),
        select(photos_named.c.sha256, photos_named.c.bytes, strays.c.chain, strays.c.seq)
        .join(strays, strays.c.hash == photos_named.c.entry),
    )  # fmt: skip


def _photos(connection: Connection, folder: Path, photo_of: PhotoOf, erased: Mapping[str, Mapping[str, str]]) -> None:
    (folder / "photos").mkdir()
    missing: list[dict[str, str]] = []
    stored = set(connection.execute(select(photos.c.sha256)).scalars())
    for sha256 in connection.execute(
        select(photos_named.c.sha256).distinct().order_by(photos_named.c.sha256)
    ).scalars():
        if sha256 in erased:
            missing.append({"sha256": sha256, "why": "erased", **erased[sha256]})
            continue
        stream = photo_of(sha256) if sha256 in stored else "not_received"
        if isinstance(stream, str):
            missing.append({"sha256": sha256, "why": stream})
            continue
        with stream, open(folder / "photos" / sha256, "wb") as out:
            shutil.copyfileobj(stream, out)
    _write_rows(folder / "missing.jsonl", missing)


def _write_lines(path: Path, connection: Connection, names: tuple[str, ...], what: object) -> None:
    rows = connection.execute(what)  # type: ignore[call-overload]
    _write_rows(path, (dict(zip(names, row, strict=True)) for row in rows))


def _write_rows(path: Path, rows: Iterable[Mapping[str, object]]) -> None:
    with open(path, "w", encoding="utf-8") as out:
        out.writelines(json.dumps(row) + "\n" for row in rows)


def _write_json(path: Path, value: object) -> None:
    path.write_text(json.dumps(value, indent=1) + "\n", encoding="utf-8")
