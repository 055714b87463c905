"""The running server in the building: https there, plain http on loopback only, one door for both."""

from __future__ import annotations

import socket
import sqlite3
import ssl
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address
from pathlib import Path

import httpx
import pytest
from door_world import public_key
from lan_server import ADDRESS, NAME, LanServer
from live_server import LiveServer
from loupebook.health import building_health
from loupebook.network.building import Wanted, open_building

pytestmark = pytest.mark.breadth

LEAD_PIN = "739482"
OURS = {"x-loupebook": "1"}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanServer]:
    live = LanServer(tmp_path_factory.mktemp("lan") / "record")
    live.start()
    yield live
    live.close()


@pytest.fixture(scope="module")
def trusting(server: LanServer, tmp_path_factory: pytest.TempPathFactory) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(server.authority(tmp_path_factory.mktemp("trust"))))


@pytest.fixture
def tablet(server: LanServer, trusting: ssl.SSLContext) -> Iterator[httpx.Client]:
    """By its address, with the name in the Host header: no name server knows `harrow.local`."""
    with httpx.Client(base_url=server.by_address, verify=trusting, trust_env=False, headers=OURS, timeout=60) as one:
        yield one


class Named:
    """The same, as if the name had been found."""

    def __init__(self, server: LanServer, trusting: ssl.SSLContext) -> None:
        self.http = httpx.Client(base_url=server.by_address, verify=trusting, trust_env=False, headers=OURS, timeout=60)
        self.http.headers["host"] = f"{NAME}:{server.lan_port}"

    def post(self, path: str, body: object, **headers: str) -> httpx.Response:
        return self.http.post(path, json=body, headers=headers, extensions={"sni_hostname": NAME})


@pytest.fixture(scope="module")
def led(server: LanServer, trusting: ssl.SSLContext) -> Iterator[Named]:
    """The first lead, signed in over https."""
    named = Named(server, trusting)
    code = server.said("First code").split()[2]
    first = {
        "code": code, "person": {"name": "Moira Keld", "pin": LEAD_PIN},
        "station": {"name": "Desk", "place": "Office", "side": "both"}, "public_key": public_key(),
    }  # fmt: skip
    answer = named.post("/door/first", first, origin=server.https)
    assert answer.status_code == 201, answer.text
    # httpx keeps a cookie for the address it asked, so it is handed on by hand.
    named.http.headers["cookie"] = answer.headers["set-cookie"].split(";")[0]
    named.http.headers["origin"] = server.https
    yield named
    named.http.close()


def test_the_start_says_what_a_tablet_needs(server: LanServer) -> None:
    server.said("Certificate")
    said = "\n".join(server.printed)
    assert f"Tablets      {server.https}" in said
    assert "Set-up page  http://127.0.0.2:" in said
    assert "Fingerprint  " in said


def test_tablets_are_served_by_name_and_by_address(server: LanServer, tablet: httpx.Client, led: Named) -> None:
    assert tablet.get("/health").status_code == 200
    assert led.http.get("/health", extensions={"sni_hostname": NAME}).status_code == 200


def test_the_address_on_loopback_stays_plain_and_answers_there_only(server: LanServer) -> None:
    assert httpx.get(server.url + "/health", trust_env=False, timeout=60).status_code == 200
    with socket.socket() as sock:
        assert sock.connect_ex((ADDRESS, server.port)) != 0


def test_plain_http_is_not_spoken_to_the_building(server: LanServer) -> None:
    with pytest.raises(httpx.TransportError):
        httpx.get(f"http://{ADDRESS}:{server.lan_port}/health", trust_env=False, timeout=60)


def test_an_old_tls_is_not_spoken(server: LanServer, trusting: ssl.SSLContext) -> None:
    """ASVS 5.0.0 12.1.1: TLS 1.2 and later."""
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    context.maximum_version = ssl.TLSVersion.TLSv1_2
    with socket.create_connection((ADDRESS, server.lan_port)) as sock, context.wrap_socket(sock) as tls:
        assert tls.version() == "TLSv1.2"
    context.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning):
        context.minimum_version = ssl.TLSVersion.TLSv1
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    with socket.create_connection((ADDRESS, server.lan_port)) as sock, pytest.raises(ssl.SSLError):
        context.wrap_socket(sock)


def test_a_stranger_s_name_is_refused(server: LanServer, tablet: httpx.Client) -> None:
    answer = tablet.get("/health", headers={"host": "elsewhere.example"})
    assert (answer.status_code, answer.json()["trouble"]["code"]) == (421, "other_name")


def test_the_browser_is_told_to_stay_encrypted_over_https_only(server: LanServer, tablet: httpx.Client) -> None:
    """ASVS 5.0.0 3.4.1; RFC 6797 7.2 forbids it over http."""
    assert tablet.get("/").headers["strict-transport-security"] == "max-age=31536000"
    assert "strict-transport-security" not in httpx.get(server.url + "/", trust_env=False, timeout=60).headers


def test_the_session_s_cookie_is_locked_to_the_host(server: LanServer, led: Named) -> None:
    assert led.http.headers["cookie"].startswith("__Host-loupebook=")
    me = led.http.get("/door/me", extensions={"sni_hostname": NAME})
    assert (me.status_code, me.json()["name"]) == (200, "Moira Keld")


def test_a_forwarded_header_is_not_believed_in_the_building(server: LanServer, tablet: httpx.Client) -> None:
    """Else anybody could choose the address that tries are counted by, or make https look like http."""
    answer = tablet.get("/health", headers={"x-forwarded-proto": "http", "x-forwarded-for": "10.9.9.9"})
    assert "strict-transport-security" in answer.headers


def test_an_invitation_is_one_code_to_scan(server: LanServer, led: Named) -> None:
    wish = {"name": "Sink 2", "place": "Decontamination", "side": "dirty", "points": ["after_cleaning"]}
    told = led.post("/door/invite", wish).json()
    assert told["label"] == f"LB1:E:{server.https}|{told['code']}"
    assert told["link"] == f"{server.https}/#/enrol?code={told['code']}"
    assert told["qr"]["size"] == len(told["qr"]["rows"])


def test_the_lead_reads_how_the_installation_is(server: LanServer, led: Named) -> None:
    health = led.http.get("/lead/health", extensions={"sni_hostname": NAME}).json()
    certificate = health["building"]["certificate"]
    assert health["building"]["address"] == server.https
    assert (certificate["whose"], certificate["days"], certificate["warn"]) == ("local", 394, False)
    assert certificate["fingerprint"] in server.said("Fingerprint")
    assert health["disk"]["free_bytes"] > 0
    assert health["backup"] == {
        "ever": False,
        "entries_since": entries_in(server.data),
        "last": None,
        "lacking": None,
        "drill": None,
    }
    assert health["database"]["version"].count(".") == 2


def entries_in(folder: Path) -> int:
    with closing(sqlite3.connect(folder / "record.sqlite")) as record:
        return int(record.execute("SELECT count(*) FROM log_entries").fetchone()[0])


@pytest.mark.parametrize(("days", "warns"), [(400, True), (385, True), (370, False), (0, False)])
def test_health_warns_when_a_renewal_did_not_come(tmp_path: Path, days: int, warns: bool) -> None:
    """A certificate of its own is renewed 30 days before its end; with less than 15 left something is in the way."""
    now = datetime.now(UTC)
    building = open_building(
        tmp_path, Wanted(lan=True, name=NAME), now, lambda: NAME, lambda: (IPv4Address("10.20.0.7"),)
    )
    assert building is not None
    certificate = building_health(building, now + timedelta(days=days))["certificate"]
    assert isinstance(certificate, dict)
    assert certificate["warn"] is warns
    assert certificate["days"] == max(0, 394 - days) or days == 0


# ---------------------------------------------------------------- plain http under the building's name


def test_plain_http_under_the_building_s_name_is_words_only(server: LanServer) -> None:
    asked = {"host": f"{NAME}:{server.port}", "accept": "text/html"}
    answer = httpx.get(server.url + "/", headers=asked, trust_env=False, timeout=60)
    assert answer.status_code == 403
    assert "the browser closes its camera and its storage" in answer.text.replace("\n", " ")
    assert server.https in answer.text
    assert server.help_page in answer.text
    assert "<script" not in answer.text


@pytest.mark.parametrize("path", ["/health", "/sw.js", "/assets/x.js", "/cards", "/lead/today"])
def test_nothing_else_is_served_over_it(server: LanServer, path: str) -> None:
    answer = httpx.get(server.url + path, headers={"host": NAME}, trust_env=False, timeout=60)
    assert (answer.status_code, answer.json()["trouble"]["code"]) == (403, "not_encrypted")


def test_no_pin_is_taken_over_it(server: LanServer) -> None:
    headers = {"host": NAME, **OURS}
    answer = httpx.post(server.url + "/door/sign-in", json={}, headers=headers, trust_env=False, timeout=60)
    assert (answer.status_code, answer.json()["trouble"]["code"]) == (403, "not_encrypted")


def test_a_proxy_on_this_machine_is_believed_when_it_says_https(server: LanServer) -> None:
    asked = {"host": NAME, "x-forwarded-proto": "https", "x-forwarded-for": "10.20.0.31"}
    assert httpx.get(server.url + "/health", headers=asked, trust_env=False, timeout=60).status_code == 200


# ---------------------------------------------------------------- starts that are refused


def refused(live: LiveServer) -> str:
    try:
        with pytest.raises(AssertionError, match="the server ended") as ended:
            live.start()
    finally:
        live.close()
    return str(ended.value)


def test_a_taken_port_of_the_building_is_not_exchanged(server: LanServer, tmp_path: Path) -> None:
    other = LanServer(tmp_path / "record", {"LOUPEBOOK_LAN_PORT": str(server.lan_port)})
    said = refused(other)
    assert f"Port {server.lan_port} of {ADDRESS} cannot be had" in said
    assert "Tablets know this port" in said
    assert not (tmp_path / "record" / "served-as.json").exists(), "an address nobody was served at is not remembered"


def test_another_name_is_refused_and_the_old_one_still_starts(tmp_path: Path) -> None:
    live = LanServer(tmp_path / "record")
    live.start()
    assert live.stop() == 0
    renamed = LanServer(tmp_path / "record", {"LOUPEBOOK_NAME": "new.local", "LOUPEBOOK_LAN_PORT": str(live.lan_port)})
    assert f"Tablets know this record at {live.https}" in refused(renamed)
    moving = LanServer(
        tmp_path / "record",
        {"LOUPEBOOK_NAME": "new.local", "LOUPEBOOK_LAN_PORT": str(live.lan_port), "LOUPEBOOK_MOVED_FROM": NAME},
    )
    moving.start()
    try:
        assert live.https in moving.said("until every tablet has sent")
    finally:
        assert moving.stop() == 0


def test_a_certificate_that_cannot_be_used_is_refused(tmp_path: Path) -> None:
    said = refused(
        LanServer(
            tmp_path / "record",
            {"LOUPEBOOK_CERTIFICATE": str(tmp_path / "site.crt"), "LOUPEBOOK_KEY": str(tmp_path / "site.key")},
        )
    )
    assert "site.crt cannot be read: No such file or directory. Nothing was started." in said


def test_a_start_for_this_machine_only_says_that_tablets_cannot_come(tmp_path: Path) -> None:
    live = LanServer(tmp_path / "record")
    live.start()
    live.stop()
    alone = LiveServer(tmp_path / "record").start()
    try:
        assert "They cannot reach it now: add --lan." in alone.said("Tablets")
    finally:
        alone.close()


def test_stopping_ends_in_peace_with_an_open_stream(tmp_path: Path) -> None:
    live = LanServer(tmp_path / "record")
    live.start()
    context = ssl.create_default_context(cafile=str(live.authority(tmp_path)))
    with httpx.Client(base_url=live.by_address, verify=context, trust_env=False, timeout=60) as tablet:
        assert tablet.get("/health").status_code == 200  # and the connection stays open
        assert live.stop() == 0
    assert live.printed[-1].startswith("Stopped.")
