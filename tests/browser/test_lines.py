"""The line of every kind of scope, drawn from the catalogue alone, in both orientations; each is kept as a picture."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser.bundle import bundle
from browser.conftest import OpenBrowser, settled
from browser.eyes import keep_picture
from browser.gallery_server import CONFIG, GalleryServer

pytestmark = pytest.mark.breadth

SIZES = {"landscape": {"width": 1180, "height": 820}, "portrait": {"width": 820, "height": 1180}}
ROOT = Path(__file__).resolve().parents[2]
KINDS: dict[str, Any] = json.loads((ROOT / "shared/catalogue/catalogue.json").read_text("utf-8"))["kinds"]

SEEN = """() => [...document.querySelectorAll('.scope-line')].map((line) => {
  const cells = [...line.querySelectorAll('.cell')];
  const drawing = line.querySelector('.drawing').getBoundingClientRect();
  const cut = cells.filter((cell) => {
    const name = cell.querySelector('span');
    return name.scrollHeight > name.clientHeight + 1 || name.scrollWidth > cell.clientWidth + 1;
  });
  return {
    cells: cells.length, cut: cut.map((cell) => cell.textContent.trim()),
    inside: drawing.left >= 0 && drawing.right <= innerWidth, paths: line.querySelectorAll('svg path').length,
  };
})"""


@pytest.fixture(scope="module")
def gallery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[GalleryServer]:
    """The gallery, built once."""
    folder = tmp_path_factory.mktemp("gallery")
    bundle(CONFIG, folder)
    server = GalleryServer(folder)
    yield server
    server.close()


@pytest.mark.parametrize("turned", SIZES)
def test_every_kind_is_drawn_whole_with_every_name_readable(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path, turned: str
) -> None:
    """A cell for each part of the catalogue, none wider than the screen, no name cut off under its part."""
    page = open_browser(viewport=SIZES[turned]).pages[0]
    wrong: list[str] = []
    for name, kind in KINDS.items():
        page.goto(gallery.page("kind", kind=name))
        settled(page)
        keep_picture(page, screens / f"line-{name}-{turned}.png")
        lines = page.evaluate(SEEN)
        assert len(lines) == (5 if kind["channels"] else 4)
        for line, told in zip(lines[1:], [*["parts"] * 3, "channels"], strict=False):
            if line["cells"] != len(kind[told]):
                wrong.append(f"{name}: {line['cells']} cells for {len(kind[told])} {told}")
        wrong += [f"{name}: cut: {text}" for line in lines for text in line["cut"]]
        wrong += [f"{name}: wider than the screen" for line in lines if not line["inside"]]
    assert wrong == []
