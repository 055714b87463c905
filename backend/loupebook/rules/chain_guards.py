"""The named guards of the chain rules. Each answers the reason it fails for, or nothing. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal, NamedTuple, TypedDict, cast

from msgspec import UNSET, Struct

from loupebook.record.kinds import InspectionBegun, InspectionConcluded, PartMarked
from loupebook.rules.chain_state import State, parts_of

Pins = Callable[[str], Mapping[str, object] | None]
"""The parsed text of a catalogue or policy by its SHA-256, or nothing."""

GuardReason = Literal["part_not_on_route", "zone_not_allowed", "zone_has_photo", "route_not_covered"]


class Part(TypedDict):
    """A part of the catalogue, as far as rules read it. `alone`: never marked as part of a zone."""

    id: str
    zone: str
    alone: bool


class Point(TypedDict):
    """What a point contains for a kind of scope."""

    parts: Sequence[str]
    channels: Sequence[str]
    zones: bool


class Kind(TypedDict):
    """A kind of scope."""

    parts: Sequence[Part]
    points: Mapping[str, Point]


class Route(NamedTuple):
    """What an inspection part is to be walked: kind and point of its begun entry, from its pinned catalogue."""

    kind: Kind
    point: Point
    begun: InspectionBegun


def route_of(begun: Struct | None, pins: Pins) -> Route | None:
    """The route a begun entry asks for, or nothing where the catalogue, the kind or the point is not known."""
    if not isinstance(begun, InspectionBegun):
        return None
    catalogue = pins(begun.catalogue)
    if catalogue is None:
        return None
    kind = cast(Mapping[str, Kind], catalogue.get("kinds", {})).get(begun.scope_kind)
    point = kind["points"].get(begun.point) if kind else None
    return Route(kind, point, begun) if kind and point else None


def due(route: Route) -> list[str]:
    """Parts and channels due: the point's route without what this scope has none of and what is not due today."""
    out = {*route.begun.none_here, *route.begun.not_due}
    return [each for each in (*route.point["parts"], *route.point["channels"]) if each not in out]


def parts_on_route(body: Struct, route: Route, state: State) -> GuardReason | None:
    """Every part or channel the entry names is on the route of its point."""
    on = route.point
    fits = all(part in on["parts"] or part in on["channels"] for part in parts_of(body))
    return None if fits else "part_not_on_route"


def parts_on_scope(body: Struct, route: Route, state: State) -> GuardReason | None:
    """Every part a test names is one of the scope, on the route of its point or not: it leaks where it leaks."""
    here = {part["id"] for part in route.kind["parts"]} | {*route.point["parts"], *route.point["channels"]}
    return None if here.issuperset(parts_of(body)) else "part_not_on_route"


def zone_allowed(body: Struct, route: Route, state: State) -> GuardReason | None:
    """A zone is marked whole, in one tap, only where nothing in it asks for a look of its own.

    Several parts found without fault are a zone, said or not; so they must name it.
    """
    assert isinstance(body, PartMarked)
    named = set(body.parts)
    if body.zone is UNSET:
        return "zone_not_allowed" if len(named) > 1 and body.mark == "nothing_found" else None
    due_now = set(due(route))
    zone = [part for part in route.kind["parts"] if part["zone"] == body.zone]
    whole = {part["id"] for part in zone if not part["alone"] and part["id"] in due_now}
    fits = (
        body.mark == "nothing_found"
        and route.point["zones"]
        and named <= whole
        and all(part in named or state.marks.get(part) for part in whole)
    )
    if not fits:
        return "zone_not_allowed"
    return "zone_has_photo" if any(state.photos.get(part["id"]) for part in zone) else None


def uncovered(body: InspectionConcluded, route: Route, state: State) -> list[str]:
    """The due parts and channels that keep an inspection from being concluded like this, in route order.

    `goes` on: each needs a mark here, or is listed in `elsewhere` with something relied on. Hold or repair:
    what is missing must be in `left` with a reason.
    """
    if body.goes == "on":
        excused = set(body.elsewhere if body.relies else ())
    else:
        excused = {left.part for left in body.left}
    return [part for part in due(route) if not state.marks.get(part) and part not in excused]


def route_covered(body: Struct, route: Route, state: State) -> GuardReason | None:
    """Nothing due is left out without a word."""
    assert isinstance(body, InspectionConcluded)
    return "route_not_covered" if uncovered(body, route, state) else None


Guard = Callable[[Struct, Route, State], GuardReason | None]
GUARDS: Mapping[str, Guard] = {
    "parts_on_route": parts_on_route,
    "parts_on_scope": parts_on_scope,
    "zone_allowed": zone_allowed,
    "route_covered": route_covered,
}
