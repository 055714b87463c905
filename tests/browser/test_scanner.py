"""The readers of the page in a real Chromium: camera, keyboard reader, and the same text as the server's reader.

Codes are written by zint, which shares nothing with the readers. The page is one for tests only, built like the product
and served under the product's own headers.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
import zxingcpp
from browser.conftest import Guard, OpenBrowser, holds
from browser.plates import DI, film, held, plate, printed, udi, zint_code
from loupebook.headers import SecurityHeaders
from loupebook.reading.labels import Labelled
from loupebook.reading.labels_paper import Form, labels_html
from loupebook.reading.pdf import as_pdf
from PIL import Image, ImageFilter
from playwright.sync_api import Page, Route
from starlette.applications import Starlette
from starlette.responses import Response
from starlette.routing import Mount
from starlette.routing import Route as Path_
from starlette.staticfiles import StaticFiles

pytestmark = pytest.mark.sink

HERE = Path(__file__).parent


@dataclass(frozen=True)
class TestPage:
    """Where the page is served, and the folder whose pictures it serves."""

    url: str
    pictures: Path

    __test__ = False


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestPage]:
    """The test page, built and served with the headers of the product."""
    folder, pictures = tmp_path_factory.mktemp("page"), tmp_path_factory.mktemp("pictures")
    node = shutil.which("node")
    assert node, "Node is needed here; the frontend build finds or fetches it"
    subprocess.run([node, str(HERE / "pages/build.mjs"), str(folder)], check=True, timeout=120)
    app = Starlette(
        routes=[
            Path_("/favicon.ico", lambda _: Response(status_code=204)),
            Mount("/pictures", StaticFiles(directory=pictures)),
            Mount("/", StaticFiles(directory=folder)),
        ]
    )
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(SecurityHeaders(app), log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        yield TestPage(f"http://127.0.0.1:{listening.getsockname()[1]}/scanner.html", pictures)
        server.should_exit = True
        thread.join(10)


def opened(open_browser: OpenBrowser, served: TestPage, **options: Any) -> Page:
    page = open_browser(**options).pages[0]
    page.goto(served.url)
    return page


def told(page: Page) -> dict[str, Any]:
    everything: dict[str, Any] = page.evaluate("readers.told")
    return everything


# ------------------------------------------------------------------ the camera


@pytest.fixture
def plate_film(tmp_path: Path) -> Path:
    """A serial plate with a GS1 Data Matrix, turned a little from frame to frame."""
    still = plate("SN1042", tmp_path, udi("SN1042"))
    frames = [still.rotate(angle, Image.Resampling.BICUBIC) for angle in (0, 3, 6, 3)]
    return film(tmp_path / "plate.mjpeg", frames, times=4)


def test_the_camera_reads_a_plate_to_its_scope_and_tells_it_once(
    open_browser: OpenBrowser, served: TestPage, plate_film: Path
) -> None:
    page = opened(open_browser, served, camera=plate_film)
    assert page.evaluate("readers.openCamera()") == "open"
    holds(page, "readers.told.codes.length > 0")
    holds(page, "document.querySelector('video').currentTime > 1.5")
    seen = told(page)
    (code,) = seen["codes"]
    assert (code["form"], code["di"], code["serial"], code["check"]) == ("gs1", DI, "SN1042", "good")
    assert code["symbology"] == "]d2"
    assert seen["keys"] == [f"udi:{DI}/SN1042"]
    assert seen["troubles"] == []
    assert page.evaluate("readers.closeCamera()") == {"track": "ended", "shown": False}


def test_a_code_that_lies_askew_brings_the_hint_and_no_code(
    open_browser: OpenBrowser, served: TestPage, tmp_path: Path
) -> None:
    bars = zint_code("C-14-SINK-2", tmp_path, "CODE128").rotate(45, expand=True, fillcolor="white")
    frame = Image.new("RGB", (1280, 720), (90, 96, 100))
    frame.paste(bars.resize((600, 600)), (340, 60))
    page = opened(open_browser, served, camera=film(tmp_path / "askew.mjpeg", [frame]))
    assert page.evaluate("readers.openCamera()") == "open"
    holds(page, "readers.told.hints.length > 0")
    assert told(page)["hints"] == ["level_the_code"]
    assert told(page)["codes"] == []


def test_a_denied_camera_says_so(open_browser: OpenBrowser, served: TestPage) -> None:
    flags = ("--deny-permission-prompts", "--use-fake-device-for-media-stream")
    assert opened(open_browser, served, flags=flags).evaluate("readers.openCamera()") == "denied"


def test_a_tablet_without_a_camera_says_so(open_browser: OpenBrowser, served: TestPage) -> None:
    flags = ("--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream=device-count=0")
    assert opened(open_browser, served, flags=flags).evaluate("readers.openCamera()") == "none"


def test_a_reader_whose_wasm_does_not_come_is_told_and_works_once_it_comes(
    open_browser: OpenBrowser, served: TestPage, plate_film: Path, guard: Guard
) -> None:
    held: list[Route] = []
    context = open_browser(camera=plate_film)
    context.route("**/*.wasm", lambda route: held.append(route))
    page = context.pages[0]
    page.goto(served.url)
    assert page.evaluate("readers.openCamera()") == "open"
    holds(page, "readers.told.troubles.length > 0")
    assert told(page)["troubles"] == ["reader_silent"]
    assert told(page)["codes"] == []
    held[0].continue_()
    holds(page, "readers.told.codes.length > 0")
    assert told(page)["troubles"] == ["reader_silent", None]


# ------------------------------------------------------------------ the same text as the server

WRITTEN = {
    "gs1-data-matrix": ("DATAMATRIX", "[01]51022222233336[17]301231[10]A213B1[21]SN1042", 0, 0.0),
    "gs1-data-matrix-turned": ("DATAMATRIX", "[01]51022222233336[10]A213B1[21]SN1042", 33, 0.8),
    "gs1-qr": ("QRCODE", "[01]51022222233336[21]SN1042", 12, 0.8),
    "gs1-128": ("GS1_128", "[01]51022222233336[21]SN1042", 2, 0.5),
    "link": ("QRCODE", "https://id.gs1.org/01/51022222233336/21/SN1042?17=301231", 190, 0.8),
    "hibc-data-matrix": ("HIBC_DM", "A999ABC123DE0/$+1234567", 77, 0.5),
    "hibc-code-39": ("HIBC_39", "A123BJC5D6E71", 0, 0.5),
    "hibc-128": ("HIBC_128", "A999ABC123DE0/$+1234567", 3, 0.5),
    "utf-8-qr": ("QRCODE", "Zähler 7 é", 5, 0.5),
    "six-in-code-39": ("CODE39", "SN0042", 1, 0.0),
    "our-label": ("QRCODE", "LB1:S:C-14", 45, 1.0),
    "two-lines-qr": ("QRCODE", "a\\nb", 0, 0.0),
}


def test_the_page_reads_the_same_text_as_the_server(
    open_browser: OpenBrowser, served: TestPage, tmp_path: Path
) -> None:
    page = opened(open_browser, served)
    f = zxingcpp.BarcodeFormat
    formats = (f.DataMatrix, f.QRCode, f.Code128, f.Code39Std)
    for name, (symbology, data, angle, blur) in WRITTEN.items():
        code = zint_code(data, tmp_path, symbology)
        turned = code.rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor="white")
        picture = turned.filter(ImageFilter.GaussianBlur(blur))
        picture.save(served.pictures / f"{name}.png")
        on_server = zxingcpp.read_barcodes(picture.convert("L"), formats=formats, text_mode=zxingcpp.TextMode.Plain)
        for effort in ("hard", "still"):
            answer = page.evaluate(
                "([path, effort]) => readers.readImage(path, effort)", [f"/pictures/{name}.png", effort]
            )
            in_page = [(c["text"], c["symbology"], c["contentType"]) for c in answer["codes"]]
            assert in_page == [(c.text, c.symbology_identifier, c.content_type.name) for c in on_server], name
            assert len(in_page) == 1, name


LABELS = (
    Labelled("scope", "LB1:S:udi:51022222233336/2741906", "C-14", "SN 2741906"),
    Labelled("tool", "LB1:T:B-3", "B-3", "borescope"),
    Labelled("person", "LB1:P:rin.oake", "Rin Oake", ""),
    Labelled("place", "LB1:L:K%C3%BCche / Keller", "Küche / Keller", ""),
)


def test_the_page_reads_our_labels_as_they_are_printed(
    open_browser: OpenBrowser, served: TestPage, tmp_path: Path
) -> None:
    """Each sort in both forms, as paper before a camera. What a label must say: test_labels_paper.py."""
    page = opened(open_browser, served)
    symbol: dict[Form, str] = {"qr": "]Q", "matrix": "]d"}
    for form, begins in symbol.items():
        html, _ = labels_html(LABELS, lambda key, **_: key, form, "50x25", "Harrow Lake")
        for label, paper in zip(LABELS, printed(as_pdf(html, lambda _: None), tmp_path, form), strict=True):
            held(paper).save(served.pictures / "label.png")
            answer = page.evaluate(
                "([path, effort]) => readers.readImage(path, effort)", ["/pictures/label.png", "hard"]
            )
            (code,) = answer["codes"]
            assert (code["text"], code["symbology"][:2]) == (label.text, begins)


# ------------------------------------------------------------------ keyboard readers

UDI_TEXT = "015102222223333610A213B1\x1d211234"
"""Public UDI sample string (FDA, HL7)."""


@pytest.fixture
def desk(open_browser: OpenBrowser, served: TestPage) -> Page:
    """The page with its clock in the test's hand: keys come exactly as far apart as the test says."""
    page = open_browser().pages[0]
    page.clock.install(time=0)
    page.goto(served.url)
    page.clock.pause_at(60_000)
    return page


def burst(page: Page, text: str, gap: int = 10, end: str | None = "Enter") -> None:
    """Sends `text` as a keyboard reader does, `gap` ms between keys, the separator as Ctrl+]."""
    for sign in text:
        page.keyboard.press("Control+]" if sign == "\x1d" else sign)
        page.clock.run_for(gap)
    if end is not None:
        page.keyboard.press(end)


def test_a_burst_while_a_text_field_has_the_focus_is_a_code_and_the_field_is_as_before(desk: Page) -> None:
    desk.focus("#field")
    desk.evaluate("document.querySelector('#field').setSelectionRange(1, 2)")
    burst(desk, UDI_TEXT)
    assert told(desk)["wedge"] == [UDI_TEXT]
    assert desk.input_value("#field") == "abc"
    assert desk.evaluate("[document.activeElement.id, field.selectionStart, field.selectionEnd]") == ["field", 1, 2]
    assert told(desk)["inputs"][-1] == "abc"


def test_a_burst_ended_by_silence_leaves_a_text_area_as_before(desk: Page) -> None:
    desk.focus("#lines")
    burst(desk, "LB1:S:C-14", end=None)
    assert told(desk)["wedge"] == []
    desk.clock.run_for(100)
    assert told(desk)["wedge"] == ["LB1:S:C-14"]
    assert desk.input_value("#lines") == ""


def test_a_burst_with_a_button_focused_presses_no_button(desk: Page) -> None:
    desk.focus("#button")
    burst(desk, "LB1:C:next")
    burst(desk, "A999 SCOPE 7")
    assert told(desk)["wedge"] == ["LB1:C:next", "A999 SCOPE 7"]
    assert told(desk)["clicks"] == 0


def test_typing_by_hand_stays_in_the_field_and_enter_does_its_work(desk: Page) -> None:
    desk.focus("#field")
    desk.keyboard.press("End")
    burst(desk, "2741906", gap=90)
    assert desk.input_value("#field") == "abc2741906"
    desk.focus("#button")
    desk.keyboard.press("Enter")
    assert told(desk)["clicks"] == 1
    desk.clock.run_for(1000)
    assert told(desk)["wedge"] == []


def test_a_foot_switch_is_a_command_on_any_screen(desk: Page) -> None:
    desk.focus("#field")
    keyboard = desk.context.new_cdp_session(desk)
    for key in ("F13", "F14"):
        for move in ("keyDown", "keyUp"):
            keyboard.send("Input.dispatchKeyEvent", {"type": move, "key": key, "code": key})
    assert told(desk)["commands"] == ["photo", "next"]


UNREADABLE = """(text) => {
  const down = new KeyboardEvent("keydown", { key: "Unidentified", keyCode: 229, bubbles: true });
  document.activeElement.dispatchEvent(down);
  const field = document.activeElement;
  field.value = text;
  field.dispatchEvent(new InputEvent("input", { bubbles: true }));
  return [field.getAttribute("aria-label"), field.inputMode, field.value];
}"""


def test_keys_the_browser_does_not_name_are_read_through_a_hidden_field(desk: Page) -> None:
    """What Android's text service sends: keyCode 229 (W3C UI Events, 'Unidentified'), then the text of the field."""
    assert desk.evaluate(UNREADABLE, UDI_TEXT) == ["Scanner", "none", ""]
    desk.clock.run_for(100)
    assert told(desk)["wedge"] == [UDI_TEXT]
    burst(desk, "LB1:S:C-14")
    assert told(desk)["wedge"] == [UDI_TEXT, "LB1:S:C-14"]


def test_the_hidden_field_never_takes_the_focus_from_a_text_field(desk: Page) -> None:
    desk.focus("#field")
    assert desk.evaluate(UNREADABLE, "typed on glass")[2] == "typed on glass"
    assert desk.evaluate("document.activeElement.id") == "field"
