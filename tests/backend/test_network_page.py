"""The plain page in the building: what is to be had there, and that nothing else is."""

from __future__ import annotations

import plistlib
import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from ipaddress import IPv4Address

import numpy as np
import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from loupebook.network.authority import fingerprint, make_authority
from loupebook.network.page import CRT, PROFILE, help_page
from loupebook.qr import modules
from starlette.testclient import TestClient

pytestmark = pytest.mark.breadth

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
ADDRESS = "https://harrow.local:8643"
AUTHORITY = make_authority("harrow.local", [IPv4Address("10.20.0.7")], NOW).certificate
NEVER = ("error", "invalid", "sync", "upload", "cache", "user", "asset", "workflow", "please", "oops")
"""Words that are never on screen. "Current User" and "User" name what Windows and Android write."""


@pytest.fixture(params=[AUTHORITY, None], ids=["local authority", "own certificate"])
def page(request: pytest.FixtureRequest) -> TestClient:
    return TestClient(help_page(ADDRESS, "harrow.local", request.param), base_url="http://10.20.0.7:8680")


@pytest.fixture
def local() -> TestClient:
    return TestClient(help_page(ADDRESS, "harrow.local", AUTHORITY), base_url="http://10.20.0.7:8680")


class Inline(HTMLParser):
    """What a strict policy refuses, and every address a page leads to."""

    def __init__(self) -> None:
        super().__init__()
        self.bad: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style", "form", "img", "iframe"):
            self.bad.append(tag)
        for name, value in attrs:
            if name == "style" or name.startswith("on"):
                self.bad.append(f"{tag} {name}")
            if name == "href":
                self.links.append(value or "")


def test_the_page_has_no_script_no_cookie_and_a_strict_policy(page: TestClient) -> None:
    answer = page.get("/")
    seen = Inline()
    seen.feed(answer.text)
    assert seen.bad == []
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "script-src" not in answer.headers["content-security-policy"]
    assert "set-cookie" not in answer.headers
    assert set(seen.links) - {CRT, PROFILE, "/page.css"} == {ADDRESS}


@pytest.mark.parametrize("path", ["/health", "/cards", "/door/first", "/sw.js", "/index.html", "/authority"])
def test_nothing_of_the_record_is_there(page: TestClient, path: str) -> None:
    assert page.get(path).status_code == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_nothing_can_be_written(page: TestClient, method: str) -> None:
    assert page.request(method, "/").status_code == 404


def test_the_file_is_the_authority_and_its_key_is_not_in_it(local: TestClient) -> None:
    answer = local.get(CRT)
    assert x509.load_pem_x509_certificate(answer.content) == AUTHORITY
    assert b"PRIVATE" not in answer.content
    assert answer.headers["content-type"] == "application/x-x509-ca-cert"
    assert "loupebook-authority.crt" in answer.headers["content-disposition"]


def test_the_profile_holds_the_same_authority_and_nothing_more(local: TestClient) -> None:
    """Keys and types as Apple's Configuration Profile Reference has them (from memory, not looked up)."""
    answer = local.get(PROFILE)
    whole = plistlib.loads(answer.content)
    (root,) = whole["PayloadContent"]
    assert (whole["PayloadType"], root["PayloadType"]) == ("Configuration", "com.apple.security.root")
    assert root["PayloadContent"] == AUTHORITY.public_bytes(Encoding.DER)
    assert whole["PayloadUUID"] != root["PayloadUUID"]
    assert local.get(PROFILE).content == answer.content, "the same authority is the same profile"
    assert answer.headers["content-type"] == "application/x-apple-aspen-config"


def test_the_fingerprint_can_be_compared(local: TestClient) -> None:
    said = re.sub(r"<br>| ", ":", local.get("/").text)
    assert fingerprint(AUTHORITY) in said


def test_the_steps_name_what_is_easily_missed(local: TestClient) -> None:
    """Certificate Trust Settings on an iPad, "CA certificate" on Android."""
    text = local.get("/").text
    for words in ("Certificate Trust Settings", "CA certificate", "Wi-Fi certificate", "Trusted Root", "Home Screen"):
        assert words in text


def test_nobody_is_told_to_go_past_a_warning(page: TestClient) -> None:
    text = re.sub(r"\s+", " ", page.get("/").text)
    assert "do not go on past the warning" in text
    for words in ("Advanced", "Proceed", "accept the risk", "continue anyway", "not private"):
        assert words.lower() not in text.lower()


def test_words_never_on_screen_are_not_on_the_page(page: TestClient) -> None:
    text = re.sub(r"<[^>]*>", " ", page.get("/").text)
    text = text.replace("Current User", "").replace("credentials, User,", "")
    assert [word for word in NEVER if re.search(rf"\b{word}", text, re.IGNORECASE)] == []


def test_the_code_on_the_page_is_the_address(page: TestClient) -> None:
    """Drawn from the page's own path and read by zxing-cpp, a reader that is not ours."""
    text = page.get("/").text
    side = int(re.findall(r'viewBox="0 0 (\d+)', text)[0])
    picture = np.full((side, side), 255, np.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", text):
        picture[int(y), int(x)] = 0
    (found,) = zxingcpp.read_barcodes(np.kron(picture, np.ones((6, 6), np.uint8)))
    assert found.text == ADDRESS


def test_modules_read_back_as_their_text() -> None:
    rows = modules(f"{ADDRESS}/#/enrol?code=7K2M-QX4T-93AB")
    assert {len(row) for row in rows} == {len(rows)}
    assert set("".join(rows)) == {"0", "1"}
    bits = np.array([[255 * (cell == "0") for cell in row] for row in rows], np.uint8)
    (found,) = zxingcpp.read_barcodes(np.pad(np.kron(bits, np.ones((6, 6), np.uint8)), 24, constant_values=255))
    assert found.text == f"{ADDRESS}/#/enrol?code=7K2M-QX4T-93AB"
