"""A tablet in the building, in a real Chromium: https by the local authority, plain http, and enrolling by one code.

The authority stands in the browser's own list of authorities (NSS), as a person installs it; nothing is ignored.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
import zxingcpp
from axe_playwright_python.sync_playwright import Axe
from browser.conftest import Guard, OpenBrowser, close, controlled, settled
from browser.eyes import keep_picture
from door_world import LEAD_PIN, public_key
from lan_server import ADDRESS, NAME, LanServer
from PIL import Image
from playwright.sync_api import BrowserContext, Error, Page, expect

pytestmark = pytest.mark.breadth

FOUND = (
    f"--host-resolver-rules=MAP {NAME} {{}}, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost, EXCLUDE {ADDRESS}"
)
"""Only the building's name is found, and where; all else is nowhere."""
NOBODY_ANSWERS = "net::ERR_CONNECTION_"
"""What Chromium notes when the page asks a server that ended, or was asking it as it ended."""

Tablet = Callable[..., Page]


@pytest.fixture
def lan(tmp_path: Path, guard: Guard, browsers: list[BrowserContext]) -> Iterator[LanServer]:
    live = LanServer(tmp_path / "record")
    live.start()
    for origin in (live.https, live.by_address, live.help_page, f"http://{NAME}"):
        guard.allow(f"left the origin: {origin}")
    yield live
    close(browsers)
    live.close()


def trust(home: Path, authority: Path) -> None:
    """Puts an authority where Chromium on Linux looks: the NSS database of its home folder."""
    folder = home / ".pki" / "nssdb"
    folder.mkdir(parents=True)
    certutil = shutil.which("certutil")
    assert certutil is not None, "certutil is not installed: apt-get install -y --no-install-recommends libnss3-tools"
    for words in (("-N", "--empty-password"), ("-A", "-t", "C,,", "-n", "of the test", "-i", str(authority))):
        subprocess.run([certutil, "-d", f"sql:{folder}", *words], check=True, capture_output=True)


@pytest.fixture
def tablet(open_browser: OpenBrowser, lan: LanServer, tmp_path: Path) -> Tablet:
    """A browser of the building; `trusts` False: nobody installed the authority. `at`: where the name leads to."""

    def start(profile: str = "tablet", trusts: bool = True, at: str = ADDRESS) -> Page:
        home = tmp_path / f"home-{profile}"
        if not home.exists():
            home.mkdir()
            if trusts:
                trust(home, lan.authority(tmp_path))
        env = {**os.environ, "HOME": str(home)}
        return open_browser(profile=profile, flags=(FOUND.format(at),), env=env).pages[0]

    return start


@pytest.mark.parametrize("by", ["name", "address"])
def test_a_tablet_that_trusts_the_authority_works_on_without_a_network(
    tablet: Tablet, lan: LanServer, guard: Guard, by: str
) -> None:
    page = tablet()
    page.goto((lan.https if by == "name" else lan.by_address) + "/")
    settled(page)
    controlled(page)
    assert page.evaluate("isSecureContext && 'mediaDevices' in navigator && 'subtle' in crypto")
    guard.allow(NOBODY_ANSWERS)
    lan.kill()
    page.reload()
    settled(page)
    expect(page.get_by_role("heading", level=1)).to_be_visible()


def test_a_tablet_that_does_not_trust_it_opens_nothing(tablet: Tablet, lan: LanServer) -> None:
    page = tablet(trusts=False)
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(lan.https + "/")


def test_another_authority_of_the_same_name_is_not_enough(tablet: Tablet, lan: LanServer, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    other = LanServer(tmp_path / "other" / "record")
    other.start()
    try:
        wrong = other.authority(tmp_path / "other")
    finally:
        other.close()
    home = tmp_path / "home-wrong"
    home.mkdir()
    trust(home, wrong)
    page = tablet(profile="wrong")
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(lan.https + "/")


def test_plain_http_under_the_name_says_why_and_what_to_do(
    tablet: Tablet, lan: LanServer, guard: Guard, screens: Path
) -> None:
    """A name that leads to the plain address, as behind a proxy that does not encrypt."""
    guard.allow("403 (Forbidden)")
    guard.allow("Cross-Origin-Opener-Policy header has been ignored")
    page = tablet(at="127.0.0.1")
    page.goto(f"http://{NAME}:{lan.port}/")
    expect(page.get_by_role("heading", level=1)).to_have_text("This address is not a secure one")
    assert not page.evaluate("isSecureContext")
    assert not page.evaluate("'serviceWorker' in navigator")
    keep_picture(page, screens / "lan-not-secure.png")
    page.get_by_role("link", name="This page").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Set up a tablet")


def test_the_set_up_page_is_readable_by_everybody(tablet: Tablet, lan: LanServer, screens: Path) -> None:
    page = tablet()
    page.goto(lan.help_page + "/")
    keep_picture(page, screens / "lan-set-up.png", full_page=True)
    found = Axe().run(page)
    assert found.response["violations"] == [], found.generate_report()
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "a phone shows a part of it only"
    with page.expect_download() as kept:
        page.get_by_role("link", name="the profile").click()
    assert kept.value.suggested_filename == "loupebook-authority.mobileconfig"


def first_lead(lan: LanServer) -> str:
    """The first lead by hand, and a code for a desk."""
    code = lan.said("First code").split()[2]
    with httpx.Client(base_url=lan.url, headers={"x-loupebook": "1"}, trust_env=False, timeout=60) as desk:
        first = {
            "code": code, "person": {"name": "Moira Keld", "pin": LEAD_PIN},
            "station": {"name": "Office", "place": "Office", "side": "both"}, "public_key": public_key(),
        }  # fmt: skip
        answer = desk.post("/door/first", json=first, headers={"origin": lan.url})
        assert answer.status_code == 201, answer.text
        wish = {"name": "Desk", "place": "Office", "side": "both", "points": ["after_cleaning"]}
        told = desk.post("/door/invite", json=wish, headers={"origin": lan.url})
        return str(told.json()["code"])


def open_stations(page: Page, lan: LanServer, code: str) -> None:
    """A new browser on the server's own machine becomes a station, and its lead opens the list of tablets."""
    page.goto(lan.url + "/")
    settled(page)
    page.get_by_label("One-time code").fill(code)
    page.get_by_role("button", name="Enrol").click()
    page.get_by_role("button", name="Moira Keld").first.click()
    pad = page.get_by_role("group", name="PIN for")
    for digit in LEAD_PIN:
        pad.get_by_role("button", name=digit, exact=True).click()
    pad.get_by_role("button", name="Enter").click()
    settled(page)
    page.get_by_role("button", name="Moira Keld, lead").click()
    page.get_by_role("button", name="The lead's desk").click()
    expect(page.get_by_role("navigation", name="Parts of the desk")).to_be_visible()
    page.evaluate("() => { location.hash = '#/desk/stations'; }")
    settled(page)


def test_a_tablet_is_enrolled_by_the_code_on_the_desk_s_screen(
    tablet: Tablet, open_browser: OpenBrowser, lan: LanServer, screens: Path
) -> None:
    """The desk's picture is read off its screen by zxing-cpp, as a tablet's camera app would, and opened as it is."""
    code = first_lead(lan)
    desk = open_browser(profile="desk").pages[0]
    open_stations(desk, lan, code)
    desk.get_by_role("button", name="Enrol").first.click()
    desk.get_by_label("Name of this tablet").fill("Sink 2")
    desk.get_by_label("Place").fill("Decontamination")
    desk.get_by_role("button", name="Make").click()
    picture = desk.get_by_role("img", name="The code that enrols Sink 2").screenshot()
    (read,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)))
    assert read.text.startswith(f"{lan.https}/#/enrol?code=")

    page = tablet()
    page.goto(read.text)
    settled(page)
    expect(page.get_by_label("One-time code")).to_have_value(read.text.split("=")[1])
    assert "code=" not in page.url, "the code stays in the address, and so in the browser's history"
    page.get_by_role("button", name="Enrol").click()
    expect(page.get_by_role("button", name="Moira Keld")).to_be_visible()

    page.goto(read.text)
    settled(page)
    expect(page.get_by_role("button", name="Moira Keld")).to_be_visible()
    assert "code=" not in page.url
