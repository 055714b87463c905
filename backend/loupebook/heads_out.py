"""Heads of chains leave the building: after each closing of a shift, and once a day. Off until a setting says where.

A record that is cut short, or replaced whole on the server's own disk, is found by a head that is kept elsewhere
(`verify.py --known`). What left, what did not and when it is tried again is one small file in the data folder.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import logging
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from anyio import to_thread
from sqlalchemy import Connection, text

from loupebook.heads_ways import Folder, Mail, NotSent, Paper, Way, Webhook, several
from loupebook.log.views import signed_heads
from loupebook.scopes.tables.known import Reading
from loupebook.settings import SettingRefused, Settings

log = logging.getLogger(__name__)

KEPT = "heads-out.json"
DAY = timedelta(days=1)
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=1)
"""Before it is tried again: a minute, then twice as long each time, an hour at most. Common practice, no source."""
LOOK_EVERY_S = 30.0
NEWEST_CLOSING = text("SELECT max(changed) FROM shift_closings")

Row = dict[str, Any]


class HeadsOut:
    """Sends the newest signed heads on every way, and knows of each when it last went and why it did not."""

    def __init__(self, folder: Path, owner: str, ways: Sequence[Way], reading: Reading) -> None:
        self._file = folder / KEPT
        self._ways = {_key(way): way for way in ways}
        self._reading = reading
        self.owner = owner

    def turn(self, now: datetime) -> int:
        """Sends what is due on each way; how many went. Blocks, and raises nothing that another machine does."""
        with self._reading() as connection:
            closing, paper = _paper(connection, now)
        kept, went = self._kept(), 0
        for key, way in self._ways.items():
            state = kept.get(key, {})
            if paper is None or not _due(state, closing, paper, now):
                continue
            try:
                way.send(paper)
            except NotSent as why:
                kept[key] = _failed(state, str(why), now)
                log.warning(
                    "heads did not leave by %s: %s; tried again at %s", way.what, why, kept[key]["failed"]["next"]
                )
            else:
                went += 1
                said = {"at": _said(now), "heads": paper.heads, "closing": closing, "digest": _digest(paper)}
                kept[key] = {"last": said, "failed": None}
            self._keep(kept)
        return went

    def told(self) -> Row:
        """For the desk: who looks after it, and of each way where it leads, what went last and what did not."""
        kept = self._kept()
        return {"owner": self.owner, "ways": [_told(way, kept.get(key, {})) for key, way in self._ways.items()]}

    async def follow(self, every_s: float = LOOK_EVERY_S) -> None:
        """Looks for what is due for as long as the server runs."""
        while True:
            try:
                await to_thread.run_sync(self.turn, datetime.now(UTC), abandon_on_cancel=True)
            except OSError as wrong:  # the state cannot be kept: what left is sent once more, which harms nothing
                log.warning("what left of heads could not be noted: %s", wrong.strerror)
            await asyncio.sleep(every_s)

    def _kept(self) -> dict[str, Row]:
        try:
            kept = json.loads(self._file.read_text("utf-8"))
        except (OSError, ValueError):
            kept = {}
        return {key: row for key, row in kept.items() if isinstance(row, dict)} if isinstance(kept, dict) else {}

    def _keep(self, kept: Mapping[str, Row]) -> None:
        beside = self._file.with_suffix(".part")
        beside.write_text(json.dumps({key: kept[key] for key in self._ways if key in kept}), "utf-8")
        os.replace(beside, self._file)


def heads_out(settings: Settings, folder: Path, reading: Reading) -> HeadsOut | None:
    """What sends heads on the ways that the settings name, or nothing: it is off. Raises SettingRefused."""
    ways = ways_of(settings)
    return HeadsOut(folder, settings.heads_owner.strip(), ways, reading) if ways else None


def ways_of(settings: Settings) -> list[Way]:
    """Every way that is set. Raises SettingRefused; the text repeats no address, it may hold a password."""
    ways: list[Way] = []
    if settings.heads_folder is not None:
        ways.append(Folder(settings.heads_folder.expanduser().absolute()))
    if settings.heads_webhook:
        ways.append(Webhook(_url(settings.heads_webhook), settings.heads_webhook_secret))
    if settings.heads_mail:
        host, port = _server(settings.heads_mail_server)
        addresses = tuple(several(settings.heads_mail))
        if not all(each.count("@") == 1 for each in (*addresses, settings.heads_mail_from)) or not addresses:
            raise SettingRefused(
                "LOUPEBOOK_HEADS_MAIL or LOUPEBOOK_HEADS_MAIL_FROM is no mail address. Nothing was started. "
                "Give both, each with one @."
            )
        ways.append(Mail(addresses, settings.heads_mail_from, host, port, settings.heads_mail_secret))
    if ways and not settings.heads_owner.strip():
        raise SettingRefused(
            "Heads are to leave, and nobody is named who looks after it. Nothing was started. "
            "Give LOUPEBOOK_HEADS_OWNER, a name or an office."
        )
    return ways


def _url(text: str) -> str:
    try:
        parts = urlsplit(text)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
        named = "@" in parts.netloc
    except ValueError:
        good = named = False
    if not good or named:
        raise SettingRefused(
            "LOUPEBOOK_HEADS_WEBHOOK is no http or https address, or holds a name or password. Nothing was started. "
            "Give the bare address; a secret goes into the file of LOUPEBOOK_HEADS_WEBHOOK_SECRET."
        )
    return text


def _server(text: str) -> tuple[str, int]:
    host, _, port = text.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) <= 65535:
        raise SettingRefused(
            "LOUPEBOOK_HEADS_MAIL_SERVER is no host and port. Nothing was started. Give it as mail.example:587."
        )
    return host.strip("[]"), int(port)


def _paper(connection: Connection, now: datetime) -> tuple[int, Paper | None]:
    """The position of the newest closing, and what leaves; nothing where no chain has a signed head yet."""
    closing = int(connection.execute(NEWEST_CLOSING).scalar() or 0)
    heads = signed_heads(connection)
    if not heads:
        return closing, None
    lines = [json.dumps(head._asdict(), separators=(",", ":")) for head in heads]
    name = f"heads-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}.jsonl"
    return closing, Paper(name, "".join(line + "\n" for line in lines).encode(), len(heads))


def _due(state: Row, closing: int, paper: Paper, now: datetime) -> bool:
    """A shift was closed since it last went, or a day has passed in which anything was written; once at first."""
    failed, last = state.get("failed"), state.get("last")
    if failed is not None and now < datetime.fromisoformat(failed["next"]):
        return False
    if last is None or closing > last["closing"]:
        return True
    return now - datetime.fromisoformat(last["at"]) >= DAY and _digest(paper) != last["digest"]


def _failed(state: Row, so: str, now: datetime) -> Row:
    before = state.get("failed")
    tries = 1 if before is None else int(before["tries"]) + 1
    wait = min(FIRST_WAIT * 2 ** min(tries - 1, 10), LONGEST_WAIT)
    since = _said(now) if before is None else before["since"]
    failed = {"since": since, "at": _said(now), "tries": tries, "so": so, "next": _said(now + wait)}
    return {"last": state.get("last"), "failed": failed}


def _told(way: Way, state: Row) -> Row:
    last, failed = state.get("last"), state.get("failed")
    return {
        "what": way.what,
        "to": way.to,
        "last": None if last is None else {"at": last["at"], "heads": last["heads"]},
        "failed": failed,
    }


def _key(way: Way) -> str:
    """Names a way in the file that is kept; another address is another way."""
    return f"{way.what} {hashlib.sha256(way.to.encode()).hexdigest()[:16]}"


def _digest(paper: Paper) -> str:
    return hashlib.sha256(paper.data).hexdigest()


def _said(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")
