"""What can be measured of a screen as it stands: targets and gaps, text that is cut, small or overlaid, and axe.

Sizes are CSS px. The floors are the look's own: targets 64 by 64, 12 apart, names under parts 13, and stricter than
the standard: WCAG 2.2 asks for targets of 24 (2.5.8, AA) and 44 (2.5.5, AAA), and names no size of type.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import axe_playwright_python
from browser.conftest import settled
from playwright.sync_api import Page

Size = dict[str, int]
LANDSCAPE: Size = {"width": 1180, "height": 820}
PORTRAIT: Size = {"width": 820, "height": 1180}
PHONE: Size = {"width": 390, "height": 844}

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
EYES = (Path(__file__).parent / "eyes.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
"""The tags of axe-core's rules that are run: WCAG 2.2 A and AA, and what axe itself recommends."""


def measured(page: Page) -> list[str]:
    """What is wrong with the screen that stands, each in one line; nothing = an empty list."""
    return list(page.evaluate(f"() => {{ {EYES} return look(); }}"))


def judged(page: Page, what: Literal["all", "colours", "no_colours"] = "all") -> list[str]:
    """What axe-core finds, of every weight. Colours do not turn with the screen, and all else is the same in each
    theme: so each is asked once where that saves time."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options: dict[str, Any] = {"runOnly": {"type": "tag", "values": RULES}}
    if what == "colours":
        options["runOnly"] = {"type": "rule", "values": ["color-contrast"]}
    if what == "no_colours":
        options["rules"] = {"color-contrast": {"enabled": False}}
    found = page.evaluate("(options) => window.axe.run({ ...options, resultTypes: ['violations'] })", options)
    return [
        f"axe {rule['id']} ({rule['impact']}): {node['html'][:140]}"
        for rule in found["violations"]
        for node in rule["nodes"]
    ]


@dataclass
class Eyes:
    """Looks at each screen it is shown in every form of it, keeps the pictures, and gathers what is wrong."""

    folder: Path
    found: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)

    def at(self, page: Page, name: str, sizes: tuple[str, ...] = ("landscape", "portrait")) -> None:
        """One screen as it stands: both themes, each way round; the page is left as it was found."""
        settled(page)
        was = page.viewport_size
        theme = page.evaluate("document.documentElement.dataset.theme ?? 'bench'")
        self.seen.append(name)
        for turned in sizes:
            page.set_viewport_size({"landscape": LANDSCAPE, "portrait": PORTRAIT, "phone": PHONE}[turned])  # type: ignore[arg-type]
            settled(page)
            for light in ("bench", "room"):
                page.evaluate("(light) => { document.documentElement.dataset.theme = light; }", light)
                page.screenshot(path=self.folder / f"{name}-{turned}-{light}.png", scale="css")
                told = measured(page) if light == "bench" else []
                if turned == "landscape":
                    told += judged(page, "all" if light == "bench" else "colours")
                elif light == "bench":
                    told += judged(page, "no_colours")
                self.found += [f"{name} {turned} {light}: {line}" for line in told]
        page.evaluate("(light) => { document.documentElement.dataset.theme = light; }", theme)
        if was is not None:
            page.set_viewport_size(was)
