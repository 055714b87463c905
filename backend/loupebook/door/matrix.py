"""Every route and whom it admits. What is not written here is not there: `check_matrix` stops the start.

The one place that decides. `Keeper` applies it before any byte of a body is read; routes only ask who came.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.routing import Mount

from loupebook.direct import Direct
from loupebook.door.rate import Rate
from loupebook.door.rights import Who

PERSON: frozenset[Who] = frozenset({"technician", "runner", "lead", "deputy", "auditor"})
EVERYBODY: frozenset[Who] = PERSON | {"none", "station", "revoked"}
STATION: frozenset[Who] = frozenset({"station"})
SENDS: frozenset[Who] = frozenset({"station", "revoked"})
LEAD: frozenset[Who] = frozenset({"lead"})
DECIDES: frozenset[Who] = frozenset({"lead", "deputy"})
"""Which kinds a deputy may write: `DEPUTY_KINDS`."""
READS: frozenset[Who] = frozenset({"lead", "deputy", "auditor"})

SMALL = 64 * 1024
"""Bytes of a JSON body; more is refused while it comes."""
FILE = 5 * 1024 * 1024
"""Bytes of a multipart body with one file of at most 4 MB."""
OWN = None
"""The route counts its own body while it streams."""

CODE_TRIES = Rate(most=10, every_s=6)
"""One-time codes from one address: 60 bits at ten a minute are out of reach."""
SIGN_INS = Rate(most=30, every_s=2)
"""Sign-ins at one station; a shared tablet at shift change stays far below (product rule, not measured)."""
PIN_CHANGES = Rate(most=10, every_s=6)


@dataclass(frozen=True)
class Row:
    """Whom a route admits, how many bytes it takes, how often it may be tried, and whether asking counts as use."""

    who: frozenset[Who]
    most_bytes: int | None = SMALL
    rate: Rate | None = None
    rate_per: Literal["address", "station", "person"] = "address"
    wakes: bool = True


MATRIX: Mapping[str, Row] = {
    "GET /health": Row(EVERYBODY),
    "GET /{path:path}": Row(EVERYBODY),
    "POST /door/first": Row(EVERYBODY, rate=CODE_TRIES),
    "POST /door/enrol": Row(EVERYBODY, rate=CODE_TRIES),
    "POST /door/invite": Row(LEAD),
    "POST /door/chain": Row(STATION),
    "POST /door/sign-in": Row(STATION, rate=SIGN_INS, rate_per="station"),
    "POST /door/by-code": Row(STATION, rate=CODE_TRIES, rate_per="station"),
    "POST /door/recovery": Row(LEAD),
    "POST /door/codes": Row(LEAD),
    "POST /door/seen": Row(LEAD),
    "POST /door/sign-out": Row(PERSON),
    "GET /door/me": Row(PERSON, wakes=False),
    "POST /door/pin": Row(PERSON, rate=PIN_CHANGES, rate_per="person"),
    "POST /door/people": Row(LEAD),
    "POST /door/people/{person}": Row(LEAD),
    "POST /door/stations/{station}/revoke": Row(LEAD),
    "GET /chains/{chain}/head": Row(STATION),
    "POST /chains/{chain}/entries": Row(SENDS, most_bytes=OWN, wakes=False),
    "PUT /photos/{sha256}": Row(SENDS, most_bytes=OWN, wakes=False),
    "GET /photos/{sha256}": Row(STATION | PERSON),
    "GET /cards": Row(STATION),
    "GET /lead/today": Row(READS),
    "GET /lead/shift": Row(READS),
    "POST /lead/shift/log": Row(DECIDES, most_bytes=FILE),
    "GET /lead/shift/sheet": Row(READS),
    "GET /lead/shift/sheet.pdf": Row(READS),
    "GET /lead/shift/sheet.csv": Row(READS),
    "GET /lead/shift/sheet.csv-metadata.json": Row(READS),
    "GET /lead/shift/sheet.xlsx": Row(READS),
    "GET /lead/shift/sheet.zip": Row(READS),
    "GET /lead/history": Row(READS),
    "GET /lead/history/part": Row(READS),
    "GET /lead/history/sheet": Row(READS),
    "GET /lead/history/sheet.pdf": Row(READS),
    "GET /lead/history/sheet.csv": Row(READS),
    "GET /lead/history/sheet.csv-metadata.json": Row(READS),
    "GET /lead/history/sheet.xlsx": Row(READS),
    "GET /lead/history/sheet.zip": Row(READS),
    "GET /lead/find": Row(READS),
    "GET /lead/find/sheet.csv": Row(READS),
    "GET /lead/find/sheet.xlsx": Row(READS),
    "GET /lead/inspections/{root}": Row(READS),
    "GET /lead/holds/{hold}": Row(READS),
    "GET /lead/holds/{hold}/summary": Row(READS),
    "GET /lead/holds/{hold}/summary.pdf": Row(READS),
    "GET /lead/where": Row(READS),
    "GET /lead/repairs": Row(READS),
    "GET /lead/retention": Row(READS),
    "GET /lead/aside": Row(READS),
    "GET /lead/policy": Row(READS),
    "GET /lead/agreement": Row(READS),
    "GET /lead/examples": Row(READS),
    "GET /lead/stations": Row(READS),
    "GET /lead/people": Row(READS),
    "GET /lead/scopes": Row(READS),
    "GET /repairs/{repair}/packet": Row(PERSON),
    "GET /repairs/{repair}/packet.pdf": Row(PERSON),
    "GET /repairs/{repair}/label": Row(PERSON),
    "GET /repairs/{repair}/label.pdf": Row(PERSON),
    "GET /lead/labels": Row(LEAD),
    "GET /lead/labels.pdf": Row(LEAD),
    "GET /lead/tools": Row(READS),
    "GET /lead/facility": Row(READS),
    "POST /lead/facility": Row(LEAD),
    "GET /lead/scope": Row(READS),
    "GET /lead/bring/{what}": Row(LEAD),
    "POST /lead/bring/{what}": Row(LEAD, most_bytes=FILE),
    "GET /lead/health": Row(READS),
    "GET /lead/changes": Row(READS, wakes=False),
    "POST /lead/commands/{kind}": Row(DECIDES),
    "POST /lead/unsent": Row(LEAD, most_bytes=OWN),
}
"""`METHOD path` as the contract writes it. Names of path parameters do not matter, but that there is one does."""


def pattern(key: str) -> str:
    """A key without the names of its parameters: `GET /photos/{}`; a whole-path parameter is `{*}`."""
    return re.sub(r"\{[^}:]*(:path)?[^}]*\}", lambda m: "{*}" if m.group(1) else "{}", key)


_BY_PATTERN: Mapping[str, Row] = {pattern(key): row for key, row in MATRIX.items()}


@dataclass(frozen=True)
class Way:
    """A registered route: how its path is recognised, and its row for each method."""

    path: re.Pattern[str]
    rows: Mapping[str, Row]
    direct: Direct | None = None
    """The route's own application, where it is one: the keeper calls it without asking the framework again."""


class NotInMatrix(RuntimeError):
    """A route was registered that no row admits anybody to."""


def check_matrix(app: FastAPI) -> Sequence[Way]:
    """The app's routes in the order they are tried, each with its rows. Raises `NotInMatrix`, naming every stranger.

    To be called at start, after the last route. A mounted folder counts as `GET <mount>/{path:path}`.
    """
    ways: list[Way] = []
    strangers: list[str] = []
    for route in iter_route_contexts(app.routes):
        original = route.original_route
        mounted = isinstance(original, Mount)
        path = f"{original.path}/{{path:path}}" if isinstance(original, Mount) else route.path
        methods = {"GET"} if mounted else set(route.methods or ())
        regex = getattr(route, "path_regex", None)
        if not methods or path is None or not isinstance(regex, re.Pattern):
            strangers.append(f"{type(original).__name__} {path or ''}".strip())
            continue
        rows: dict[str, Row] = {}
        for method in sorted(methods - {"HEAD"}):
            row = _BY_PATTERN.get(pattern(f"{method} {path}"))
            if row is None:
                strangers.append(f"{method} {path}")
            else:
                rows[method] = row
        endpoint = getattr(original, "endpoint", None)
        ways.append(Way(regex, rows, endpoint if isinstance(endpoint, Direct) else None))
    if strangers:
        raise NotInMatrix("Give each of these a row in door/matrix.py, or take the route out: " + ", ".join(strangers))
    return ways


def way_for(ways: Sequence[Way], method: str, path: str) -> tuple[Way, Row, dict[str, str]] | None:
    """The route that will answer, its row and what its path holds: the first whose path and method fit.

    None = there is no such route.
    """
    wanted = "GET" if method == "HEAD" else method
    for way in ways:
        if wanted in way.rows and (found := way.path.match(path)):
            return way, way.rows[wanted], found.groupdict()
    return None
