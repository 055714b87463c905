"""Labels of our own, round trip: what a label's code says is read off the paper by readers that are not ours.

Drawn by poppler at 203 dots an inch, the coarsest of label printers, and read by zxing-cpp (both forms) and pyzbar (QR
code; zbar reads no Data Matrix). Quiet zones: ISO/IEC 18004 (QR code, four modules), ISO/IEC 16022 (Data Matrix, one).
"""

from __future__ import annotations

import io
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
import zxingcpp
from door_world import code_of
from loupebook.reading.labels import MOST, Labelled
from loupebook.reading.labels_paper import DOT_MM, ROLLS, ROWS, Size, labels_html, module_mm
from loupebook.reading.pdf import as_pdf
from PIL import Image
from pyzbar.pyzbar import ZBarSymbol
from pyzbar.pyzbar import decode as zbar
from story import C14
from whole_server import WholeServer

pytestmark = pytest.mark.repair

MM_A_POINT = 25.4 / 72
TOOL, PLACES = "B-3", ["Cabinet 2, shelf 3", "Küche / Keller"]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WholeServer]:
    server = WholeServer(tmp_path_factory.mktemp("labels"))
    chain = server.desk.chain
    registered = {"scope_kind": "colonoscope", "serial": "2741906", "maker": "Alder", "model": "C2", "tag": "C-14"}
    chain.write("scope.registered", registered, inspection=False)
    tool = {"tool": TOOL, "what": "borescope", "place": "Decontamination", "codes": []}
    chain.write("tool.registered", tool, inspection=False, about={"tool": TOOL})
    assert {row["verdict"] for row in server.desk.send()} == {"counted"}
    yield server
    server.close()


def asked(server: WholeServer, what: str, of: list[str], **more: str) -> list[tuple[str, str]]:
    of = of or [server.desk.chain.person]
    return [("what", what), *(("of", each) for each in of), *more.items()]


def pages(server: WholeServer, folder: Path, what: str, of: list[str], **more: str) -> tuple[bytes, list[Image.Image]]:
    answer = server.desk.browser.http.get(
        "/lead/labels.pdf", params=asked(server, what, of, **more), headers=server.desk.browser.headers()
    )
    assert answer.status_code == 200, answer.text
    (folder / "labels.pdf").write_bytes(answer.content)
    subprocess.run(["pdftoppm", "-r", "203", "-gray", "-png", folder / "labels.pdf", folder / "label"], check=True)
    return answer.content, [Image.open(path).convert("L") for path in sorted(folder.glob("label*.png"))]


def said(what: str, of: list[str], person: str) -> set[str]:
    """What each label must say: `LB1:` and its letter; a place percent-encoded (RFC 3986)."""
    return {
        "scope": {f"LB1:S:{C14}"}, "tool": {f"LB1:T:{TOOL}"}, "person": {f"LB1:P:{person}"},
        "place": {"LB1:L:Cabinet 2%2C shelf 3", "LB1:L:K%C3%BCche / Keller"},
    }[what]  # fmt: skip


ALL = [("scope", [C14]), ("tool", [TOOL]), ("person", []), ("place", PLACES)]


@pytest.mark.parametrize(("what", "of"), ALL, ids=[what for what, _ in ALL])
@pytest.mark.parametrize("form", ["qr", "matrix"])
@pytest.mark.parametrize("size", ["a4", "50x25", "62x29", "102x152"])
def test_a_label_says_at_print_resolution_what_it_is_for(
    server: WholeServer, tmp_path: Path, what: str, of: list[str], form: str, size: str
) -> None:
    data, drawn = pages(server, tmp_path, what, of, form=form, size=size)
    expected = said(what, of, server.desk.chain.person)
    wanted = zxingcpp.BarcodeFormat.QRCode if form == "qr" else zxingcpp.BarcodeFormat.DataMatrix
    assert {code.text for page in drawn for code in zxingcpp.read_barcodes(page, formats=wanted)} == expected
    if form == "qr":
        assert {code.data.decode("ascii") for page in drawn for code in zbar(page, [ZBarSymbol.QRCODE])} == expected
    words = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages).split())
    name = {"scope": "C-14", "tool": TOOL, "person": "Moira", "place": "shelf 3"}[what]
    assert name in words or what == "person"


@pytest.mark.parametrize("size", ROLLS)
def test_each_label_of_a_printer_is_one_page_of_its_size(server: WholeServer, tmp_path: Path, size: str) -> None:
    data, _ = pages(server, tmp_path, "place", PLACES, size=size)
    sides = [
        (float(page.mediabox.width) * MM_A_POINT, float(page.mediabox.height) * MM_A_POINT)
        for page in pypdf.PdfReader(io.BytesIO(data)).pages
    ]
    assert [tuple(round(side, 1) for side in each) for each in sides] == [tuple(map(float, ROLLS[size]))] * len(PLACES)


NAMED = (
    Labelled("scope", "LB1:S:C-11", "C-11", "SN 2741987"), Labelled("tool", "LB1:T:B-9", "B-9", "borescope"),
    Labelled("person", "LB1:P:rin.oake", "Rin Oake", ""), Labelled("person", "LB1:P:mm", "Wim Mammwell", ""),
    Labelled("place", "LB1:L:C", "Cabinet 2, shelf 3", ""),
)  # fmt: skip
"""Short names stand large: what does not fit makes a second page of its label."""


@pytest.mark.parametrize("size", ROLLS)
def test_a_large_name_and_a_long_house_make_no_second_page(size: Size) -> None:
    html, _ = labels_html(NAMED, lambda key, **_: key.rpartition(".")[2], "qr", size, "Harrow Lake Day Hospital")
    assert len(pypdf.PdfReader(io.BytesIO(as_pdf(html, lambda _: None))).pages) == len(NAMED)


@pytest.mark.parametrize(("size", "sheet"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_a_sheet_holds_its_labels_and_goes_on_with_the_next(
    server: WholeServer, tmp_path: Path, size: str, sheet: tuple[int, int]
) -> None:
    many = [f"Shelf {number}" for number in range(3 * ROWS[size] + 1)]
    data, drawn = pages(server, tmp_path, "place", many, size=size)
    found = [{code.text for code in zxingcpp.read_barcodes(page)} for page in drawn]
    assert [len(each) for each in found] == [3 * ROWS[size], 1]
    assert set.union(*found) == {f"LB1:L:{each}" for each in many}
    box = pypdf.PdfReader(io.BytesIO(data)).pages[0].mediabox
    assert (round(float(box.width) * MM_A_POINT), round(float(box.height) * MM_A_POINT)) == sheet


def test_a_module_is_a_whole_number_of_a_printers_dots() -> None:
    for count, room in ((37, 21.0), (26, 21.0), (45, 97.6)):
        side = module_mm(count, room)
        assert side * count <= room and round(side / DOT_MM, 9) == int(side / DOT_MM) > 0


def test_nothing_is_printed_of_what_is_not_on_record_and_no_more_than_fits(server: WholeServer) -> None:
    def get(what: str, of: list[str]) -> int | str:
        answer = server.desk.browser.http.get(
            "/lead/labels", params=asked(server, what, of), headers=server.desk.browser.headers()
        )
        return code_of(answer) if answer.status_code == 404 else answer.status_code

    assert [get("scope", ["udi:0/0"]), get("tool", ["Z"]), get("person", ["nobody"])] == ["no_label"] * 3
    assert get("place", ["ü" * 60]) == "no_label", "longer than a label's code may be"
    assert get("place", [str(number) for number in range(MOST + 1)]) == 422
    assert get("place", PLACES) == 200
