"""The ways on which heads of chains leave: a second folder, a post to an address, a mail. Each sends or says why not.

What leaves names nobody: chain, seq, hash, signature. A secret is read from its file when it is needed and stands in no
text that is logged, kept or shown.
"""

from __future__ import annotations

import ipaddress
import os
import smtplib
import ssl
import urllib.error
import urllib.request
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from email.message import EmailMessage
from http.client import HTTPException, HTTPMessage
from pathlib import Path
from typing import IO, Literal, Protocol
from urllib.parse import urlsplit

What = Literal["folder", "webhook", "mail"]
PATIENCE_S = 15.0
"""Seconds that another machine may take to answer one step."""
LONGEST_SECRET = 4096


class NotSent(Exception):
    """Heads did not leave on this way. The text says what happened, for people, without any secret."""


@dataclass(frozen=True)
class Paper:
    """What leaves: a name of its own, and a line of JSON for the newest signed head of each chain."""

    name: str
    data: bytes
    heads: int


class Way(Protocol):
    """One way out. `to` is where, as it may be shown: never with a password or a token."""

    @property
    def what(self) -> What: ...
    @property
    def to(self) -> str: ...

    def send(self, paper: Paper) -> None:
        """Blocks until it is there. Raises NotSent."""


@dataclass(frozen=True)
class Folder:
    """A second folder, best of another machine: each paper is a file of its own there, never written over."""

    folder: Path
    what: What = "folder"

    @property
    def to(self) -> str:
        return str(self.folder)

    def send(self, paper: Paper) -> None:
        if not self.folder.is_dir():
            raise NotSent("the folder is not there")
        beside = self.folder / f".{paper.name}.part"
        try:
            with open(beside, "wb") as file:
                file.write(paper.data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, self.folder / paper.name)
        except OSError as wrong:
            with suppress(OSError):
                beside.unlink()
            raise NotSent(f"the folder cannot be written to: {wrong.strerror or type(wrong).__name__}") from None


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(
        self, req: urllib.request.Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> None:
        return None


@dataclass(frozen=True)
class Webhook:
    """A post to one address; taken where it answers with 200 to 299. No redirect is followed."""

    url: str
    secret: Path | None = None
    what: What = "webhook"

    @property
    def to(self) -> str:
        """Scheme, host and port: a path or a query may hold a token."""
        parts = urlsplit(self.url)
        return f"{parts.scheme}://{parts.hostname}{f':{parts.port}' if parts.port else ''}"

    def send(self, paper: Paper) -> None:
        headers = {"Content-Type": "application/x-ndjson", "User-Agent": "loupebook", "X-Heads-Name": paper.name}
        if self.secret is not None:
            if urlsplit(self.url).scheme != "https" and not loopback(urlsplit(self.url).hostname or ""):
                raise NotSent("the address is not https, so the secret was not sent")
            headers["Authorization"] = f"Bearer {read_secret(self.secret)}"
        asked = urllib.request.Request(self.url, paper.data, headers, method="POST")
        try:
            with urllib.request.build_opener(_NoRedirect).open(asked, timeout=PATIENCE_S):
                return
        except urllib.error.HTTPError as refused:
            refused.close()
            raise NotSent(f"the address answered {refused.code}") from None
        except (OSError, HTTPException, ValueError) as wrong:
            raise NotSent(f"the address does not answer: {_why(wrong)}") from None


@dataclass(frozen=True)
class Mail:
    """A mail with the paper attached, by the facility's own mail server; encrypted wherever the server offers it."""

    addresses: tuple[str, ...]
    sender: str
    host: str
    port: int
    secret: Path | None = None
    """A file with `user:password`."""
    what: What = "mail"

    @property
    def to(self) -> str:
        return f"{', '.join(self.addresses)} ({self.host}:{self.port})"

    def send(self, paper: Paper) -> None:
        try:
            with self._server() as server:
                server.ehlo_or_helo_if_needed()
                secure = self.port == SMTPS
                if not secure and server.has_extn("starttls"):
                    server.starttls(context=ssl.create_default_context())
                    server.ehlo()
                    secure = True
                if self.secret is not None:
                    if not secure and not loopback(self.host):
                        raise NotSent("the mail server offers no encryption, so the password was not sent")
                    user, _, password = read_secret(self.secret).partition(":")
                    server.login(user, password)
                server.send_message(self._message(paper))
        except smtplib.SMTPResponseException as refused:
            raise NotSent(f"the mail server answered {refused.smtp_code}") from None
        except smtplib.SMTPRecipientsRefused:
            raise NotSent("the mail server takes none of the addresses") from None
        except (OSError, smtplib.SMTPException) as wrong:
            raise NotSent(f"the mail server does not answer: {_why(wrong)}") from None

    def _server(self) -> smtplib.SMTP:
        if self.port == SMTPS:
            return smtplib.SMTP_SSL(self.host, self.port, timeout=PATIENCE_S, context=ssl.create_default_context())
        return smtplib.SMTP(self.host, self.port, timeout=PATIENCE_S)

    def _message(self, paper: Paper) -> EmailMessage:
        mail = EmailMessage()
        mail["Subject"] = f"Heads of {paper.heads} chains"
        mail["From"] = self.sender
        mail["To"] = ", ".join(self.addresses)
        mail.set_content(
            "Keep this mail. The file in it says how far each chain of the record was, and proves it by a signature.\n"
            "An exported record is held against it by: verify.py FOLDER --known FILE\n"
            "It names no person, no scope and no patient.\n"
        )
        mail.add_attachment(paper.data, maintype="application", subtype="x-ndjson", filename=paper.name)
        return mail


SMTPS = 465
"""Port on which mail is encrypted from the first byte (RFC 8314)."""


def read_secret(path: Path) -> str:
    """The first line of a file. Raises NotSent, which says nothing of what is in it."""
    try:
        with open(path, "rb") as file:
            text = file.read(LONGEST_SECRET).decode("utf-8")
    except (OSError, UnicodeDecodeError):
        raise NotSent("the file with the secret cannot be read") from None
    lines = text.splitlines()
    if not lines or not lines[0].strip().isprintable() or not lines[0].strip():
        raise NotSent("the file with the secret is empty, or holds no line of text")
    return lines[0].strip()


def loopback(host: str) -> bool:
    """Whether a host is this machine."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _why(wrong: BaseException) -> str:
    """In a word or two, from what the system says; never the address that was asked."""
    cause = wrong.reason if isinstance(wrong, urllib.error.URLError) else wrong
    if isinstance(cause, TimeoutError):
        return "no answer in time"
    if isinstance(cause, ssl.SSLCertVerificationError):
        return "its certificate is not trusted"
    said = cause.strerror if isinstance(cause, OSError) else None
    return said or type(cause).__name__


def several(addresses: str) -> Sequence[str]:
    """The addresses of a list with commas."""
    return [each.strip() for each in addresses.split(",") if each.strip()]
