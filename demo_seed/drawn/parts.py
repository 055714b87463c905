"""How each part looks. A shape draws itself on a canvas; `text` is what is printed on it, where anything is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from demo_seed.drawn.canvas import BLACK, BLUE, GLUE, HEIGHT, HOLE, RUBBER, STEEL, WHITE, WIDTH, Canvas

Shape = Callable[[Canvas, str], None]
MIDDLE = HEIGHT / 2


def tube(canvas: Canvas, text: str) -> None:
    """The insertion tube with its depth marks; `text` is the cm at the middle mark."""
    canvas.rod(0, WIDTH, BLACK, 130)
    middle = int(text) if text.isdigit() else canvas.chance.randrange(30, 90, 10)
    for index, cm in enumerate((middle - 10, middle, middle + 10)):
        x = 110 + index * 330
        canvas.box(x, MIDDLE - 130, x + 9, MIDDLE + 130, WHITE)
        if cm > 0:
            canvas.text(x + 20, MIDDLE - 60, str(cm), 74, WHITE)


def cord(canvas: Canvas, text: str) -> None:
    """The cord: thinner, grey, without marks, in a curve of the tray."""
    canvas.rod(0, WIDTH, (74, 80, 84), 92, MIDDLE - 20)


def bending(canvas: Canvas, text: str) -> None:
    """The bending section: soft rubber over vertebrae, between two glue bands."""
    canvas.rod(0, 90, STEEL, 140)
    canvas.rod(90, 150, GLUE, 144)
    canvas.rod(150, WIDTH, RUBBER, 140)
    for x in range(190, WIDTH, 52):
        canvas.draw.arc(canvas.at(x - 14, MIDDLE - 140, x + 14, MIDDLE + 140), 270, 90, fill=(30, 32, 34), width=7)
        canvas.draw.arc(canvas.at(x - 8, MIDDLE - 138, x + 20, MIDDLE + 138), 270, 90, fill=(62, 66, 68), width=4)


def band(canvas: Canvas, text: str) -> None:
    """The bead of glue over the thread that binds the rubber, beside the steel tip."""
    canvas.rod(0, 300, STEEL, 140)
    canvas.rod(300, 520, GLUE, 147)
    for x in range(312, 512, 14):
        canvas.draw.arc(canvas.at(x - 6, MIDDLE - 147, x + 6, MIDDLE + 147), 270, 90, fill=(48, 32, 28), width=3)
    canvas.rod(520, WIDTH, RUBBER, 138)
    for x in range(560, WIDTH, 52):
        canvas.draw.arc(canvas.at(x - 14, MIDDLE - 138, x + 14, MIDDLE + 138), 270, 90, fill=(30, 32, 34), width=6)


def tip(canvas: Canvas, text: str) -> None:
    """The end seen from the front: lens, two light guides, nozzle, channel outlet, water jet."""
    canvas.ball(480, 360, 300, (58, 62, 66), STEEL)
    lens(canvas, 440, 250, 92)
    for x, y in ((300, 360), (600, 230)):
        light(canvas, x, y, 52)
    outlet(canvas, 560, 470, 104)
    canvas.disc(385, 520, 34, (40, 43, 46), STEEL)
    canvas.disc(700, 380, 20, HOLE, STEEL)
    canvas.box(330, 190, 372, 262, (96, 102, 106), 12)
    canvas.box(352, 206, 378, 246, HOLE, 6)


def small_tip(canvas: Canvas, text: str) -> None:
    """The end of a thin scope: lens, two light guides, one outlet."""
    canvas.ball(480, 360, 270, (58, 62, 66), STEEL)
    lens(canvas, 420, 300, 100)
    light(canvas, 330, 480, 54)
    light(canvas, 610, 220, 54)
    outlet(canvas, 590, 440, 96)


def lens(canvas: Canvas, x: float, y: float, r: float) -> None:
    canvas.disc(x, y, r, (20, 26, 34), STEEL)
    canvas.ball(x, y, r * 0.8, BLUE)
    canvas.disc(x, y, r * 0.36, (12, 16, 24))
    canvas.glow(x - r * 0.3, y - r * 0.35, r * 0.4, (220, 236, 250), 0.8)


def light(canvas: Canvas, x: float, y: float, r: float) -> None:
    """A light guide: many fibre ends, each a bright dot."""
    canvas.disc(x, y, r, (206, 204, 190), STEEL)
    for _ in range(120):
        turn, away = canvas.chance.uniform(0, math.tau), canvas.chance.uniform(0, r * 0.86)
        shade = canvas.chance.randrange(214, 255)
        canvas.disc(x + math.cos(turn) * away, y + math.sin(turn) * away, 3, (shade, shade, shade - 14))


def outlet(canvas: Canvas, x: float, y: float, r: float) -> None:
    canvas.disc(x, y, r, (120, 126, 130), (150, 156, 160))
    canvas.disc(x, y, r * 0.84, HOLE)
    canvas.draw.arc(canvas.at(x - r * 0.7, y - r * 0.7, x + r * 0.7, y + r * 0.7), 20, 120, fill=(46, 50, 52), width=9)


def elevator(raised: bool) -> Shape:
    """The side-viewing end: a recess with the raiser in it, and its wire."""

    def draw(canvas: Canvas, text: str) -> None:
        canvas.rod(0, WIDTH, (60, 64, 68), 230)
        canvas.block(210, 230, 800, 500, (20, 22, 24), 60)
        lens(canvas, 300, 300, 48)
        light(canvas, 300, 430, 40)
        top = 262 if raised else 352
        canvas.shape(
            [(430, 470), (430, top + 60), (640, top), (716, top + 26), (730, 470)], (150, 158, 162), (96, 102, 106)
        )
        canvas.shape([(470, 440), (470, top + 82), (620, top + 34), (640, top + 52)], (110, 118, 122))
        canvas.line([(730, 450), (960, 456)], (176, 182, 186), 3)

    return draw


def seat(canvas: Canvas, text: str) -> None:
    """The seat of the cap: a groove round the side-viewing end."""
    elevator(False)(canvas, text)
    canvas.box(140, 130, 166, 590, (24, 26, 28))
    canvas.box(172, 130, 186, 590, (130, 136, 140))


def face(canvas: Canvas, text: str) -> None:
    """The ultrasound face: a grey window with a fine grid, bowed at the end."""
    canvas.rod(0, 720, (58, 62, 66), 190)
    canvas.draw.pieslice(canvas.at(520, 170, 900, 550), 270, 90, fill=(58, 62, 66))
    canvas.block(150, 220, 700, 430, (132, 128, 120), 70)
    for x in range(170, 690, 15):
        canvas.line([(x, 226), (x, 424)], (122, 118, 110), 1)


def groove(canvas: Canvas, text: str) -> None:
    """The groove that holds the balloon."""
    face(canvas, text)
    canvas.box(90, 168, 122, 552, (22, 24, 26), 4)
    canvas.box(126, 168, 136, 552, (120, 126, 130), 4)


def port(canvas: Canvas, text: str) -> None:
    """A port on the body, seen from above its mouth."""
    canvas.shape([(170, 720), (370, 250), (600, 250), (800, 720)], BLACK)
    canvas.shape([(300, 720), (420, 300), (480, 300), (470, 720)], (60, 64, 68))
    canvas.disc(485, 240, 160, (140, 148, 152), (90, 96, 100), 0.62)
    canvas.disc(485, 228, 132, (186, 194, 198), (120, 128, 132), 0.62)
    canvas.disc(485, 236, 86, HOLE, (84, 90, 94), 0.62)


def cylinder(canvas: Canvas, text: str) -> None:
    """A valve cylinder without its valve."""
    canvas.block(100, 120, 860, 640, BLACK, 90)
    canvas.disc(480, 360, 190, (150, 158, 162), (96, 102, 106))
    canvas.disc(480, 360, 150, (90, 97, 101))
    canvas.disc(480, 368, 118, (18, 19, 20))
    canvas.draw.arc(canvas.at(350, 230, 610, 490), 190, 280, fill=(222, 228, 230), width=10)


def body(canvas: Canvas, text: str) -> None:
    """The control body with its knobs and buttons."""
    canvas.block(70, 190, 900, 540, BLACK, 110)
    for x, r in ((650, 130), (650, 82)):
        canvas.ball(x, 365, r, (66, 71, 75), (104, 110, 114))
    for turn in range(0, 360, 45):
        x, y = 650 + math.cos(math.radians(turn)) * 118, 365 + math.sin(math.radians(turn)) * 118
        canvas.disc(x, y, 14, (52, 56, 60), (92, 98, 102))
    for x in (200, 330):
        canvas.ball(x, 300, 50, (84, 90, 94), STEEL)
    for index in range(3):
        canvas.box(180 + index * 86, 420, 240 + index * 86, 462, (92, 98, 104), 12)


def plug(canvas: Canvas, text: str) -> None:
    """A plug with its light post and pins."""
    canvas.block(60, 160, 620, 580, BLACK, 50)
    canvas.rod(620, 900, STEEL, 46, 270)
    canvas.disc(900, 270, 40, (236, 236, 226), STEEL)
    for index in range(4):
        canvas.rod(620, 740, (188, 168, 92), 11, 370 + index * 46)


def valves(canvas: Canvas, text: str) -> None:
    """The parts that come off, laid out on the tray."""
    for x, colour in ((220, (60, 110, 150)), (480, (150, 52, 52)), (740, (60, 64, 68))):
        canvas.rod(x - 26, x + 26, STEEL, 120, 430)
        canvas.ball(x, 280, 96, colour, (90, 96, 100))
        for y in (400, 480):
            canvas.box(x - 32, y, x + 32, y + 14, (28, 30, 32), 6)


def boot(canvas: Canvas, text: str) -> None:
    """A strain relief: rubber that narrows in steps to the tube."""
    canvas.rod(0, 300, BLACK, 210)
    for index in range(5):
        canvas.rod(300 + index * 62, 354 + index * 62, RUBBER, 190 - index * 18)
    canvas.rod(608, WIDTH, (48, 51, 54), 92)


def case(canvas: Canvas, text: str) -> None:
    """The closed transport case with its tag and the label that says what of it is not processed."""
    canvas.block(70, 120, 890, 620, (58, 66, 72), 40)
    canvas.box(70, 352, 890, 366, (30, 34, 38))
    for x in (250, 640):
        canvas.box(x, 320, x + 70, 400, STEEL, 10)
    canvas.box(420, 84, 540, 140, (40, 46, 52), 20)
    canvas.box(150, 430, 470, 580, (233, 112, 32), 8)
    canvas.text(172, 448, text or "CASE", 58, (12, 14, 16))
    canvas.text(172, 526, "INSIDE NOT PROCESSED", 22, (12, 14, 16))


def eyepiece(canvas: Canvas, text: str) -> None:
    """The picture through a fibre bundle: a round honeycomb."""
    canvas.box(0, 0, WIDTH, HEIGHT, (10, 11, 12))
    canvas.ball(480, 360, 300, (176, 120, 110))
    pen = canvas.draw
    for y in range(66, 660, 12):
        for x in range(186 + (y // 12 % 2) * 6, 780, 12):
            if (x - 480) ** 2 + (y - 360) ** 2 < 290**2:
                pen.point(canvas.at(x, y), fill=(120, 78, 70))


def channel(canvas: Canvas, text: str) -> None:
    """Inside a channel by borescope: rings that fade into the dark."""
    canvas.box(0, 0, WIDTH, HEIGHT, (6, 6, 7))
    x, y = 480.0, 360.0
    for step in range(26):
        r = 340 * 0.87**step
        bright = 0.35 + 0.65 * math.exp(-(((step - 3) / 5) ** 2))
        shade = tuple(round(each * bright * max(0.04, 1 - step / 20)) for each in (216, 204, 186))
        canvas.disc(x, y, r, (shade[0], shade[1], shade[2]))
        x, y = x + 3, y - 1.5
    canvas.draw.arc(canvas.at(210, 90, 750, 630), 200, 300, fill=(244, 240, 230), width=10)


def _all(shape: Shape, names: Sequence[str]) -> dict[str, Shape]:
    return dict.fromkeys(names, shape)


TUBES = ("tube_1", "tube_2", "tube_3", "tube_half_1", "tube_half_2", "insertion_tube", "bite_zone", "tube_rest")
ENDS = ("distal_tip", "end_cover", "lens", "light_guides", "nozzle", "channel_outlet", "channel_outlet_2", "jet_outlet")
PORTS = ("biopsy_port", "biopsy_port_2", "jet_port", "wire_port", "balloon_port", "irrigation_port", "leak_vent")
BODIES = ("control_body", "knobs", "switches", "stiffness_ring", "lever", "elevator_lever", "handle")
PLUGS = ("light_guide_plug", "contacts", "suction_bottle_ports", "ultrasound_plug", "light_post", "system_plug")
SHAPES: dict[str, Shape] = {
    **_all(tube, TUBES), **_all(tip, ENDS), **_all(port, PORTS), **_all(body, BODIES), **_all(plug, PLUGS),
    **_all(cord, ("universal_cord", "cable")), **_all(boot, ("boot_tube", "boot_cord")),
    **_all(cylinder, ("air_water_cylinder", "suction_cylinder")),
    "band_tip": band, "band_tube": band, "bending_cover": bending, "distal_tip_side": elevator(False), "cap_seat": seat,
    "elevator_raised": elevator(True), "elevator_lowered": elevator(False), "transducer": face,
    "balloon_groove": groove, "valves": valves, "eyepiece": eyepiece, "case": case,
}  # fmt: skip
"""Part of the catalogue -> how it looks. What is not named here, a channel, is seen by borescope."""
SMALL = frozenset({"distal_tip", "lens", "light_guides", "channel_outlet"})
"""Parts of a thin scope that look different from those of a wide one."""


def shape_of(part: str, thin: bool) -> Shape:
    return small_tip if thin and part in SMALL else SHAPES.get(part, channel)
