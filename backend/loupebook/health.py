"""`GET /lead/health`: how the installation is, for those who look after it."""

# No postponed annotations here: FastAPI reads the route's own.
import shutil
from datetime import UTC, datetime, timedelta

from fastapi import APIRouter
from sqlalchemy import func, select

from loupebook import __version__
from loupebook.backups import noted
from loupebook.installation import Installation
from loupebook.log.engine import journal, sqlite_version
from loupebook.log.tables import chains
from loupebook.network.building import Building
from loupebook.network.local import RENEW
from loupebook.vault.folder import RESERVE_BYTES

DAY = timedelta(days=1)


def health_routes(installation: Installation) -> APIRouter:
    """Version, database, disk, backup, which heads left, and how tablets reach the server."""
    router = APIRouter()

    @router.get("/lead/health")
    def get_health() -> dict[str, object]:
        building = installation.building
        return {
            "version": __version__,
            "at": datetime.now(UTC).isoformat(timespec="seconds"),
            "database": {"name": "SQLite", "version": ".".join(map(str, sqlite_version())), "journal": journal()},
            "disk": _disk(installation),
            "backup": _backup(installation),
            "heads": None if installation.heads_out is None else installation.heads_out.told(),
            "building": None if building is None else building_health(building, datetime.now(UTC)),
        }

    return router


def building_health(building: Building, now: datetime) -> dict[str, object]:
    """The tablets' address, and how long its certificate lasts; days are whole ones left, none below 0."""
    tls = building.tls
    certificate = None
    if tls is not None:
        until = tls.certificate.until
        certificate = {
            "whose": "own" if tls.certificate.own else "local",
            "until": until.isoformat(timespec="seconds"),
            "days": max(0, (until - now) // DAY),
            "warn": until - now < (RENEW if tls.certificate.own else RENEW / 2),
            "fingerprint": building.fingerprint,
        }
    authority = building.authority
    return {
        "address": building.address,
        "set_up_page": building.help_address,
        "moving_from": None if building.old is None else building.old.address,
        "certificate": certificate,
        "authority_days": None if authority is None else max(0, (authority.not_valid_after_utc - now) // DAY),
        "notes": list(building.notes),
    }


def _disk(installation: Installation) -> dict[str, object]:
    """Bytes free for all, and the bytes that photos leave to entries."""
    free = shutil.disk_usage(installation.folder).free
    return {"free_bytes": free, "reserve_bytes": RESERVE_BYTES, "photos_kept": free > RESERVE_BYTES}


def _backup(installation: Installation) -> dict[str, object]:
    """How many entries stand in no backup yet, whether there ever was one; the last good one, and the last proof."""
    behind, most = func.sum(chains.c.seq - chains.c.backed_up_seq), func.max(chains.c.backed_up_seq)
    with installation.log.reading() as read:
        row = read.execute(select(behind, most)).one()
    return {"ever": bool(row[1]), "entries_since": int(row[0] or 0)} | noted(installation.folder)
