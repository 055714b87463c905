"""Names and origins: whom a request says it is for, and which page it says it comes from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from door_world import HASHER, LEAD_PIN, HandClock, OwnLog, World, code_of, opened
from loupebook.door.codes import as_typed, code_hash, code_picture, new_code, same
from loupebook.door.cookie import cookie_name, read_cookie, set_cookie
from loupebook.door.door import Door
from loupebook.door.origin import from_our_page, goes_by, host_name
from loupebook.door.rate import MOST_KEYS, Rate, Rates
from loupebook.door.trouble import Trouble

pytestmark = pytest.mark.sink


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    with opened(tmp_path) as there:
        yield there


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("localhost:8600", "localhost"), ("127.0.0.1", "127.0.0.1"), ("[::1]:8600", "::1"),
        ("Loupe.Example:443", "loupe.example"), ("", None), ("a@localhost", None), ("localhost/x", None),
        ("localhost:port", None), ("localhost, evil.example", None),
    ],
)  # fmt: skip
def test_the_name_in_a_host_header(host: str, name: str | None) -> None:
    """Host = uri-host [ ":" port ], RFC 9110 section 7.2."""
    assert host_name(host) == name


@pytest.mark.parametrize(
    ("host", "goes"),
    [
        ("127.0.0.1:8600", True), ("localhost", True), ("loupe.example", True), ("evil.example", False),
        ("loupe.example.evil.example", False), ("127.0.0.1.evil.example", False), ("localhost.", False),
    ],
)  # fmt: skip
def test_the_server_goes_by_its_own_names_only(host: str, goes: bool) -> None:
    assert goes_by(host, frozenset({"loupe.example"})) is goes


@pytest.mark.parametrize("path", ["/door/me", "/door/sign-in", "/nothing"])
def test_a_name_led_here_by_a_stranger_is_turned_away(world: World, path: str) -> None:
    """DNS rebinding: the browser then sends the stranger's name as Host."""
    lead = world.led()
    answer = lead.http.get(path, headers=lead.headers() | {"Host": "evil.example"})
    assert (answer.status_code, code_of(answer)) == (421, "other_name")


OWN = {"host": "loupe.example"}


@pytest.mark.parametrize(
    ("headers", "must_say", "ours"),
    [
        # Sec-Fetch-Site values: W3C Fetch Metadata; Origin: RFC 6454, Fetch standard.
        ({"sec-fetch-site": "same-origin", "origin": "https://loupe.example"}, True, True),
        ({"sec-fetch-site": "same-origin"}, True, True),
        ({"origin": "https://loupe.example"}, True, True),
        ({"origin": "https://loupe.example:443"}, True, True),
        ({}, True, False),
        ({}, False, True),
        ({"sec-fetch-site": "cross-site"}, False, False),
        ({"sec-fetch-site": "same-site"}, False, False),
        ({"sec-fetch-site": "none"}, False, False),
        ({"origin": "https://evil.example"}, False, False),
        ({"origin": "http://loupe.example"}, False, False),
        ({"origin": "https://loupe.example:8443"}, False, False),
        ({"origin": "null"}, False, False),
        ({"sec-fetch-site": "same-origin", "origin": "https://evil.example"}, False, False),
    ],
)
def test_a_write_comes_from_our_own_page(headers: dict[str, str], must_say: bool, ours: bool) -> None:
    assert from_our_page(OWN | headers, "https", must_say=must_say) is ours


def test_a_write_by_cookie_alone_has_to_say_where_it_comes_from(world: World) -> None:
    """ASVS 3.5.1: a cookie is sent by the browser whoever wrote the page."""
    lead = world.led()
    bare = {"X-Loupebook": "1", "Content-Type": "application/json"}
    assert code_of(lead.http.post("/door/sign-out", content="{}", headers=bare)) == "not_ours"
    said = bare | {"Origin": world.address}
    assert lead.http.post("/door/sign-out", content="{}", headers=said).status_code == 200


@pytest.mark.parametrize("value", [None, "0", "yes"])
def test_a_write_without_our_header_is_refused(world: World, value: str | None) -> None:
    """ASVS 3.5.1-3.5.3: a form or an image of another page cannot set it."""
    lead = world.led()
    headers = {name: text for name, text in lead.headers().items() if name != "X-Loupebook"}
    if value is not None:
        headers["X-Loupebook"] = value
    answer = lead.http.post("/door/sign-out", json={}, headers=headers)
    assert (answer.status_code, code_of(answer)) == (403, "not_ours")
    assert lead.get("/door/me").status_code == 200


def test_a_body_that_is_too_long_or_says_no_length_is_not_read(world: World) -> None:
    lead = world.led()
    long = lead.http.post("/door/sign-in", content=b" " * 65_537, headers=lead.headers())
    assert (long.status_code, code_of(long)) == (413, "too_big")
    chunked = lead.http.post("/door/sign-in", content=iter([b"{}"]), headers=lead.headers())
    assert (chunked.status_code, code_of(chunked)) == (411, "no_length")


def test_what_was_sent_is_never_sent_back(world: World) -> None:
    """A refusal of a body that does not fit may not repeat it: it may hold a PIN."""
    lead = world.led()
    answer = lead.post("/door/sign-in", {"person": ["x"], "pin": LEAD_PIN})
    assert answer.status_code == 422
    assert LEAD_PIN not in answer.text


# ---------------------------------------------------------------- the cookie


def test_over_https_the_cookie_is_locked_to_the_host() -> None:
    """RFC 6265bis section 4.1.3.2: `__Host-` needs Secure, Path=/ and no Domain."""
    name = cookie_name("https", "loupe.example")
    assert set_cookie(name, "abc", 60) == (
        "__Host-loupebook=abc; Path=/; Max-Age=60; HttpOnly; SameSite=Strict; Secure"
    )


def test_no_cookie_is_set_over_plain_http_but_on_loopback() -> None:
    assert cookie_name("http", "localhost:8600") == "loupebook"
    with pytest.raises(Trouble) as refused:
        cookie_name("http", "loupe.example")
    assert refused.value.code == "not_encrypted"


def test_the_cookie_is_read_under_its_own_name_only() -> None:
    header = 'other=1; loupebook=abc; __Host-loupebook="def"'
    assert read_cookie(header, "loupebook") == "abc"
    assert read_cookie(header, "__Host-loupebook") == "def"
    assert read_cookie("loupebook=", "loupebook") is None
    assert read_cookie("\x00=;;;", "loupebook") is None


def test_behind_a_proxy_that_ends_tls_the_locked_cookie_is_set_and_read(world: World) -> None:
    """ASVS 3.3.1. uvicorn takes the scheme from a proxy on loopback."""
    lead = world.led()
    https = {"X-Forwarded-Proto": "https", "Origin": world.address.replace("http:", "https:")}
    answer = lead.post("/door/sign-in", {"person": world.lead_id, "pin": LEAD_PIN}, **https)
    cookie = answer.headers["set-cookie"].split("; ")
    assert cookie[0].startswith("__Host-loupebook=") and "Secure" in cookie
    token = cookie[0].partition("=")[2]

    def me(name: str) -> int:
        shown = {"Cookie": f"{name}={token}", "X-Forwarded-Proto": "https"}
        return lead.http.get("/door/me", headers=shown).status_code

    lead.http.cookies.clear()
    assert (me("__Host-loupebook"), me("loupebook")) == (200, 401)


# ---------------------------------------------------------------- codes and rates


def test_a_code_is_read_as_a_person_types_it() -> None:
    """Crockford's Base32: O is 0, I and L are 1, case and dashes do not matter."""
    assert as_typed("7k2m-qx4t-93ab") == as_typed("7K2M QX4T93AB") == "7K2MQX4T93AB"
    assert same(code_hash("0110-0000-0000"), "oiLo oooo oooo")
    assert not same(code_hash("0110-0000-0000"), "0110-0000-0001")


def test_codes_have_twelve_signs_none_of_them_mistakable() -> None:
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(len(as_typed(code)) == 12 and not set(code) & set("OILU") for code in codes)


def test_the_picture_of_a_code_is_read_by_an_independent_reader() -> None:
    """zxing-cpp reads what is drawn with half blocks in the terminal."""
    import numpy as np
    import zxingcpp

    code = new_code()
    rows = []
    for line in code_picture(code).splitlines():
        # Inverted: a blank is dark, a full block is light.
        rows.append([sign in "█▀" for sign in line])
        rows.append([sign in "█▄" for sign in line])
    width = max(len(row) for row in rows)
    light = np.array([row + [True] * (width - len(row)) for row in rows], dtype=np.uint8) * 255
    image = np.kron(light, np.ones((6, 6), dtype=np.uint8))
    assert [found.text for found in zxingcpp.read_barcodes(image)] == [code]


def test_a_rate_lets_a_burst_go_and_then_one_at_a_time() -> None:
    clock = HandClock()
    rates, rate = Rates(clock), Rate(most=3, every_s=10)
    assert [rates.wait_s("a", rate) for _ in range(5)] == [0, 0, 0, 10, 10]
    assert rates.wait_s("b", rate) == 0
    clock.go_on(seconds=9.5)
    assert rates.wait_s("a", rate) == 1
    clock.go_on(seconds=0.5)
    assert [rates.wait_s("a", rate) for _ in range(2)] == [0, 10]


def test_callers_without_end_take_no_memory_without_end() -> None:
    clock = HandClock()
    rates, rate = Rates(clock), Rate(most=1, every_s=10)
    for n in range(MOST_KEYS + 50):
        rates.wait_s(str(n), rate)
    assert len(rates._left) == MOST_KEYS


def test_no_name_pin_code_or_token_reaches_the_log(world: World, caplog: pytest.LogCaptureFixture) -> None:
    """ASVS 14.2.1, 16.2.5; 16.3.1: that it was tried stands there, with who and where."""
    caplog.set_level("DEBUG")
    lead = world.led()
    ila = world.person(lead, "Ila Venn", ["technician"], "739482")
    tablet = world.invited(lead)
    tablet.sign_in(ila, "739483")
    world.clock.go_on(seconds=1)
    tablet.sign_in(ila, "739482")
    ours = [record for record in caplog.records if not record.name.startswith("http")]  # not the test's own client
    told = "\n".join(record.getMessage() for record in ours)
    assert f"wrong PIN person={ila} station={tablet.station} wrong=1" in told
    assert f"signed in person={ila} station={tablet.station}" in told
    secrets = ["739482", "739483", LEAD_PIN, "Ila", "Moira", tablet.token, lead.token, *lead.http.cookies.values()]
    assert [secret for secret in secrets if str(secret) in told] == []


def test_a_door_may_go_by_names_from_the_settings(tmp_path: Path) -> None:
    clock = HandClock()
    own = OwnLog(tmp_path, clock)
    door = Door(own.log, facility=dict, hosts=frozenset({"loupe.example"}), clock=clock, hasher=HASHER)
    assert goes_by("loupe.example:8600", door.hosts)
    own.close()
