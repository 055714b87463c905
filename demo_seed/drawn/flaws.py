"""How a finding looks, and where on the photo it lies: its middle and how far it reaches, for the ring round it."""

from __future__ import annotations

import math
from collections.abc import Callable

from demo_seed.drawn.canvas import HOLE, Canvas, Colour

Place = tuple[float, float, float]
"""x, y and reach in pixels of the photo."""
Flaw = Callable[[Canvas, float, float, float], None]

AT: dict[str, Place] = {
    "lens": (440, 250, 90), "distal_tip": (560, 470, 110), "channel_outlet": (560, 470, 110), "nozzle": (350,
    226, 60), "light_guides": (300, 360, 60), "jet_outlet": (700, 380, 34), "band_tip": (410, 330, 90),
    "band_tube": (410, 330, 90), "bending_cover": (500, 330, 110), "biopsy_port": (500, 250, 130),
    "irrigation_port": (500, 250, 130), "wire_port": (500, 250, 130), "air_water_cylinder": (520, 400, 120),
    "suction_cylinder": (520, 400, 120), "elevator_raised": (560, 380, 120), "elevator_lowered": (560, 410,
    120), "cap_seat": (170, 360, 90), "transducer": (430, 325, 110), "balloon_groove": (112, 350, 80),
    "light_guide_plug": (690, 420, 90), "contacts": (690, 440, 90), "ultrasound_plug": (690, 440, 90),
    "control_body": (420, 430, 110), "knobs": (650, 365, 130), "valves": (480, 440, 100), "universal_cord":
    (480, 340, 110), "boot_tube": (420, 330, 90), "eyepiece": (520, 330, 110), "handle": (420, 430, 110),
}  # fmt: skip
"""Where a flaw of a part lies; of every other part just beside the middle."""
ELSEWHERE: Place = (500, 350, 100)


def place_of(part: str) -> Place:
    return AT.get(part, ELSEWHERE)


def _turn(angle: float, x: float, y: float, r: float) -> tuple[float, float]:
    return x + math.cos(angle) * r, y + math.sin(angle) * r


def chip(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A piece of glue gone: pale, sharp-edged, the thread shows in it."""
    points = [_turn(each * math.tau / 8, x, y, r * canvas.chance.uniform(0.42, 0.8)) for each in range(8)]
    canvas.shape(points, (206, 186, 148), (30, 20, 16))
    for step in (-0.25, 0, 0.25):
        canvas.line([(x - r * 0.35, y + r * step), (x + r * 0.35, y + r * step + 4)], (150, 126, 92), 2)


def crack(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A fine broken line with a branch, and light along one edge."""
    points = [(x - r + 2 * r * each / 9, y + canvas.chance.uniform(-0.22, 0.22) * r) for each in range(10)]
    canvas.line([(a + 2, b + 3) for a, b in points], (214, 220, 224), 1)
    canvas.line(points, (8, 8, 9), 2.4)
    canvas.line([points[5], _turn(1.0, *points[5], r * 0.6)], (8, 8, 9), 1.8)


def scratch(canvas: Canvas, x: float, y: float, r: float) -> None:
    for lift in (0, 9, 15):
        canvas.line([(x - r, y - r * 0.4 + lift), (x + r * 0.9, y + r * 0.35 + lift)], (176, 182, 184), 1.6)


def peel(canvas: Canvas, x: float, y: float, r: float) -> None:
    """The coat lifts: bare grey below, a curled pale edge."""
    points = [_turn(each * math.tau / 9, x, y, r * canvas.chance.uniform(0.6, 0.95)) for each in range(9)]
    canvas.shape(points, (112, 104, 90))
    canvas.line([*points[4:], points[0]], (206, 202, 192), 4)
    for step in range(-3, 4):
        canvas.line([(x + step * r * 0.2, y - r * 0.4), (x + step * r * 0.2 + 8, y + r * 0.4)], (138, 130, 116), 1.5)


def tear(canvas: Canvas, x: float, y: float, r: float) -> None:
    """Rubber cut open: two lips and the dark of the inside."""
    canvas.shape([(x - r, y), (x - r * 0.2, y - r * 0.26), (x + r, y + r * 0.1), (x, y + r * 0.3)], HOLE)
    canvas.line([(x - r, y), (x - r * 0.2, y - r * 0.26), (x + r, y + r * 0.1)], (118, 122, 124), 4)
    canvas.line([(x - r, y), (x, y + r * 0.3), (x + r, y + r * 0.1)], (82, 86, 88), 3)


def hole(canvas: Canvas, x: float, y: float, r: float) -> None:
    canvas.disc(x, y, r * 0.16, HOLE, (120, 124, 126))


def lumps(colours: tuple[Colour, ...], many: int, least: float, most: float) -> Flaw:
    """Small lumps thrown together: soil, debris, coloured particles."""

    def draw(canvas: Canvas, x: float, y: float, r: float) -> None:
        for _ in range(many):
            px, py = _turn(canvas.chance.uniform(0, math.tau), x, y, r * math.sqrt(canvas.chance.uniform(0, 0.7)))
            size = canvas.chance.uniform(least, most)
            colour = canvas.chance.choice(colours)
            canvas.disc(px, py, size, colour, None, canvas.chance.uniform(0.6, 1))
            canvas.disc(px - size * 0.3, py - size * 0.3, size * 0.3, tuple(min(255, c + 50) for c in colour))  # type: ignore[arg-type]

    return draw


def drops(canvas: Canvas, x: float, y: float, r: float) -> None:
    """Clear droplets: a bright point above, a bright edge below, what lies under them shows through."""
    for _ in range(9):
        px, py = _turn(canvas.chance.uniform(0, math.tau), x, y, r * math.sqrt(canvas.chance.uniform(0, 0.9)))
        size = canvas.chance.uniform(7, 20)
        canvas.glow(px, py, size, (210, 222, 230), 0.5)
        canvas.draw.arc(canvas.at(px - size, py - size, px + size, py + size), 20, 160, fill=(226, 236, 242), width=4)
        canvas.disc(px - size * 0.35, py - size * 0.4, size * 0.2, (250, 252, 255))


def film(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A whitish film with crystals at its edge."""
    canvas.glow(x, y, r * 1.1, (232, 236, 238), 0.8)
    for _ in range(30):
        px, py = _turn(canvas.chance.uniform(0, math.tau), x, y, r * canvas.chance.uniform(0.5, 0.9))
        canvas.disc(px, py, 3, (250, 250, 250))


def stain(canvas: Canvas, x: float, y: float, r: float) -> None:
    canvas.glow(x, y, r, (142, 100, 46), 0.85)
    canvas.glow(x + r * 0.3, y + r * 0.1, r * 0.6, (116, 76, 34), 0.7)


def lint(canvas: Canvas, x: float, y: float, r: float) -> None:
    """One fibre, curled."""
    points = [(x - r + 2 * r * each / 24, y + math.sin(each / 3.4) * r * 0.4) for each in range(25)]
    canvas.line(points, (226, 226, 232), 2)


def wire(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A frayed wire: strands that stand off."""
    for each in range(6):
        canvas.line([(x + r, y + 60), _turn(2.6 + each * 0.22, x + r, y + 60, r * 0.9)], (206, 210, 212), 1.8)


def bite(canvas: Canvas, x: float, y: float, r: float) -> None:
    """Two rows of small dents."""
    for each in range(5):
        for side in (-0.4, 0.4):
            px, py = x + (each - 2) * r * 0.36, y + side * r + abs(each - 2) * 8 * (1 if side < 0 else -1)
            canvas.disc(px, py, 12, (12, 13, 14), (96, 102, 104), 0.7)


def kink(canvas: Canvas, x: float, y: float, r: float) -> None:
    """The tube folded: a dark crease across, light beside it."""
    canvas.line([(x - 8, y - r * 1.1), (x + 6, y), (x - 8, y + r * 1.1)], (4, 4, 5), 8)
    canvas.line([(x + 8, y - r * 1.05), (x + 22, y), (x + 8, y + r * 1.05)], (130, 136, 140), 4)


def pin(canvas: Canvas, x: float, y: float, r: float) -> None:
    """One pin bent out of its row."""
    canvas.line([(620, 416), (680, 416), (736, 452)], (206, 186, 110), 11)


def gap(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A part that no longer sits flush: a dark line under its rim."""
    canvas.draw.arc(canvas.at(x - r * 1.35, y - r * 0.7, x + r * 1.2, y + r * 0.95), 10, 150, fill=HOLE, width=16)


def dots(canvas: Canvas, x: float, y: float, r: float) -> None:
    """Broken fibres: black points in the picture."""
    for _ in range(22):
        px, py = _turn(canvas.chance.uniform(0, math.tau), x, y, r * 2 * math.sqrt(canvas.chance.uniform(0, 1)))
        canvas.disc(px, py, 4, (4, 4, 4))


def worn(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A depth mark rubbed off."""
    canvas.glow(440, 360, 130, (52, 56, 58), 0.95)


BROWN: tuple[Colour, ...] = ((104, 70, 36), (132, 96, 52), (86, 54, 30))
FLAWS: dict[str, Flaw] = {
    "band_chip": chip, "band_lift": chip, "crack": crack, "lens_crack": crack, "lens_scratch": crack, "scratch":
    scratch, "peeling_coat": peel, "scratch_with_peel": peel, "cut": tear, "hole": hole, "debris": lumps(BROWN,
    22, 5, 15), "soil": lumps(BROWN, 14, 8, 24), "particles": lumps(((178, 36, 40), (196, 60, 52)), 16, 3, 7),
    "droplets": drops, "clear_fluid": drops, "film": film, "cloudy_lens": film, "stain_fixed": stain,
    "stain_wipes_off": stain, "lint": lint, "bristle": lint, "wire_frayed": wire, "bite_mark": bite, "kink":
    kink, "crush": kink, "buckle": kink, "bent_pin": pin, "loose_port": gap, "loose_part": gap, "seam_gap": gap,
    "black_dots": dots, "worn_marks": worn, "corrosion": stain, "bubbles": drops,
}  # fmt: skip
