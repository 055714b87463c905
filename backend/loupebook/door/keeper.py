"""Stands before every route: host name, our own header, origin, who, how often, how much. Then the route.

An ASGI layer and not a dependency, because the framework reads a whole JSON body before it asks its dependencies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import anyio
from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from loupebook.direct import Direct
from loupebook.door import words
from loupebook.door.cookie import HOST, PLAIN, read_cookie
from loupebook.door.door import Door, log
from loupebook.door.matrix import Row, Way, check_matrix, way_for
from loupebook.door.origin import from_our_page, goes_by
from loupebook.door.rights import Who
from loupebook.door.trouble import Trouble, not_here, told, too_much
from loupebook.door.who import PersonHere, StationHere

READING = frozenset({"GET", "HEAD"})
SLOWEST_BODY_S = 30.0
"""Seconds a small body may take to come; one that trickles holds nothing open."""


@dataclass(frozen=True)
class Here:
    """Who stands before a route, as far as the route's row admits them. On `request.state.here`."""

    station: StationHere | None
    person: PersonHere | None


class Keeper:
    """`app.add_middleware(Keeper, door=door)`, inside the layer that sets the security headers."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app = app
        self._door = door
        self._ways: Sequence[Way] | None = None
        self._threads = CapacityLimiter(16)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if self._ways is None:
            # At the server's start (its lifespan message): a route without a row stops it.
            self._ways = check_matrix(cast(FastAPI, scope["app"]))
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no row admits anything else; the server closes the connection
        try:
            receive, direct = await self._admit(scope, receive)
        except Trouble as trouble:
            await told(trouble)(scope, receive, send)
            return
        await (direct or self._app)(scope, receive, send)

    async def _admit(self, scope: Scope, receive: Receive) -> tuple[Receive, Direct | None]:
        """Sets `state.here` and gives the body, or raises what is told instead; the application of a direct route."""
        headers = Headers(scope=scope)
        if not goes_by(headers.get("host", ""), self._door.hosts):
            raise words.other_name()
        found = way_for(self._ways or (), scope["method"], scope["path"])
        if found is None:
            raise not_here()
        way, row, in_path = found
        writes = scope["method"] not in READING
        if writes and headers.get("x-loupebook") != "1":
            raise words.not_ours()
        if writes and not from_our_page(headers, scope["scheme"], must_say=False):
            # Behind a proxy this names what is set up wrong: it has to hand on scheme and host name.
            log.warning("foreign write origin=%r here=%s://%s", headers.get("origin"), scope["scheme"], headers["host"])
            raise words.not_ours()
        here = self._known(headers, row) or Here(None, None)
        if here.station is None and "none" not in row.who:
            here = await to_thread.run_sync(self._recognise, headers, scope["scheme"], row, limiter=self._threads)
        if writes and here.station is None and here.person is not None:
            # Only the cookie let this in; a browser that sends cookies also says where a write comes from.
            if not from_our_page(headers, scope["scheme"], must_say=True):
                raise words.not_ours()
        self._count(scope, row, here)
        scope.setdefault("state", {})["here"] = here
        if way.direct is not None:
            scope["path_params"] = in_path
        return (receive if row.most_bytes is None else _bounded(receive, headers, row.most_bytes)), way.direct

    def _known(self, headers: Headers, row: Row) -> Here | None:
        """A station the row admits, where only stations are asked for and this one is remembered; never blocks."""
        if row.wakes or not row.who.isdisjoint(PEOPLE):
            return None
        token = _station_token(headers.get("authorization", ""))
        station = self._door.remembered(token) if token else None
        return Here(station, None) if station is not None and not station.who.isdisjoint(row.who) else None

    def _recognise(self, headers: Headers, scheme: str, row: Row) -> Here:
        """Reads the station's token and the session, and lets in whom the row admits."""
        token = _station_token(headers.get("authorization", ""))
        cookie = read_cookie(headers.get("cookie", ""), HOST if scheme == "https" else PLAIN)
        station, person = self._door.recognise(token, cookie, wakes=row.wakes)
        station_in = station is not None and not station.who.isdisjoint(row.who)
        person_in = person is not None and not person.who.isdisjoint(row.who)
        if not (station_in or person_in):
            raise _why_not(row, station, person, signed_out=cookie is not None)
        return Here(station if station_in else None, person if person_in else None)

    def _count(self, scope: Scope, row: Row, here: Here) -> None:
        if row.rate is None:
            return
        client = scope.get("client")
        whose = {
            "address": client[0] if client else "",
            "station": here.station.station if here.station else "",
            "person": here.person.person if here.person else "",
        }[row.rate_per]
        route = f"{scope['method']} {scope['path']}"
        wait_s = self._door.rates.wait_s(f"{route} {whose}", row.rate)
        if wait_s:
            raise words.slow_down(wait_s)


def _station_token(authorization: str) -> str | None:
    scheme, _, token = authorization.partition(" ")
    return token.strip() or None if scheme.lower() == "station" else None


PEOPLE: frozenset[Who] = frozenset({"technician", "runner", "lead", "deputy", "auditor"})


def _why_not(row: Row, station: StationHere | None, person: PersonHere | None, *, signed_out: bool) -> Trouble:
    """The refusal that helps most: what this route would admit, and what is missing for it."""
    if row.who.isdisjoint(PEOPLE):
        return words.station_withdrawn() if station else words.no_station()
    if person is not None:
        return words.not_your_part()
    if station is not None and station.revoked:
        return words.station_withdrawn()
    return words.signed_out() if signed_out else words.sign_in_first()


def _bounded(receive: Receive, headers: Headers, most_bytes: int) -> Receive:
    """The body, refused unread when it announces more than `most_bytes` or no length; given up when it trickles.

    That no more comes than was announced is the HTTP server's own check.
    """
    announced = headers.get("content-length", "0")
    if "transfer-encoding" in headers or not (announced.isascii() and announced.isdigit()):
        raise words.no_length()
    if int(announced[:20]) > most_bytes:
        raise too_much(most_bytes)
    ended = False
    deadline = anyio.current_time() + SLOWEST_BODY_S

    async def bounded() -> Message:
        nonlocal ended
        if ended:  # what comes now is only the caller hanging up, however late
            return await receive()
        with anyio.fail_after(max(0.0, deadline - anyio.current_time())):
            message = await receive()
        ended = not message.get("more_body", False)
        return message

    return bounded
