"""The server reads a serial photo again: a number in it that is not the scope's puts the scope on hold.

The tablet reads it first and stops on a contradiction; this catches what it did not see. What agrees, and a photo
without a code, is not written into the record. Each photo of each inspection part is held against its scope once.
"""

from __future__ import annotations

import logging
import unicodedata
from datetime import UTC, datetime
from typing import Final, NamedTuple

from sqlalchemy import Connection, bindparam, text

from loupebook.inspections.tables import SerialLooked
from loupebook.log.declared import table_of
from loupebook.log.log import Log
from loupebook.looking.look import Look
from loupebook.record.kinds import About, Proof, SerialRead
from loupebook.rules.codes import read_code
from loupebook.rules.serial import Answer, answer_of_codes, on_record
from loupebook.scopes.tables.known import scopes_known

log = logging.getLogger(__name__)

SERVER: Final = "server"
"""Written as the person of what the server itself found: named, not proved."""
LONGEST_CODE: Final = 2000
"""Characters of a code that the entry keeps."""

_OPEN = (
    "FROM photos_of p JOIN acts a ON a.version = p.version WHERE p.shows = 'serial' AND p.begun <> '' "
    "AND p.scope <> '' AND a.withdrawn_by IS NULL AND NOT EXISTS "
    "(SELECT 1 FROM serials_looked s WHERE s.photo = p.sha256 AND s.begun = p.begun) AND NOT EXISTS "
    "(SELECT 1 FROM serial_readings s WHERE s.begun = p.begun AND s.photo = p.sha256)"
)
OF_PHOTO = text(f"SELECT DISTINCT p.begun, p.scope {_OPEN} AND p.sha256 = :photo ORDER BY p.begun, p.scope")
IS_OPEN = text(f"SELECT 1 {_OPEN} AND p.sha256 = :photo AND p.begun = :begun")
HERE = "AND EXISTS (SELECT 1 FROM log_photos h WHERE h.sha256 = p.sha256)"
WAITING = text(f"SELECT DISTINCT p.sha256 {_OPEN} {HERE}")
WAITING_SINCE = text(f"SELECT DISTINCT p.sha256 {_OPEN} AND p.changed > :since {HERE}")
LOOKED = table_of(SerialLooked).insert().values(photo=bindparam("photo"), begun=bindparam("begun"))


class Open(NamedTuple):
    """A serial photo's place in the record that has not been held against its scope."""

    begun: str
    scope: str


class _Settled(Exception):
    """Somebody else held it against its scope, or took the photo back, meanwhile."""


class SerialAgain:
    """Holds what was read in serial photos against their scopes. `looked` is called by one thread at a time."""

    def __init__(self, log: Log) -> None:
        self._log = log

    def waiting(self, since: int | None = None) -> list[str]:
        """Serial photos that are here and not yet held against their scope: all, or of what counts since a position."""
        with self._log.reading() as connection:
            if since is None:
                return list(connection.execute(WAITING).scalars())
            return list(connection.execute(WAITING_SINCE, {"since": since}).scalars())

    def looked(self, photo: str, look: Look) -> None:
        """A photo was looked at; nothing happens to one that shows no serial number. Blocking."""
        with self._log.reading() as connection:
            places = [Open(*row) for row in connection.execute(OF_PHOTO, {"photo": photo})]
            known = scopes_known(connection, [place.scope for place in places])
        year = datetime.now(UTC).year
        codes = [read_code(code.text, code.identifier, today_year=year) for code in look.codes] if places else []
        for begun, scope in places:
            record = on_record(scope, known[scope].serial, known[scope].di)
            self._settle(photo, begun, scope, answer_of_codes(codes, record))

    def _settle(self, photo: str, begun: str, scope: str, answer: Answer) -> None:
        def check(connection: Connection) -> None:
            which = {"photo": photo, "begun": begun}
            if connection.execute(IS_OPEN, which).first() is None:
                raise _Settled
            connection.execute(LOOKED, which)

        try:
            if answer.agrees != "no":
                with self._log.writing() as connection:
                    check(connection)
                return
            body = SerialRead(photo, begun, _kept(answer.code), "no")
            proof = Proof(how="named", where="online")
            self._log.append_server("serial.read", About(scope=scope), body, SERVER, proof, check)
        except _Settled:
            return
        log.warning("another serial number in photo %s of inspection part %s", photo, begun)


def _kept(code: str) -> str:
    """A code as an entry can hold it: NFC, whole characters, not too long."""
    whole = code.encode("utf-8", "replace").decode("utf-8")
    return unicodedata.normalize("NFC", whole)[:LONGEST_CODE]
