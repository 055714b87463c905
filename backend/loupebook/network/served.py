"""The address a record was served under. What a tablet has not sent belongs to it: no change in silence."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

from loupebook.network.trouble import refused

FILE = "served-as.json"
VERSION = 1
HTTPS = 443


@dataclass(frozen=True, slots=True)
class Served:
    """A name and a port: together the origin that a browser keeps its storage under (RFC 6454, 4)."""

    name: str
    port: int

    @property
    def address(self) -> str:
        """As it is typed."""
        return f"https://{self.name}" + ("" if self.port == HTTPS else f":{self.port}")


def kept(folder: Path) -> Served | None:
    """What the folder remembers. Raises NetworkRefused when its file cannot be read: it is not guessed at."""
    path = folder / FILE
    try:
        row = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        row = {}
    if not isinstance(row, dict) or row.get("v") != VERSION:
        raise _unreadable(path)
    name, port = row.get("name"), row.get("port")
    if not isinstance(name, str) or not isinstance(port, int):
        raise _unreadable(path)
    return Served(name, port)


def _unreadable(path: Path) -> Exception:
    return refused(
        f"{path} cannot be read, so it is not known under which address tablets know this record.",
        "Bring the file back from a backup, or remove it if no tablet was set up yet.",
    )


def keep(folder: Path, served: Served) -> None:
    """Remembers; a cut leaves the old file or the new one."""
    side = folder / (FILE + ".new")
    with open(side, "w", encoding="utf-8") as out:
        out.write(json.dumps({"v": VERSION, "name": served.name, "port": served.port}) + "\n")
        out.flush()
        os.fsync(out.fileno())
    side.replace(folder / FILE)


def moved(before: Served | None, now: Served, moved_from: str) -> Served | None:
    """The old address to go on answering under, None if there is none. Raises NetworkRefused for a silent move.

    `moved_from` is the old name, with its port where that was another one; "" = nothing was said.
    """
    if before is not None and before != now and not moved_from:
        raise refused(
            f"Tablets know this record at {before.address}, and {now.address} was asked for. What they saved and have "
            "not sent belongs to the old address and would stay behind there.",
            f"Keep the old one: --name {before.name} --lan-port {before.port}. To move for good, answer under both "
            f"until every tablet has sent what it holds: --moved-from {_said(before, now)}.",
        )
    if not moved_from:
        return None
    old = _old(moved_from, before, now)
    if before is not None and before not in (now, old):
        raise refused(
            f"Tablets know this record at {before.address}, not at {old.address}.",
            f"Give the address they know: --moved-from {_said(before, now)}.",
        )
    return None if old == now else old


def _said(before: Served, now: Served) -> str:
    return before.name if before.port == now.port else f"{before.name}:{before.port}"


def _old(text: str, before: Served | None, now: Served) -> Served:
    name, colon, port = text.strip().lower().partition(":")
    if colon and not (port.isdecimal() and 0 < int(port) < 65536):
        raise refused(f"{text!r} is not an address.", "Give the old name, or name:port: --moved-from OLDNAME.")
    if colon:
        return Served(name, int(port))
    return Served(name, before.port if before is not None and before.name == name else now.port)
