"""The rows of photos whose bytes are durable. The bytes are the vault's."""

from __future__ import annotations

from sqlalchemy.dialects import sqlite

from loupebook.log.log import Log
from loupebook.log.moments import Now, moment, utc_now
from loupebook.log.port import Epoch, Statement
from loupebook.log.tables import photos
from loupebook.log.writer import Transaction

ADD_PHOTO = Statement(sqlite.insert(photos).on_conflict_do_nothing())


def photo_stored(log: Log, sha256: str, length: int, now: Now = utc_now) -> Epoch:
    """Writes down, durably and with whoever else waits, that a photo's bytes are here; the epoch for its receipt.

    To be called after the bytes are durable, never before. May come twice.
    """

    def act(transaction: Transaction) -> Epoch:
        epoch = log.epoch()
        transaction.add(ADD_PHOTO, {"sha256": sha256, "bytes": length, "stored_at": moment(now()), "epoch_n": epoch.n})
        return epoch

    return log.note(act)
