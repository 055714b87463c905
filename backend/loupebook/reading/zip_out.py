"""Rows, papers and photos packed into one file, with the SHA-256 of each, so that a standard tool can check them."""

from __future__ import annotations

import hashlib
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import IO

from loupebook.reading.pdf import NoPdf, PhotoOf, as_pdf
from loupebook.reading.say import Say
from loupebook.reading.table_out import Cell, Column, Table, as_csv, as_metadata, as_xlsx

MANIFEST = "MANIFEST.sha256"
"""As `sha256sum --check` reads it (GNU coreutils): the digest, two blanks, the name; a line a file."""
IN_MEMORY = 8 * 2**20
PIECE = 256 * 1024


@dataclass(frozen=True)
class PhotoRow:
    """One photo that goes along: its hash, and what it is of."""

    sha256: str
    at_ms: int | None
    scope: str
    part: str
    findings: str
    inspection: str


def packed(
    table: Table, html: str, photos: Sequence[PhotoRow], photo_of: PhotoOf, whole_of: PhotoOf, say: Say
) -> Iterator[tuple[str, bytes]]:
    """The files one after the other, so that one photo at a time is in memory: what this is, the paper where this
    machine can make it, the rows in their forms, the photos that are here and not hidden, and what each photo is of."""
    about = [f"{name}: {value}" for name, value in table.about.items()]
    paper: bytes | None = None
    with suppress(NoPdf):
        paper = as_pdf(html, photo_of)
    lines = [*about, "", say("zip.check"), say("zip.photos"), say("zip.proof")]
    yield "READ-ME.txt", "\r\n".join([*lines, *([] if paper else [say("zip.no_pdf")]), ""]).encode()
    if paper is not None:
        yield f"{table.name}.pdf", paper
    yield f"{table.name}.csv", as_csv(table, "machine")
    yield f"{table.name}.csv-metadata.json", as_metadata(table)
    yield f"{table.name}.xlsx", as_xlsx(table)
    files: dict[str, str] = {}
    for sha256 in dict.fromkeys(photo.sha256 for photo in photos):
        data = whole_of(sha256)
        if data is not None:
            files[sha256] = f"photos/{sha256}.jpg"
            yield files[sha256], data
    yield "photos.csv", as_csv(_photo_table(photos, files, table.zone), "machine")


def _photo_table(photos: Sequence[PhotoRow], files: Mapping[str, str], zone: str) -> Table:
    """What each photo is of; without a file where it could not be read."""
    names = ("file", "sha256", "at", "scope", "part", "findings", "inspection")
    columns = [Column(name, name, "moment" if name == "at" else "text") for name in names]
    rows: list[list[Cell]] = [
        [files.get(each.sha256), each.sha256, each.at_ms, each.scope, each.part, each.findings, each.inspection]
        for each in photos
    ]
    return Table("photos", columns, rows, {}, zone)


def as_zip(files: Iterable[tuple[str, bytes]]) -> IO[bytes]:
    """A file at its beginning: everything given, and last a list of names with their SHA-256. Raises OSError."""
    out: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)
    lines = []
    with zipfile.ZipFile(out, "w") as made:
        for name, data in files:
            how = zipfile.ZIP_STORED if name.endswith((".jpg", ".pdf", ".xlsx")) else zipfile.ZIP_DEFLATED
            made.writestr(name, data, how)
            lines.append(f"{hashlib.sha256(data).hexdigest()}  {name}\n")
        made.writestr(MANIFEST, "".join(lines), zipfile.ZIP_DEFLATED)
    out.seek(0)
    return out


def pieces(file: IO[bytes]) -> Iterator[bytes]:
    """The file's bytes as they are sent; it is closed at their end."""
    with file:
        while piece := file.read(PIECE):
            yield piece
