"""Photos in real Chromium: what is kept is upright, bounded, without metadata, and hashed as it is."""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser.conftest import OpenBrowser
from browser.photo_site import build, served
from loupebook.looking.sharpness import measure
from PIL import Image, ImageDraw, ImageFilter, ImageOps
from playwright.sync_api import Page

pytestmark = pytest.mark.sink


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("photo_page")
    build(folder)
    with served(folder) as url:
        yield url


@dataclass
class Photos:
    """The page, and the folder its files are picked from."""

    page: Page
    folder: Path

    def pick(self, data: bytes, name: str = "photo.jpg") -> Any:
        """What the page makes of a picked file: a dict with `data` put back into bytes, or the reason as text."""
        path = self.folder / name
        path.write_bytes(data)
        self.page.set_input_files("#picked", path)
        return shot(self.page.evaluate("window.photos.picked()"))


def shot(told: Any) -> Any:
    if isinstance(told, dict):
        told["data"] = base64.b64decode(told.pop("base64"))
    return told


@pytest.fixture
def photos(site: str, open_browser: OpenBrowser, tmp_path: Path) -> Photos:
    page = open_browser().new_page()
    page.goto(site)
    return Photos(page, tmp_path)


def scene(size: tuple[int, int]) -> Image.Image:
    """Lines on two halves of different brightness, so that a turn or a mirror shows."""
    image = Image.new("RGB", size, (50, 60, 70))
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, size[0] // 2, size[1] // 3), fill=(230, 220, 200))
    for x in range(0, size[0], 61):
        draw.line((x, 0, size[0] - x, size[1]), fill=(140, 90, 60), width=3)
    return image


def coded(image: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def with_everything(orientation: int) -> bytes:
    """12 megapixels with place, device, maker's note, comment, XMP, IPTC and a preview: all that must be gone.

    Written by Pillow's own Exif writer; the Photoshop segment (IPTC IIM 4.2) and the preview (JFIF 1.02, JFXX),
    which Pillow does not write, by hand.
    """
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Alder"
    exif[0x010E] = "Tobin Sarr"
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 36.0)})
    exif.get_ifd(0x8769)[0x927C] = b"Tobin Sarr" * 40
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>Tobin Sarr</x:xmpmeta>"
    taken = coded(scene((4000, 3000)), exif=exif, xmp=xmp, comment=b"Tobin Sarr", quality=90)
    preview = coded(Image.new("RGB", (160, 120), (250, 10, 10)), comment=b"Tobin Sarr in small")
    iptc = b"Photoshop 3.0\0" + b"8BIM\x04\x04\0\0" + (21).to_bytes(4, "big") + b"\x1c\x02\x78\0\x10Tobin Sarr, IIM\0\0"
    return taken[:2] + segment(0xED, iptc) + segment(0xE0, b"JFXX\0\x10" + preview) + taken[2:]


def segment(marker: int, body: bytes) -> bytes:
    """One segment of a JPEG (ITU-T T.81, B.1.1.4)."""
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2, "big") + body


def application_segments(jpeg: bytes) -> list[int]:
    """Markers of application data and comments before the picture (ITU-T T.81, B.1.1.3)."""
    markers, at = [], 2
    while jpeg[at + 1] != 0xDA:
        markers.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return [marker for marker in markers if 0xE0 <= marker <= 0xEF or marker == 0xFE]


def test_a_camera_photo_is_kept_upright_at_2560_without_any_metadata(photos: Photos) -> None:
    for orientation in range(1, 9):  # in one browser, since each start of one costs seconds
        check_kept(photos, orientation)


def check_kept(photos: Photos, orientation: int) -> None:
    taken = with_everything(orientation)
    kept = photos.pick(taken, f"turned-{orientation}.jpg")
    data = kept["data"]
    upright = ImageOps.exif_transpose(Image.open(io.BytesIO(taken)))
    expected = (2560, 1920) if orientation <= 4 else (1920, 2560)
    opened = Image.open(io.BytesIO(data))
    assert (kept["width"], kept["height"]) == opened.size == expected
    assert kept["sha256"] == hashlib.sha256(data).hexdigest()
    assert (kept["type"], kept["took"]) == ("image/jpeg", "file")
    assert taken.count(b"Tobin Sarr") >= 45 and b"Photoshop 3.0" in taken and taken.count(b"\xff\xd8\xff") == 2
    assert not [word for word in (b"Tobin", b"Alder", b"Photoshop", b"8BIM", b"JFXX", b"xmpmeta") if word in data]
    assert data.count(b"\xff\xd8\xff") == 1, "no preview within"
    assert dict(opened.getexif()) == {} and opened.info.get("comment") is None
    assert application_segments(data) == [0xE0]  # JFIF alone
    difference = np.asarray(opened.convert("L").resize((192, 192)), dtype=float) - np.asarray(
        upright.convert("L").resize((192, 192)), dtype=float
    )
    assert np.abs(difference).mean() < 3


def test_a_small_photo_keeps_its_size(photos: Photos) -> None:
    kept = photos.pick(coded(scene((800, 500))))
    assert (kept["width"], kept["height"]) == (800, 500)


def test_another_type_becomes_a_jpeg_whatever_its_name_says(photos: Photos) -> None:
    for kind in ("PNG", "WEBP", "GIF"):
        kept = photos.pick(coded(scene((800, 500)), kind), f"{kind}.jpg")
        assert Image.open(io.BytesIO(kept["data"])).format == "JPEG", kind


def test_what_shows_through_is_white(photos: Photos) -> None:
    kept = photos.pick(coded(Image.new("RGBA", (400, 300), (0, 0, 0, 0)), "PNG"), "clear.png")
    assert kept["mean"] == 255


REFUSED = {
    "a page": (b"<!doctype html><p>no picture", "not_a_picture"),
    "a drawing": (b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>", "not_a_picture"),
    "a cut photo": (coded(scene((800, 500)))[:200], "not_a_picture"),
    "a start alone": (b"\xff\xd8\xff\xe0" + b"\0" * 500, "not_a_picture"),
    "nothing": (b"", "file_empty"),
}


def test_what_cannot_be_opened_is_refused_and_the_next_photo_is_taken(photos: Photos) -> None:
    told = {what: photos.pick(data, f"{what}.jpg") for what, (data, _) in REFUSED.items()}
    assert told == {what: why for what, (_, why) in REFUSED.items()}
    assert photos.pick(coded(scene((800, 500))), "next.jpg")["width"] == 800


def test_sharpness_falls_with_blur_and_agrees_with_the_server_on_the_kept_bytes(photos: Photos) -> None:
    told = []
    for radius in (0, 2, 6):
        kept = photos.pick(coded(scene((2560, 1920)).filter(ImageFilter.GaussianBlur(radius))), f"{radius}.jpg")
        opened = Image.open(io.BytesIO(kept["data"]))
        opened.draft("RGB", (640, 480))
        server = measure(np.asarray(opened.resize((640, 480), Image.Resampling.BOX).convert("L"))).sharpness
        assert 0.5 < kept["sharpness"] / server < 2
        told.append(kept["sharpness"])
    assert told == sorted(told, reverse=True) and told[0] > 3 * told[2]


def test_a_frame_gives_the_same_greys_drawn_and_by_its_own_pixels(photos: Photos) -> None:
    """Neither is counted twice: -1 would say that this browser has no way but the canvas."""
    photos.pick(coded(scene((1280, 960))))
    assert photos.page.evaluate("window.photos.frames('same', 1)") == 0


def camera_film(folder: Path, frames: int = 10) -> Path:
    """Frames one after another in one file, as Chromium's fake camera plays them."""
    film = folder / "camera.mjpeg"
    film.write_bytes(coded(scene((1280, 720)), quality=88, subsampling=2) * frames)
    return film


def test_a_frame_of_the_live_camera_is_kept(site: str, open_browser: OpenBrowser, tmp_path: Path) -> None:
    page = open_browser(camera=camera_film(tmp_path)).new_page()
    page.goto(site)
    assert page.evaluate("window.photos.frame()") == "no_frame"
    opened = page.evaluate("window.photos.camera()")
    assert (opened["width"], opened["height"]) == (1280, 720)
    kept = shot(page.evaluate("window.photos.frame()"))
    assert (kept["width"], kept["height"], kept["took"]) == (1280, 720, "live")
    assert kept["sha256"] == hashlib.sha256(kept["data"]).hexdigest()
    picture = np.asarray(Image.open(io.BytesIO(kept["data"])).convert("L").resize((128, 72))).ravel()
    expected = np.asarray(scene((1280, 720)).convert("L").resize((128, 72))).ravel()
    assert np.corrcoef(picture, expected)[0, 1] > 0.98  # the fake camera changes the range of its greys


def test_a_tablet_without_a_camera_says_so(photos: Photos) -> None:
    assert photos.page.evaluate("window.photos.camera()") == "none"


def test_a_camera_that_was_denied_says_so(site: str, open_browser: OpenBrowser) -> None:
    page = open_browser(flags=("--use-fake-device-for-media-stream", "--deny-permission-prompts")).new_page()
    page.goto(site)
    assert page.evaluate("window.photos.camera()") == "denied"
