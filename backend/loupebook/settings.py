"""Every setting in one table: name, default, meaning. Read once, handed in everywhere."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

PREFIX = "LOUPEBOOK_"


class SettingRefused(Exception):
    """A setting holds a value it cannot have. The text says which and what would do."""


def _setting(default: Any, meaning: str) -> Any:
    """A field that carries its meaning with it."""
    return field(default=default, metadata={"meaning": meaning})


@dataclass(frozen=True, slots=True)
class Settings:
    """What one server runs with.

    Each field can be given by a command-line option or by an environment variable named
    LOUPEBOOK_ and the field's name in capitals; the option wins.
    """

    data: Path | None = _setting(None, "folder of the record; nothing = the person's own data folder")
    port: int = _setting(8600, "port of the one loopback address; taken = the next free one is used")
    demo: bool = _setting(False, "an invented day hospital in a folder of its own")
    browser: bool = _setting(True, "open the page in a browser at start, where there is one")
    dist: Path | None = _setting(None, "folder of the built screens; nothing = frontend/dist beside it")

    lan: bool = _setting(False, "serve tablets in the building, over https")
    name: str = _setting("", "the server's name for tablets; nothing = the one they know, at first this machine's")
    lan_port: int = _setting(0, "https port for tablets; 0 = the one they know, at first 8643")
    help_port: int = _setting(8680, "port of the plain page that sets a tablet up; taken = the next free one is used")
    addresses: str = _setting("", "addresses to serve tablets at, with commas; nothing = all this machine has")
    certificate: Path | None = _setting(None, "the hospital's certificate in PEM; nothing = an authority of its own")
    key: Path | None = _setting(None, "the key of that certificate, in PEM")
    moved_from: str = _setting("", "the old name, answered under too until every tablet has sent what it holds")

    heads_owner: str = _setting("", "who looks after heads that leave; asked for where any of these is set")
    heads_folder: Path | None = _setting(None, "second folder, best of another machine, that heads of chains go to")
    heads_webhook: str = _setting("", "https address that heads of chains are posted to")
    heads_webhook_secret: Path | None = _setting(None, "file with the secret of that post (Authorization: Bearer)")
    heads_mail: str = _setting("", "addresses that heads of chains are mailed to, with commas")
    heads_mail_server: str = _setting("", "mail server for them, HOST:PORT")
    heads_mail_from: str = _setting("", "address they are mailed from")
    heads_mail_secret: Path | None = _setting(None, "file with USER:PASSWORD at that mail server")

    @property
    def folder(self) -> Path:
        """The data folder in use, absolute."""
        return (self.data or default_folder(self.demo)).expanduser().absolute()

    @property
    def screens(self) -> Path:
        """The folder of the built screens."""
        return self.dist or Path(__file__).resolve().parents[2] / "frontend" / "dist"


def default_folder(demo: bool, environ: Mapping[str, str] = os.environ, platform: str = sys.platform) -> Path:
    """Where this person's programs keep data: XDG on Linux, Application Support on macOS, LOCALAPPDATA on Windows."""
    name = "loupebook-demo" if demo else "loupebook"
    home = Path(environ.get("HOME") or Path.home())
    if platform == "win32":
        return Path(environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / name
    if platform == "darwin":
        return home / "Library" / "Application Support" / name
    return Path(environ.get("XDG_DATA_HOME") or home / ".local" / "share") / name


def read_settings(given: Mapping[str, object], environ: Mapping[str, str] = os.environ) -> Settings:
    """Settings from options (None = not given), then the environment, then the defaults.

    Raises SettingRefused for a value the setting cannot have.
    """
    values: dict[str, Any] = {}
    for spec in fields(Settings):
        option = given.get(spec.name)
        text = environ.get(PREFIX + spec.name.upper(), "")
        if option is not None:
            values[spec.name] = option
        elif text:
            values[spec.name] = _parsed(spec.name, str(spec.type), text)
    settings = Settings(**values)
    for port in (settings.port, settings.lan_port, settings.help_port):
        if not 0 <= port <= 65535:
            raise SettingRefused(f"The port is {port}. Nothing was started. Give one from 1 to 65535.")
    return settings


def _parsed(name: str, kind: str, text: str) -> Any:
    if kind == "int":
        if not text.isdecimal():
            raise SettingRefused(f"{PREFIX}{name.upper()} is {text!r}. Nothing was started. Give a whole number.")
        return int(text)
    if kind == "bool":
        if text.lower() not in ("yes", "no"):
            raise SettingRefused(f"{PREFIX}{name.upper()} is {text!r}. Nothing was started. Give yes or no.")
        return text.lower() == "yes"
    return text if kind == "str" else Path(text)


def table() -> list[tuple[str, str, str]]:
    """(environment variable, default, meaning) of every setting, in order."""
    return [(PREFIX + s.name.upper(), _shown(s.default), s.metadata["meaning"]) for s in fields(Settings)]


def _shown(value: object) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
