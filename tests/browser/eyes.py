"""What can be measured of a screen as it stands: targets and gaps, text that is cut, small or overlaid, and axe.

Sizes are CSS px. The floors are the look's own: targets 64 by 64, 12 apart, names under parts 13, and stricter than
the standard: WCAG 2.2 asks for targets of 24 (2.5.8, AA) and 44 (2.5.5, AAA), and names no size of type.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import axe_playwright_python
from browser.conftest import settled
from playwright.sync_api import Locator, Page

Size = dict[str, int]
LONG_SHOT_MS = 300_000
"""On a busy machine a picture may take minutes; whoever asked for pictures waits for it."""

PICTURES = "LOUPEBOOK_PICTURES" in os.environ
"""Whether the pictures for people are kept: `run.py --pictures`, and in the long form. Each costs a tenth of a second
of a core."""

LANDSCAPE: Size = {"width": 1180, "height": 820}
PORTRAIT: Size = {"width": 820, "height": 1180}
PHONE: Size = {"width": 390, "height": 844}

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
EYES = (Path(__file__).parent / "eyes.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
"""The tags of axe-core's rules that are run: WCAG 2.2 A and AA, and what axe itself recommends."""


TWO_FRAMES = """() => new Promise((done) =>
  document.hidden ? done() : requestAnimationFrame(() => requestAnimationFrame(done)))"""


def keep_picture(shown: Page | Locator, path: Path | str, **given: Any) -> None:
    """Keeps a picture of what is shown, for people; where none are asked for it waits for its two frames alone."""
    if PICTURES:
        shown.screenshot(path=path, timeout=LONG_SHOT_MS, **given)
        return
    page = shown if isinstance(shown, Page) else shown.page
    page.evaluate(TWO_FRAMES)


def measured(page: Page) -> list[str]:
    """What is wrong with the screen that stands, each in one line; nothing = an empty list."""
    return list(page.evaluate(f"() => {{ {EYES} return look(); }}"))


BELOW = """() => {
  const seen = (node) => node.getClientRects().length > 0 && node.closest('[inert]') === null;
  const act = [...document.querySelectorAll('.hand .btn.best, .hand .btn.main')]
    .filter((node) => seen(node) && node.closest('.pad') === null).at(-1);
  const end = act?.getBoundingClientRect().bottom ?? Infinity;
  return [...document.querySelectorAll('main button, main input, .hand button, .hand input')]
    .filter((node) => seen(node) && node.getBoundingClientRect().top >= end).map((node) => node.textContent.trim());
}"""
"""Where one hand holds a phone, the main act is where the thumb is: nothing that can be pressed stands below it. Below
the keys of a PIN stand the ways round it; at the desk nobody holds a phone."""


TURNED = ["target-size", "scrollable-region-focusable", "meta-viewport", "color-contrast"]
"""The rules whose answer may change with the shape of the screen; all others read the page, which stays the same."""

DRAWN = "[...document.querySelectorAll('[data-screen]')].map((at) => at.dataset.screen)"
STATES = """() => [...document.querySelectorAll('.btn, .row, .cell, .corner, [role=radio]')].filter((node) => {
  const style = getComputedStyle(node);
  return node.getClientRects().length > 0 && style.color === style.backgroundColor;
}).map((node) => node.textContent.trim())"""


def judged(page: Page, what: Literal["all", "colours", "turned"] = "all") -> list[str]:
    """What axe-core finds, of every weight: all of it once, then what may differ in the other theme or the other way
    round."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options: dict[str, Any] = {"runOnly": {"type": "tag", "values": RULES}}
    if what != "all":
        names = TURNED if what == "turned" else ["color-contrast"]
        options["runOnly"] = {"type": "rule", "values": names}
    found = page.evaluate("(options) => window.axe.run({ ...options, resultTypes: ['violations'] })", options)
    return [
        f"axe {rule['id']} ({rule['impact']}): {node['html'][:140]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


@dataclass
class Eyes:
    """Looks at each screen it is shown in every form of it, keeps the pictures, and gathers what is wrong.

    `drawn` are the files whose frame was seen (`data-screen`); `pieces` are names and selectors of what has no frame
    of its own, and `met` those of them that were seen; `words` is what each screen said, `people` who stood in the
    corner of its bar. `long` adds the forms that cost most: a phone, 200 %, the left hand, forced colours, and in
    portrait the room's colours and axe's own look; that targets are large enough and no text is cut is asked there
    always.
    """

    folder: Path
    pieces: dict[str, str] = field(default_factory=dict)
    long: bool = False
    narrow: int = 320
    found: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)
    drawn: set[str] = field(default_factory=set)
    met: set[str] = field(default_factory=set)
    words: dict[str, str] = field(default_factory=dict)
    people: dict[str, str] = field(default_factory=dict)

    def at(self, page: Page, name: str, sizes: tuple[str, ...] = ("landscape", "portrait")) -> None:
        """One screen as it stands, in each of its forms; the page is left as it was found. With `phone` among the
        sizes the narrow form is a phone's."""
        settled(page)
        was = page.viewport_size
        theme = page.evaluate("document.documentElement.dataset.theme ?? 'bench'")
        assert name not in self.seen, f"{name} was looked at twice"
        self.seen.append(name)
        self.drawn |= set(page.evaluate(DRAWN))
        self.words[name] = page.locator("body").inner_text()
        self.people[name] = " ".join(page.locator(".people > button.corner").all_inner_texts())
        self.met |= {each for each, where in self.pieces.items() if page.locator(where).count() > 0}
        for turned, size in (("landscape", LANDSCAPE), ("portrait", PORTRAIT)):
            self._turn(page, size)
            for light in ("bench", "room"):
                if (turned, light) == ("portrait", "room") and not self.long:
                    continue  # each of the two was seen by itself; the long form has them together
                page.evaluate("(light) => { document.documentElement.dataset.theme = light; }", light)
                self._shot(page, f"{name}-{turned}-{light}.png")
                bench = light == "bench"
                told = measured(page) if bench else []
                if turned == "landscape":
                    told += judged(page, "all" if bench else "colours")
                elif self.long:
                    told += judged(page, "turned" if bench else "colours")
                self._tell(f"{name} {turned} {light}", told)
        page.evaluate("(light) => { document.documentElement.dataset.theme = light; }", theme)
        self._narrow(page, name, PHONE if "phone" in sizes else {"width": self.narrow, "height": 844})
        if self.long:
            self._other_forms(page, name)
        if was is not None:
            self._turn(page, was)

    def in_one_hand(self, page: Page, name: str) -> None:
        """One screen of who walks with a phone, in that form alone."""
        settled(page)
        was = page.viewport_size
        assert name not in self.seen, f"{name} was looked at twice"
        self.seen.append(name)
        self._narrow(page, name, PHONE)
        if was is not None:
            self._turn(page, was)

    def _shot(self, page: Page, name: str, full_page: bool = False) -> None:
        """The picture that is kept, where any is."""
        if PICTURES:
            keep_picture(page, self.folder / name, scale="css", full_page=full_page)

    def _turn(self, page: Page, size: Any) -> None:
        page.set_viewport_size(size)
        page.evaluate(TWO_FRAMES)
        settled(page)

    def _tell(self, where: str, told: list[str]) -> None:
        self.found += [f"{where}: {line}" for line in told]

    def _narrow(self, page: Page, name: str, size: Size) -> None:
        """One column, nothing beside the screen's edge; the hand may scroll there."""
        self._turn(page, size)
        self._shot(page, f"{name}-{size['width']}.png", full_page=True)
        told = [line for line in measured(page) if "the hand scrolls" not in line]
        if self.narrow == PHONE["width"] and "#/desk" not in page.url:
            told += [f"below the main act: {each}" for each in page.evaluate(BELOW)]
        self._tell(f"{name} {size['width']}", told)

    def _other_forms(self, page: Page, name: str) -> None:
        """A phone, a tablet at 200 %, the hand on the left, and a system's own colours."""
        self._narrow(page, name, PHONE if self.narrow != PHONE["width"] else {"width": 320, "height": 844})
        self._narrow(page, name, {"width": LANDSCAPE["width"] // 2, "height": LANDSCAPE["height"] // 2})
        self._turn(page, LANDSCAPE)
        hand = "(side) => document.querySelector('.app:not([hidden] *)')?.setAttribute('data-hand', side)"
        before = page.evaluate("document.querySelector('.app:not([hidden] *)')?.dataset.hand ?? 'right'")
        page.evaluate(hand, "left")
        self._tell(f"{name} left", measured(page))
        self._shot(page, f"{name}-left.png")
        page.evaluate(hand, before)
        page.emulate_media(forced_colors="active")
        self._shot(page, f"{name}-forced.png")
        self._tell(f"{name} forced colours", [f"not told from its ground: {each}" for each in page.evaluate(STATES)])
        page.emulate_media(forced_colors="none")


def drawn_by(root: Path, folder: str) -> set[str]:
    """The files of a folder of the screens that draw a frame, as `data-screen` names them."""
    return {
        f"{folder}/{path.stem}"
        for path in (root / "frontend" / "src" / folder).glob("*.svelte")
        if re.search(r"<(Frame|Shell)\b(?! \{screen\})", path.read_text("utf-8"))
    }


def frameless(root: Path, folder: str) -> set[str]:
    """The other files: what they draw stands on somebody else's screen."""
    every = {f"{folder}/{path.stem}" for path in (root / "frontend" / "src" / folder).glob("*.svelte")}
    return every - drawn_by(root, folder)
