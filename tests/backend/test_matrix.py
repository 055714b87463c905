"""Every route against everybody who could stand before it. Expected is what the contract in DEVELOPERS.md says."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from door_world import LEAD_PIN, Tablet, World, code_of, door_app, serving
from fastapi import APIRouter, FastAPI
from fastapi.responses import PlainTextResponse
from fastapi.routing import iter_route_contexts
from loupebook.app import create_app
from loupebook.door.matrix import MATRIX, NotInMatrix, check_matrix, pattern
from loupebook.door.rate import Rate, Rates
from loupebook.door.rights import DEPUTY_KINDS, DOOR_KINDS, MAY_WRITE, ROLES, WHO, Who, role_may, roles_of, roles_text
from loupebook.installation import Installation
from loupebook.record.kinds import SERVER_KINDS, STATION_KINDS
from loupebook.settings import Settings
from starlette.routing import WebSocketRoute

pytestmark = pytest.mark.sink

CONTRACT = Path(__file__).parents[2] / "DEVELOPERS.md"
ALL: set[str] = set(WHO)
PERSON: set[str] = {"technician", "runner", "lead", "deputy", "auditor"}

WHO_SAYS: dict[str, set[str]] = {
    "all": ALL,
    "one-time code printed at start": ALL,
    "one-time code from a lead": ALL,
    "lead": {"lead"},
    "lead, deputy": {"lead", "deputy"},
    "lead, deputy, auditor": {"lead", "deputy", "auditor"},
    "station": {"station"},
    "station, also revoked": {"station", "revoked"},
    "station, person": {"station"} | PERSON,
    "person": PERSON,
}
"""The words of the contract's column "Who"."""


def contract() -> dict[str, set[str]]:
    """`METHOD path` -> who, read from the table in DEVELOPERS.md."""
    routes: dict[str, set[str]] = {}
    for line in CONTRACT.read_text().splitlines():
        cells = [cell.strip() for cell in line.split(" | ")]
        found = re.findall(r"`((?:GET|POST|PUT) [^`]+)`", cells[0]) if line.startswith("| `") else []
        for route in found:
            routes[pattern(route.split("?")[0])] = WHO_SAYS[cells[1]]
    return routes


EXPECTED = contract()


def test_the_contract_and_the_matrix_name_the_same_routes_and_people() -> None:
    files_of_the_app = {pattern("GET /{path:path}"): ALL}
    assert {pattern(key): set(row.who) for key, row in MATRIX.items()} == EXPECTED | files_of_the_app


# ---------------------------------------------------------------- a real server, all routes, everybody


REACHED = "reached"


def probes(app: FastAPI) -> None:
    """An endpoint behind every row whose folder is not joined here: it says only that it was reached."""
    router = APIRouter()
    there = {
        pattern(f"{method} {route.path}") for route in iter_route_contexts(app.routes) for method in route.methods or ()
    }

    def reached() -> PlainTextResponse:
        return PlainTextResponse(REACHED)

    for key in MATRIX:
        method, path = key.split(" ")
        if pattern(key) not in there and path != "/{path:path}":
            router.add_api_route(path, reached, methods=[method])
    router.add_api_route("/{path:path}", reached, methods=["GET", "HEAD"])
    app.include_router(router)


class NoRates(Rates):
    """Everything goes at once: how often is asked elsewhere."""

    def wait_s(self, key: str, rate: Rate) -> int:
        return 0


class Crowd:
    """One of everybody, each with a browser of their own at a server with all routes."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.lead = world.led()
        others = ("technician", "runner", "deputy", "auditor")
        self.people = {role: world.person(self.lead, f"Rin {role}", [role], "739482") for role in others}
        self.revoked = world.invited(self.lead, "withdrawn")
        self.lead.post(f"/door/stations/{self.revoked.station}/revoke", {"reason": "test"})
        self.seats = {who: self._seat(who) for who in WHO}

    def _seat(self, who: Who) -> Tablet:
        """A browser that shows exactly this and nothing else: a token, or a session, or nothing."""
        if who == "revoked":
            return self.revoked
        if who == "none":
            return self.world.tablet()
        seat = self.world.invited(self.lead, f"of {who}")
        if who != "station":
            person, pin = (self.world.lead_id, LEAD_PIN) if who == "lead" else (self.people[who], "739482")
            assert seat.sign_in(person, pin).status_code == 200
            seat.token = None
        return seat


@pytest.fixture(scope="module")
def crowd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Crowd]:
    world = World(tmp_path_factory.mktemp("crowd"))
    world.door.rates = NoRates(world.clock)
    app = door_app(world.door, probes)
    try:
        with serving(app) as address:
            world.address = address
            yield Crowd(world)
    finally:
        world.close()


def address_of(key: str) -> tuple[str, str]:
    method, path = key.split(" ")
    return method, re.sub(r"\{[^}]*\}", "a" * 64, path)


def asked(seat: Tablet, key: str) -> httpx.Response:
    """The route asked with a body that fits nothing: whoever is admitted meets 422 or the probe; nothing is done."""
    method, path = address_of(key)
    body: list[str] | None = [] if method in ("POST", "PUT") else None
    return seat.http.request(method, path, json=body, headers=seat.headers())


TURNED_AWAY = {"no_station", "station_withdrawn", "sign_in_first", "signed_out", "not_your_part"}


@pytest.mark.parametrize("who", WHO)
@pytest.mark.parametrize("key", [key for key in MATRIX if key != "POST /door/sign-out"])
def test_a_route_admits_whom_the_contract_names_and_nobody_else(crowd: Crowd, key: str, who: Who) -> None:
    seat = crowd.seats[who]
    answer = asked(seat, key)
    told = code_of(answer) if "trouble" in answer.text else ""
    admitted = not (answer.status_code in (401, 403) and told in TURNED_AWAY)
    assert admitted == (who in EXPECTED.get(pattern(key), ALL)), (answer.status_code, told)
    if admitted:
        assert answer.status_code in (200, 422), (answer.status_code, told)


@pytest.mark.parametrize("who", WHO)
def test_signing_out_is_for_who_is_signed_in(crowd: Crowd, who: Who) -> None:
    """Apart from the rest, because it ends the session it is asked with."""
    seat = crowd._seat(who)
    answer = seat.post("/door/sign-out", {})
    assert (answer.status_code == 200) == (who in EXPECTED["POST /door/sign-out"]), answer.text
    crowd.seats[who] = crowd._seat(who)


@pytest.mark.parametrize("path", ["/lead/today/", "//lead/today", "/LEAD/today", "/lead/%74oday/x", "/lead/today%00"])
def test_a_path_written_otherwise_opens_nothing(crowd: Crowd, path: str) -> None:
    """It is another path: the files of the app answer, never the lead's list."""
    answer = crowd.seats["none"].http.get(path)
    assert answer.status_code in (200, 404)
    assert answer.text == REACHED or code_of(answer) == "not_here"


@pytest.mark.parametrize("method", ["DELETE", "PATCH", "OPTIONS", "TRACE", "PUT"])
def test_a_method_no_row_names_is_not_there(crowd: Crowd, method: str) -> None:
    """No CORS preflight either (ASVS 3.4.2)."""
    answer = crowd.seats["lead"].http.request(method, "/lead/today", headers=crowd.seats["lead"].headers())
    assert answer.status_code == 404
    assert "access-control-allow-origin" not in answer.headers


def test_head_is_asked_like_get(crowd: Crowd) -> None:
    assert crowd.seats["none"].http.head("/lead/today").status_code == 401
    assert crowd.seats["none"].http.head("/").status_code == 200


@pytest.mark.parametrize("header", ["Bearer {}", "Station {}x", "station", "Basic {}"])
def test_a_token_shown_otherwise_is_nobody(crowd: Crowd, header: str) -> None:
    shown = header.format(crowd.seats["station"].token)
    answer = crowd.seats["none"].http.get("/cards", headers={"Authorization": shown})
    assert (answer.status_code, code_of(answer)) == (401, "no_station")


# ---------------------------------------------------------------- deny by default


def bare() -> FastAPI:
    return FastAPI(openapi_url=None, docs_url=None, redoc_url=None)


def test_a_route_without_a_row_stops_the_start(tmp_path: Path) -> None:
    world = World(tmp_path)
    app = door_app(world.door, lambda app: app.add_api_route("/secret", lambda: "x", methods=["GET"]))
    with pytest.raises(RuntimeError, match="did not start"), serving(app):
        pass
    world.close()


STRANGERS: list[tuple[str, Callable[[FastAPI], object]]] = [
    ("DELETE /cards", lambda app: app.add_api_route("/cards", lambda: "x", methods=["DELETE"])),
    ("GET /secret", lambda app: app.mount("/secret", bare())),
    ("WebSocketRoute /live", lambda app: app.router.routes.append(WebSocketRoute("/live", lambda ws: None))),
    ("GET /docs", lambda app: app.include_router(FastAPI().router)),
]


@pytest.mark.parametrize(("named", "add"), STRANGERS, ids=[named for named, _ in STRANGERS])
def test_every_stranger_is_named(named: str, add: Callable[[FastAPI], object]) -> None:
    """No docs, no debug routes, no sockets (ASVS 13.4)."""
    app = bare()
    add(app)
    with pytest.raises(NotInMatrix, match=re.escape(named)):
        check_matrix(app)


def test_the_server_as_it_is_joined_has_a_row_for_every_route(tmp_path: Path) -> None:
    installation = Installation(tmp_path, "of-the-test", "test")
    try:
        app = create_app(Settings(data=tmp_path, dist=tmp_path), installation)
        assert len(check_matrix(app)) >= len(MATRIX) - 1  # commands of a lead may still be missing
    finally:
        installation.close()


def test_a_nested_router_is_looked_through() -> None:
    inner, outer, app = APIRouter(), APIRouter(prefix="/lead"), bare()
    inner.add_api_route("/today", lambda: "x", methods=["GET"])
    inner.add_api_route("/tomorrow", lambda: "x", methods=["GET"])
    outer.include_router(inner)
    app.include_router(outer)
    with pytest.raises(NotInMatrix, match="GET /lead/tomorrow") as stopped:
        check_matrix(app)
    assert "/lead/today" not in str(stopped.value)


# ---------------------------------------------------------------- who may write what


def test_every_station_kind_says_who_may_write_it() -> None:
    assert set(MAY_WRITE) == set(STATION_KINDS)


@pytest.mark.parametrize("kind", sorted(STATION_KINDS))
def test_leads_may_all_at_the_sink_and_auditors_nothing(kind: str) -> None:
    assert role_may(kind, {"lead"})
    assert not role_may(kind, {"auditor"})
    assert not role_may(kind, ())


@pytest.mark.parametrize(
    ("kind", "may"),
    [
        ("inspection.begun", False), ("inspection.concluded", False), ("part.marked", False), ("photo.marked", False),
        ("hold.placed", True), ("photo.restricted", True), ("scope.received", True), ("scope.registered", True),
    ],
)  # fmt: skip
def test_a_runner_moves_and_does_not_inspect(kind: str, may: bool) -> None:
    assert role_may(kind, {"runner"}) is may


def test_server_kinds_are_the_leads_and_the_doors_own_are_named() -> None:
    assert all(role_may(kind, {"lead"}) for kind in SERVER_KINDS)
    assert not any(role_may(kind, {"technician", "runner", "auditor"}) for kind in SERVER_KINDS)
    assert {
        "person.added", "person.changed", "station.enrolled", "station.chained", "station.revoked",
    } == DOOR_KINDS  # fmt: skip


def test_a_deputy_decides_what_a_shift_needs_decided_and_nothing_of_people_policy_or_what_was_hidden() -> None:
    may = {kind for kind in SERVER_KINDS if role_may(kind, {"deputy"})}
    assert may == DEPUTY_KINDS
    assert may >= {"hold.decided", "repair.opened", "shift.closed", "photo.hidden"}
    assert not any(kind.split(".")[0] in ("person", "station", "policy", "catalogue", "frequency") for kind in may)
    assert not may & {"photo.opened", "photo.shown_again", "photo.erasure_asked", "photo.erased", "aside.settled"}


@pytest.mark.parametrize("kind", ["", "inspection.destroyed", "person.*"])
def test_a_kind_nobody_knows_may_nobody_write(kind: str) -> None:
    assert not role_may(kind, ROLES)


def test_roles_are_kept_in_one_order_and_strangers_fall_out() -> None:
    assert roles_text(["auditor", "technician", "technician"]) == "technician auditor"
    assert roles_of("auditor king technician") == ("technician", "auditor")
