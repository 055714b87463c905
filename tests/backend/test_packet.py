"""The packet of a repair and its label: what they say, on the page and in the PDF, read by readers not our own.

PDF text and pictures are read by pypdf, the codes by zxing-cpp off the page that poppler draws at 200 dots an inch.
What must stand on them: 29 CFR 1910.1030(d)(2)(xiv) (a label states which portions remain contaminated) and (g)(1)(i)
(the legend BIOHAZARD and its symbol, fluorescent orange or orange-red, lettering in a contrasting color).
"""

from __future__ import annotations

import io
import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
import zxingcpp
from door_world import code_of
from loupebook.reading.paper import LABELS, ORANGE
from loupebook.reading.pdf import ADDRESS, NoPdf, as_pdf
from PIL import Image
from story import C14
from whole_server import WholeServer

pytestmark = pytest.mark.repair

MM_A_POINT = 25.4 / 72
MEASURE = Path(__file__).parents[2] / "shared/vectors/measure.json"


class Case:
    """A scope with a finding ringed on its photo and a failed leak test; asked for, said and packed."""

    def __init__(self, server: WholeServer) -> None:
        self.server, desk = server, server.desk
        chain = desk.chain
        registered = {"scope_kind": "colonoscope", "serial": "2741906", "maker": "Alder", "model": "C2", "tag": "C-14"}
        chain.write("scope.registered", registered, inspection=False)
        self.root = chain.begin("after_cleaning")
        serial, seen = desk.photo("SN 2741906", "serial"), desk.photo("lens", "finding", (180, 90, 40))
        chain.write("serial.photographed", {"how": "last_four", "agrees": "yes", "last_four": "1906"}, [serial])
        card = {"way": "file", "told": ["too_dark"], "at": "2025-11-24T16:05:00.000Z", "tool": "B-3"}
        rings = [{"photo": seen["sha256"], "x": 4000, "y": 5000, "r": 900}]
        chain.find("lens", "film", [seen | {"taken": card}], rings=rings)
        arrow = {"photo": seen["sha256"], "tail": {"x": 1000, "y": 1000}, "tip": {"x": 4000, "y": 5000}}
        length = {"photo": seen["sha256"], **json.loads(MEASURE.read_text())["lengths"][0]["input"]}
        chain.write("photo.marked", {"photo": seen["sha256"], "arrows": [arrow], "lengths": [length]})
        self.test = chain.write("reading.taken", {"what": "leak_test", "result": "bubbles", "pressure_pa": 21500})
        self.asked = chain.write(
            "repair.asked", {"words": "bubbles at the bending <cover>", "inspections": [self.root]}, inspection=False
        )
        desk.send()
        desk.put_photos()
        server.settled()

    def said_and_packed(self) -> None:
        desk, chain = self.server.desk, self.server.desk.chain
        about = {"scope": C14, "repair": self.asked}
        chain.write(
            "repair.decontaminated",
            {
                "done": [{"what": "wiped", "how": "agent A, 2 min"}],
                "not_done": [{"what": "disinfected", "reason": "leak_test_failed"}],
                "processed_by": chain.person, "processed_at": "2025-11-25T09:40:00.000Z",
                "contaminated": ["ch_suction"], "label_on": True,
            },
            about=about,
        )  # fmt: skip
        chain.write(
            "repair.packed",
            {
                "accessories": [{"what": "vent cap", "count": 1}, {"what": "suction valve", "count": 2}],
                "contact": "Moira Keld, extension 204", "return_address": "Harrow Lake, dock, east door",
                "order": "55-310", "last_used": "2025-11-24", "expected_back": "2025-12-09",
            },
            [desk.photo("the case", "case", (60, 90, 60))],
            about=about,
        )  # fmt: skip
        assert {row["verdict"] for row in desk.send()} == {"counted"}
        desk.put_photos()
        self.server.settled()

    def get(self, path: str, entry: str = "") -> bytes:
        answer = self.server.desk.browser.get(f"/repairs/{entry or self.asked}/{path}")
        assert answer.status_code == 200, answer.text
        return answer.content


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Case]:
    server = WholeServer(tmp_path_factory.mktemp("packet"))
    try:
        yield Case(server)
    finally:
        server.close()


def read(data: bytes) -> tuple[str, int, list[tuple[float, float]]]:
    """Text, number of pictures, and the sizes of the pages in mm."""
    pdf = pypdf.PdfReader(io.BytesIO(data))
    words = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pdf.pages))
    sizes = [(float(page.mediabox.width) * MM_A_POINT, float(page.mediabox.height) * MM_A_POINT) for page in pdf.pages]
    return words, len({image.name for page in pdf.pages for image in page.images}), sizes


def drawn(data: bytes, folder: Path) -> Image.Image:
    """The first page as poppler draws it, 200 dots an inch."""
    (folder / "page.pdf").write_bytes(data)
    subprocess.run(["pdftoppm", "-r", "200", "-png", "-singlefile", folder / "page.pdf", folder / "page"], check=True)
    return Image.open(folder / "page.png").convert("RGB")


def test_the_packet_says_all_a_repairer_must_know_and_opens_the_repair_by_its_code(tmp_path: Path) -> None:
    """First what it lacks: the statement, and all counts as contaminated. Then all of it."""
    server = WholeServer(tmp_path / "house")
    try:
        said_then_whole(Case(server), tmp_path)
    finally:
        server.close()


def said_then_whole(case: Case, tmp_path: Path) -> None:
    words, pictures, _ = read(case.get("packet.pdf"))
    assert "The packet lacks: what was done to it, by whom" in words
    assert "Stays contaminated: the whole scope, until somebody says what was done to it" in words
    assert pictures == 2, "the serial number and the finding"
    case.said_and_packed()
    data = case.get("packet.pdf")
    words, pictures, sizes = read(data)
    for said in (
        "The packet is complete.", "2741906", "Alder C2", "C-14", "bubbles at the bending <cover>",
        "Leak test: bubbles, 21.5 kPa",
        "Wiped: agent A, 2 min", "Not disinfected: leak test failed", "Stays contaminated: suction channel",
        "1 × vent cap, 2 × suction valve", "Moira Keld, extension 204", "Harrow Lake, dock, east door", "55-310",
        "2025-11-24",
        "2025-12-09", "29 CFR 1910.1030(d)(2)(xiv)",
    ):  # fmt: skip
        assert said.lower() in words.lower(), f"{said!r} is not in {words}"
    assert pictures == 3, "the serial number, the finding, the case"
    assert [tuple(round(side) for side in size) for size in sizes] == [(210, 297)] * len(sizes)
    codes = {code.text for code in zxingcpp.read_barcodes(drawn(data, tmp_path))}
    assert codes == {f"LB1:R:{case.server.desk.lead('repairs')['rows'][0]['openers'][0]}"}
    page = case.get("packet").decode()
    assert page.count("<circle") == 2, "the ring, light on dark"
    assert page.count("<path d='M") >= 4, "the arrow and the length with what it is measured against, light on dark"
    assert "Length 5.00 ± 0.02 mm, against a ruler" in words
    assert re.search(r"taken 2025-11-24 1\d:05, from a file, with B-3, too dark, kept by Moira Keld", words), words
    assert len(re.findall(r"taken \d{4}-\d\d-\d\d \d\d:\d\d, (?:from a file|kept by)", words)) == 3, "each of them"
    assert "bending &lt;cover&gt;" in page and "<script" not in page
    assert "patient" not in words.lower()


def test_the_page_loads_nothing_but_its_style_and_the_photos_here(case: Case) -> None:
    answer = case.server.desk.browser.get(f"/repairs/{case.asked}/packet")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-") and "img-src 'self';" in policy
    assert set(re.findall(r"<img src='([^']{8})", answer.text)) == {"/photos/"}


@pytest.mark.parametrize("size", LABELS)
def test_the_label_has_symbol_word_colour_and_which_parts_in_the_size_of_its_printer(
    case: Case, size: str, tmp_path: Path
) -> None:
    data = case.get(f"label.pdf?size={size}")
    words, _, sizes = read(data)
    assert "BIOHAZARD" in words and "Stays contaminated:" in words and "2741906" in words
    asked = tuple(int(float(side.removesuffix("mm"))) for side in LABELS[size].split())
    assert [tuple(round(side) for side in each) for each in sizes] == [asked], "one label, one page"
    page = drawn(data, tmp_path)
    colours = {colour: count for count, colour in page.getcolors(1 << 20) or []}
    orange = tuple(int(ORANGE[at : at + 2], 16) for at in (1, 3, 5))
    assert colours[orange] > 0.6 * page.width * page.height
    assert colours[orange] > 4 * colours[0, 0, 0] > 0


def test_a_repair_that_is_not_here_is_told_and_a_machine_without_pango_says_so(
    case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert code_of(case.server.desk.browser.get(f"/repairs/{'0' * 64}/packet")) == "no_repair"

    def lacking(*_: object) -> bytes:
        raise NoPdf

    monkeypatch.setattr("loupebook.reading.packet_routes.as_pdf", lacking)
    assert code_of(case.server.desk.browser.get(f"/repairs/{case.asked}/packet.pdf")) == "no_pdf"
    assert b"Repair packet" in case.get("packet")


def test_nothing_is_fetched_from_outside() -> None:
    """A picture of another address is left out, whatever it names."""
    asked: list[str] = []

    def photo_of(sha256: str) -> bytes | None:
        asked.append(sha256)
        return None

    outside, here = "http://127.0.0.1:9/photos/" + "a" * 64, f"{ADDRESS}/photos/" + "b" * 64
    html = f"<html lang='en'><img src='{outside}'><img src='{here}'><p>words</p>"
    assert read(as_pdf(html, photo_of))[0] == "words"
    assert asked == ["b" * 64]
