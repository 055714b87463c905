"""Codes on photos, from an encoder that shares nothing with our readers to the scope they name.

Written by zint 2.11, drawn turned, blurred and noisy on an uneven ground, read by zxing-cpp, understood by
`read_code`. The DI is the public UDI sample of FDA and HL7, the HIBC texts are those of its guide; serials invented.
"""

import random
import subprocess
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from loupebook.rules.codes import key_of, read_code
from PIL import Image, ImageChops, ImageDraw, ImageFilter

pytestmark = pytest.mark.sink

GS1 = "[01]51022222233336[17]301231[10]A213B1[21]SN1042"
HIBC = "A999ABC123DE0/$+1234567"
HIBC_WHOLE = "+A999ABC123DE0/$+1234567Y"
LINK = "https://id.gs1.org/01/51022222233336/10/A213B1/21/SN1042?17=301231"

UDI: dict[str, Any] = {
    "di": "51022222233336",
    "serial": "SN1042",
    "lot": "A213B1",
    "expires": "2030-12-31",
    "check": "good",
}
UDI_HIBC: dict[str, Any] = {"di": "A999ABC123DE0", "serial": "1234567", "check": "good", "form": "hibc"}

CODES: dict[str, tuple[list[str], str, dict[str, Any]]] = {
    "GS1 Data Matrix": (["-b", "DATAMATRIX", "--gs1"], GS1, {**UDI, "form": "gs1", "symbology": "]d2"}),
    "GS1 QR": (["-b", "QRCODE", "--gs1"], GS1, {**UDI, "form": "gs1", "symbology": "]Q3"}),
    "GS1-128": (
        ["-b", "GS1_128"],
        GS1.replace("[17]301231", ""),
        {"serial": "SN1042", "form": "gs1", "symbology": "]C1"},
    ),
    "Digital Link in QR": (["-b", "QRCODE"], LINK, {**UDI, "form": "gs1_link", "symbology": "]Q1"}),
    "HIBC Data Matrix": (["-b", "HIBC_DM"], HIBC, UDI_HIBC),
    "HIBC QR": (["-b", "HIBC_QR"], HIBC, UDI_HIBC),
    "HIBC Code 128": (["-b", "HIBC_128"], HIBC, UDI_HIBC),
    "HIBC Code 39": (["-b", "HIBC_39"], HIBC, UDI_HIBC),
    "HIBC text in plain Data Matrix": (["-b", "DATAMATRIX"], HIBC_WHOLE, UDI_HIBC),
    "HIBC product code in Code 39": (["-b", "HIBC_39"], "A123BJC5D6E71", {"di": "A123BJC5D6E71", "check": "good"}),
    "our scope label in QR": (
        ["-b", "QRCODE"],
        "LB1:S:C-14",
        {"form": "own", "own": {"kind": "scope", "value": "C-14"}},
    ),
    "our command in Data Matrix": (["-b", "DATAMATRIX"], "LB1:C:nothing-found", {"form": "command"}),
    "a tag in Code 128": (["-b", "CODE128"], "C-14", {"form": "plain", "symbology": "]C0"}),
    "a serial in Code 39 is no pharmacy number": (["-b", "CODE39"], "SN0042", {"form": "plain", "text": "SN0042"}),
    "brackets inside a QR": (
        ["-b", "QRCODE"],
        "(01)51022222233336(21)SN1042",
        {"form": "gs1_human", "serial": "SN1042", "notes": [{"note": "human_form_in_code"}]},
    ),
}
BARS = ("128", "39")


def by_zint(folder: Path, options: list[str], data: str) -> Image.Image:
    """A code with a quiet zone of 30 px, a module 4 px wide, the thinnest bar 3."""
    scale = "1.5" if any(bar in options[1] for bar in BARS) else "2"
    target = folder / "code.png"
    subprocess.run(["zint", *options, "--scale", scale, "-o", str(target), "-d", data], check=True, timeout=60)
    drawn = Image.open(target).convert("L")
    framed = Image.new("L", (drawn.width + 60, drawn.height + 60), 255)
    framed.paste(drawn, (30, 30))
    return framed


def on_photo(code: Image.Image, angle: float, blur: float, seed: int) -> Image.Image:
    """The code on an uneven grey ground, 60 % contrast, turned, blurred, and with noise of 8 grey steps."""
    rng = random.Random(seed)
    width, height = max(1000, code.width + 200), max(700, code.width + 200)
    photo = Image.linear_gradient("L").resize((width, height)).point(lambda v: 60 + v // 4)
    pen = ImageDraw.Draw(photo)
    for _ in range(40):
        x, y = rng.randrange(width), rng.randrange(height)
        pen.ellipse((x, y, x + 30, y + 12), outline=rng.randrange(40, 160))
    soft = code.point(lambda v: 50 + v * 6 // 10)
    mask = Image.new("L", soft.size, 255)
    turned, turned_mask = soft.rotate(angle, Image.Resampling.BICUBIC, expand=True), mask.rotate(angle, expand=True)
    photo.paste(turned, ((width - turned.width) // 2, (height - turned.height) // 2), turned_mask)
    photo = photo.filter(ImageFilter.GaussianBlur(blur))
    noise = Image.frombytes("L", photo.size, rng.randbytes(width * height)).point(lambda v: v * 16 // 255)
    return ImageChops.add(photo, noise, 1, -8) if blur else photo


def read(photo: Image.Image) -> list[tuple[str, str]]:
    """Texts and symbologies as the server's looking process asks for them."""
    f = zxingcpp.BarcodeFormat
    formats = (f.DataMatrix, f.QRCode, f.Code128, f.Code39Std)
    found = zxingcpp.read_barcodes(photo, formats=formats, text_mode=zxingcpp.TextMode.Plain)
    return [(code.text, code.symbology_identifier) for code in found]


@pytest.mark.parametrize("name", CODES)
@pytest.mark.parametrize(("tilt", "blur"), [(0, 0.0), (3, 0.8), (7, 1.2)])
def test_a_code_on_a_photo_names_its_scope(tmp_path: Path, name: str, tilt: int, blur: float) -> None:
    options, data, expected = CODES[name]
    drawn = by_zint(tmp_path, options, data)
    # One straight line must cross all bars, so a long low code can't be turned far: "level the code".
    angle = tilt if drawn.width < 1200 else min(tilt, 4)
    found = read(on_photo(drawn, angle, blur, seed=tilt))
    assert len(found) == 1
    text, symbology = found[0]
    code = read_code(text, symbology, today_year=2026)
    assert expected.items() <= dict(code).items()


@pytest.mark.parametrize("angle", [25, 90, 137, 180, 221, 300])
def test_square_codes_are_read_at_any_angle(tmp_path: Path, angle: int) -> None:
    photo = on_photo(by_zint(tmp_path, ["-b", "DATAMATRIX", "--gs1"], GS1), angle, 1.0, seed=angle)
    text, symbology = read(photo)[0]
    assert key_of(read_code(text, symbology, today_year=2026)) == "udi:51022222233336/SN1042"


def test_a_photo_without_a_code_gives_none() -> None:
    assert read(on_photo(Image.new("L", (300, 300), 200), 10, 1.0, seed=1)) == []


def test_the_default_text_mode_would_have_given_brackets(tmp_path: Path) -> None:
    """Why Plain is named on both sides: the reader's own default writes GS1 for people."""
    photo = on_photo(by_zint(tmp_path, ["-b", "DATAMATRIX", "--gs1"], GS1), 0, 0.0, seed=1)
    assert zxingcpp.read_barcodes(photo)[0].text.startswith("(01)")
    assert "\x1d" in read(photo)[0][0]
