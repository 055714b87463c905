"""`POST /lead/shift/log`: a washer's log held against the scopes looked at in a shift. Writes nothing.

What was read of a file is kept in memory until the shift is closed with it (`shift.closed`, `logs`) or the server
stops; the file itself is kept nowhere. Of its rows only time, scope, machine, cycle and result are read.
"""

# No postponed annotations here: the route's parameter types name values of the enclosing function.
import hashlib
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

import msgspec
from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Query, Request
from sqlalchemy import Connection
from starlette.responses import Response

from loupebook.bulk.machine_log import COLUMNS, LogFile, LogRow, Order, named_in, read_log, rows_of
from loupebook.bulk.record import named_on_record
from loupebook.bulk.routes import sent_file
from loupebook.door.asks import the_person
from loupebook.door.trouble import NOTHING_CHANGED, Trouble
from loupebook.door.who import PersonHere
from loupebook.reading.port import Sources
from loupebook.reading.shift import Against, shift_window
from loupebook.reading.shown import scope_shown
from loupebook.record.kinds import LogRead
from loupebook.scopes.tables.known import scopes_known
from loupebook.shifts.tables import closings
from loupebook.trouble import OURS

MOST_KEPT = 40
"""Logs that are remembered, the newest; a shift has as many as it has washers."""
MOST_ROWS = 300
"""Rows of each sort that are shown; their numbers count all."""


@dataclass(frozen=True)
class Kept:
    """One file as it was read for one shift."""

    shift: str
    read: LogRead
    scopes: tuple[str, ...]


class Logs:
    """What was read of files, by a name made of the file, the shift and how its dates were read."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Kept] = OrderedDict()

    def keep(self, name: str, kept: Kept) -> None:
        with self._lock:
            self._kept.pop(name, None)
            self._kept[name] = kept
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)

    def against(self, shift: str, names: Sequence[str]) -> Against:
        """These files together. Trouble `log_gone` where one is not remembered for this shift."""
        with self._lock:
            found = [self._kept.get(name) for name in dict.fromkeys(names)]
        if any(each is None or each.shift != shift for each in found):
            raise Trouble(
                409, "log_gone", "The server no longer remembers a machine log that this closing names.",
                "The shift is not closed, and nothing was changed.", "Choose the file again, look at it, and close.",
            )  # fmt: skip
        kept = [each for each in found if each is not None]
        scopes = dict.fromkeys(scope for each in kept for scope in each.scopes)
        return Against([each.read for each in kept], list(scopes))


def log_routes(sources: Sources, logs: Logs) -> APIRouter:
    """`POST /lead/shift/log?name=&dates=`."""
    router = APIRouter()
    one_at_a_time = CapacityLimiter(1)

    @router.post("/lead/shift/log")
    async def post_log(
        request: Request,
        lead: Annotated[PersonHere, Depends(the_person)],
        name: Annotated[str, Query(min_length=1, max_length=200)],
        dates: Annotated[Literal["", "day_first", "month_first"], Query()] = "",
    ) -> Response:
        data = (await sent_file(request)).data

        def act() -> bytes:
            file = read_log(data)
            with sources.reading() as connection:
                return msgspec.json.encode(_answer(connection, sources, logs, file, data, name, dates))

        return Response(await to_thread.run_sync(act, limiter=one_at_a_time), 200, OURS, "application/json")

    return router


def _answer(
    connection: Connection, sources: Sources, logs: Logs, file: LogFile, data: bytes, shift: str, dates: str
) -> dict[str, object]:
    """What was understood of a file. `log` names it for the closing; null while the order of its dates is not told."""
    if shift.count("/") < 2:
        raise Trouble(
            422, "no_shift", "There is no shift of this name.", NOTHING_CHANGED, "Open its board and try again."
        )  # fmt: skip
    if closings(connection, [shift]):
        raise Trouble(
            409, "closed_already", "This shift is closed already.", NOTHING_CHANGED,
            "Look at its record; what a log says of it is told to the next lead in words.",
        )  # fmt: skip
    begins, ends = shift_window(sources.facility(), shift)
    zone, year = ZoneInfo(sources.facility().zone), datetime.now(UTC).year
    record = named_on_record(connection, named_in(file, year))
    read = {order: rows_of(file, order, zone, record, year) for order in file.orders or ("day_first",)}
    chosen = _chosen(file.orders, dates)
    hours = {order: sum(begins <= (row.at_ms or 0) < ends for row in rows) for order, rows in read.items()}
    told = {
        "shift": shift,
        "sha256": hashlib.sha256(data).hexdigest(),
        "file": {"form": file.sheet.form, **file.sheet.about},
        "columns": [{"name": name, "column": column} for name, column in file.columns.named],
        "titles": {column: names[0] for column, names in COLUMNS.items()},
        "rows": len(file.columns.lines),
        "dates": {"orders": list(file.orders), "read": chosen, "in_hours": hours},
    }
    if chosen is None and file.orders:
        return told | {"log": None, "in_hours": 0, "outside": 0, "lines": [], "not_placed": [], "lost": 0, "scopes": {}}
    rows = read[chosen or "day_first"]
    here = [row for row in rows if row.at_ms is not None and begins <= row.at_ms < ends]
    lost = [row for row in rows if row.at_ms is None or (row.scope is None and begins <= row.at_ms < ends)]
    scopes = tuple(dict.fromkeys(row.scope for row in here if row.scope is not None))
    log = hashlib.sha256(f"{told['sha256']}\n{shift}\n{chosen}".encode()).hexdigest()
    logs.keep(log, Kept(shift, LogRead(str(told["sha256"]), len(rows), len(here), len(lost)), scopes))
    placed = [row for row in here if row.scope is not None]
    return told | {
        "log": log,
        "in_hours": len(here),
        "outside": len(rows) - len(here) - sum(row.at_ms is None for row in rows),
        "lines": [_shown(row) for row in placed[:MOST_ROWS]],
        "not_placed": [_shown(row) for row in lost[:MOST_ROWS]],
        "lost": len(lost),
        "scopes": {key: scope_shown(scope) for key, scope in scopes_known(connection, scopes).items()},
    }


def _chosen(orders: Sequence[Order], dates: str) -> Order | None:
    """How the dates are read: as the file tells, else as the person said; None where it is not told, or no matter."""
    if len(orders) == 1:
        return orders[0]
    return next((order for order in orders if order == dates), None)


def _shown(row: LogRow) -> dict[str, object]:
    return asdict(row)
