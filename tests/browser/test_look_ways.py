"""The ways round a screen: left hand, phone, 320 px, wide spacing, other colours, keys alone, the reader's test.

320 px are 1280 px at 400 % (WCAG 2.2 1.4.10); the spacing is that of 1.4.12; what has the focus is seen (2.4.7, and the
look's own 3 px).
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from urllib.parse import quote

import pytest
import zxingcpp
from browser.conftest import settled
from browser.eyes import LANDSCAPE, keep_picture, measured
from browser.plates import SIZE, film, held, printed, zint_code
from browser.sink import PORTRAIT, Hands, Sink, begun_at
from browser.sink_desk import hear
from browser.sink_house import C_11, C_14, PLACE
from PIL import Image
from playwright.sync_api import Page, expect
from sink_tablet import SinkTablet

pytestmark = [pytest.mark.sink, pytest.mark.breadth]

SPACED = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync('* { line-height: 1.5 !important; letter-spacing: 0.12em !important; }'
    + ' * { word-spacing: 0.16em !important; } p { margin-block-end: 2em !important; }');
  document.adoptedStyleSheets = [sheet];
}"""
FOCUS = """() => {
  const at = document.activeElement;
  const style = getComputedStyle(at);
  const box = at.getBoundingClientRect();
  const zone = at.closest('header, nav, main, .hand');
  return {
    name: (at.getAttribute('aria-label') ?? at.labels?.[0]?.textContent ?? at.textContent ?? '')
      .trim().replace(/\\s+/g, ' ').slice(0, 80),
    tag: at.tagName, zone: zone === null ? '' : zone.matches('.hand') ? 'hand' : zone.tagName.toLowerCase(),
    seen: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 3,
    inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
  };
}"""
TEST_TEXT = "015102222223333610Zy-Aq_7\x1d21LB/wM5"
SCROLLS = "the hand scrolls"
"""On a phone, and with wider spacing, the hand may scroll; nothing else changes."""


def way(hands: Hands, hash_: str) -> Page:
    hands.page.evaluate("(hash) => { location.hash = hash; }", hash_)
    settled(hands.page)
    return hands.page


def ways(begun: str, scope: str) -> dict[str, str]:
    """The screens an inspection in hand can stand on, by address."""
    return {
        "home": "#/home", "type": "#/type", "route": f"#/route?begun={begun}",
        "finding": f"#/finding?begun={begun}&part=tube_2",
        "conclude": f"#/conclude?begun={begun}", "leak": f"#/leak?begun={begun}", "hold": f"#/hold?scope={scope}",
        "kept": "#/kept", "person": "#/person", "help": "#/help", "reader": "#/reader",
        "register": "#/register?text=K990012345",
    }  # fmt: skip


@pytest.fixture(scope="module")
def tablet(shared_sink: Sink) -> Hands:
    """A tablet with one inspection begun."""
    hands = shared_sink.tablet("Sink 3", reduced_motion="no-preference")
    begun_at(hands, C_14, "After cleaning", then="Distal tip")
    return hands


@pytest.fixture
def places(tablet: Hands) -> dict[str, str]:
    begun = next(row for row in tablet.stored("entries") if row["kind"] == "inspection.begun")
    return ways(str(begun["hash"]), C_14.key)


MORNING = """() => {
  const row = document.querySelector('.hand .row');
  for (let n = 0; n < 12; n += 1) row.after(row.cloneNode(true));
}"""
"""As many rows as wait on a busy morning."""


def test_the_scan_stays_in_view_however_much_waits(sink: Sink, tablet: Hands) -> None:
    page = way(tablet, "#/home")
    page.evaluate(MORNING)
    try:
        for size in (PORTRAIT, LANDSCAPE):
            page.set_viewport_size(size)  # type: ignore[arg-type]
            main = page.locator("main .seen").bounding_box()
            assert main is not None
            for what in (page.get_by_role("heading", name="Scan a scope to begin"), page.get_by_text("Scanner ready")):
                box = what.bounding_box()
                assert box is not None
                assert main["y"] <= box["y"] and box["y"] + box["height"] <= main["y"] + main["height"]
            assert page.locator(".hand").evaluate("(hand) => hand.scrollHeight > hand.clientHeight"), "the rows scroll"
    finally:
        page.set_viewport_size(LANDSCAPE)  # type: ignore[arg-type]
        way(tablet, "#/person")


def test_a_left_hand_finds_its_answers_on_the_left_and_all_else_holds(
    sink: Sink, tablet: Hands, places: dict[str, str], screens: object
) -> None:
    way(tablet, "#/person")
    tablet.tap("Left", "main")
    found = []
    try:
        for name, place in places.items():
            page = way(tablet, place)
            box = page.locator(".hand").bounding_box()
            assert box is not None and box["x"] == 0, name
            found += [f"{name}: {line}" for line in measured(page)]
    finally:
        way(tablet, "#/person")
        tablet.tap("Right", "main")
    assert found == [], "\n".join(found)


@pytest.mark.parametrize("width", [390, 320])
def test_a_phone_and_four_hundred_per_cent_need_no_sideways_scroll(
    sink: Sink, tablet: Hands, places: dict[str, str], screens: object, width: int
) -> None:
    page = tablet.page
    page.set_viewport_size({"width": width, "height": 844})
    found = []
    try:
        for name, place in places.items():
            way(tablet, place)
            keep_picture(page, f"{screens}/walk/{name}-{width}.png", full_page=True)
            found += [f"{name}: {line}" for line in measured(page) if SCROLLS not in line]
    finally:
        page.set_viewport_size(LANDSCAPE)  # type: ignore[arg-type]
    assert found == [], "\n".join(found)


def test_wider_spacing_cuts_and_covers_nothing(sink: Sink, tablet: Hands, places: dict[str, str]) -> None:
    found = []
    for name, place in places.items():
        page = way(tablet, place)
        page.evaluate(SPACED)
        found += [f"{name}: {line}" for line in measured(page) if SCROLLS not in line and "too near" not in line]
        page.evaluate("() => { document.adoptedStyleSheets = []; }")
    assert found == [], "\n".join(found)


def test_other_colours_and_less_motion_are_followed(
    sink: Sink, tablet: Hands, places: dict[str, str], screens: object
) -> None:
    page = way(tablet, places["route"])
    token = "(name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim()"
    assert page.evaluate(token, "--quick") in ("160ms", ".16s")
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate(token, "--quick") in ("0ms", "0s")
    page.emulate_media(contrast="more")
    assert page.evaluate(token, "--edge") == page.evaluate(token, "--ink")
    assert page.evaluate(token, "--seen-wash") == page.evaluate(token, "--control")
    keep_picture(page, f"{screens}/walk/route-contrast.png")
    page.emulate_media(contrast="no-preference", forced_colors="active")
    for name in ("route", "conclude", "home"):
        way(tablet, places[name])
        keep_picture(page, f"{screens}/walk/{name}-forced-colours.png")
        without = page.evaluate("""() => [...document.querySelectorAll('.btn, .row, .cell, .corner')].filter((node) => {
          const style = getComputedStyle(node);
          return node.getClientRects().length > 0 && style.color === style.backgroundColor;
        }).length""")
        assert without == 0, name
    page.emulate_media(forced_colors="none", reduced_motion="no-preference")


def tab_to(page: Page, name: re.Pattern[str], within: str = "") -> list[str]:
    """Tab until what has the focus is called so; the zones that were passed. What has the focus is always seen."""
    zones: list[str] = []
    passed: list[str] = []
    for _ in range(90):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUS)
        if at["tag"] == "BODY":
            continue
        assert at["seen"] and at["inside"], f"the focus is not seen: {at}"
        passed.append(f"{at['zone']}: {at['name']}")
        if not zones or zones[-1] != at["zone"]:
            zones.append(at["zone"])
        if name.search(at["name"]) and at["zone"] == (within or at["zone"]):
            return zones
    raise AssertionError(f"no way by Tab to {name.pattern}; passed {passed}")


NAMELESS = re.compile(r"- (?:button|radio|textbox|link|checkbox|combobox|slider|img)\s*$", re.M)
"""A control, or a picture, that a screen reader has no name for, in an accessibility tree as text."""


def keyed(hands: Hands, name: str, within: str = "") -> None:
    """Reached by Tab and pressed by Enter."""
    tab_to(hands.page, re.compile(name), within)
    hands.page.keyboard.press("Enter")


def keyed_on(hands: Hands, name: str, within: str = "") -> None:
    """The same where another heading follows."""
    before = hands.heading()
    keyed(hands, name, within)
    hands.wait_changed("h1", before)
    settled(hands.page)


def file_by_key(hands: Hands, picture: Path) -> None:
    """A photo as a file: the field has the focus, and Enter opens the sheet of the system."""
    hands.page.locator(".ways.only").wait_for()  # the camera has said no, and the ways round it stand
    tab_to(hands.page, re.compile("^Choose (a file|files)"))
    with hands.page.expect_file_chooser() as asked:
        hands.page.keyboard.press("Enter")
    asked.value.set_files(picture)
    settled(hands.page)


def read_out(hands: Hands, *names: str) -> None:
    """What a screen reader finds: each of these, and nothing without a name."""
    told = hands.page.locator("body").aria_snapshot()
    for words in names:
        assert words in told, f"{words} is not in\n{told}"
    assert NAMELESS.findall(told) == [], f"without a name:\n{told}"


def spoken(hands: Hands, words: str) -> None:
    """The live region says so."""
    expect(hands.page.locator("[aria-live=polite]").filter(has_text=words).first).to_be_attached()


def test_a_whole_inspection_goes_by_keys_alone_and_is_read_as_sentences(own_sink: Sink) -> None:
    """No touch and no pointer: typed, photographed by file, walked, found with a ring, decided, concluded. The order
    of Tab is bar, line, look, hand, and what has the focus is always seen (WCAG 2.1.1, 2.1.2, 2.4.3, 2.4.7, 4.1.2,
    4.1.3; numbers of criteria from memory)."""
    hands = own_sink.tablet(camera="none")
    page = hands.page
    read_out(hands, 'heading "Scan a scope to begin" [level=1]', 'radiogroup "The next scan says"')
    keyed_on(hands, "^Type the number")
    page.keyboard.type("C-14", delay=120)
    keyed(hands, "Colonoscope C-14")
    hands.wait_screen("serial")
    read_out(hands, 'radiogroup "Where is it in the cycle?"')
    file_by_key(hands, own_sink.plate(C_14.serial))
    hands.wait_for("Distal tip", "h1")
    settled(page)

    read_out(
        hands, 'heading "Distal tip" [level=1]', "Part 1 of 30, distal tip, not looked yet",
        'button "Whole distal end: looked, nothing found · 5 parts"', 'button "Looked, nothing found"',
        'radiogroup "Outside or channels"',
    )  # fmt: skip
    zones = tab_to(page, re.compile("^Whole .*: looked, nothing found"), "hand")
    assert [zone for zone in zones if zone] == ["header", "nav", "main", "hand"]
    page.keyboard.press("Enter")
    hands.wait_changed("h1", "Distal tip")
    spoken(hands, "looked, nothing found")
    settled(page)

    part = hands.heading()
    keyed(hands, "^Photo$", "hand")
    hands.wait_for("Choose", "main")
    settled(page)
    file_by_key(hands, own_sink.plate(C_14.serial, coded=False))
    keyed(hands, "^Keep 1 photo")
    hands.wait_for("You took a photo here", ".hand")
    spoken(hands, ": photo. Saved on this tablet.")
    keyed_on(hands, "^Finding$", "hand")
    tab_to(page, re.compile("^(Minor|Present)"), "main")
    page.keyboard.press("Enter")
    tab_to(page, re.compile("^Not known"), "hand")
    page.keyboard.press("ArrowRight")  # one choice out of four has the focus; the arrows go round to New
    expect(hands.button("New", ".hand")).to_have_attribute("aria-checked", "true")
    keyed(hands, "^Where in the photo$", "hand")
    settled(page)
    keyed(hands, "^Larger$")
    keyed(hands, "^Right$")
    read_out(hands, 'group "Where in the photo"', "Middle: ")
    keyed(hands, "^Close$", "hand")
    keyed(hands, "^Save finding", "hand")
    hands.wait_changed("h1", "What, and how much: one tap")
    settled(page)

    answers = 0
    while "#/route" in page.url and answers < 40:
        keyed_on(hands, "^(Whole .*: looked|Looked), nothing found", "hand")
        answers += 1
    read_out(hands, 'heading "Where it goes"')
    tag = hands.button("The tag is on the scope", ".hand")
    if tag.count() == 1:
        keyed(hands, "^The tag is on the scope", "hand")
    best = hands.page.locator(".hand .btn.best").inner_text().split("\n")[0]
    keyed(hands, f"^{re.escape(best)}", "hand")
    hands.wait_for("Scan a scope to begin")
    hands.wait_sent()
    kept = hands.entries()
    found = next(entry for entry in kept if entry["kind"] == "finding.recorded")
    assert found["body"]["part"] and len(found["body"]["rings"]) == 1, part
    assert kept[-1]["kind"] == "inspection.concluded"
    assert (kept[-1]["body"]["counts"]["nothing_found"], kept[-1]["body"]["counts"]["finding"]) == (29, 1)
    assert {row["verdict"] for row in own_sink.log()} == {"counted"}


def test_the_test_code_reads_off_the_screen_and_nothing_of_a_test_is_kept(sink: Sink, tablet: Hands) -> None:
    """Read by zxing-cpp, a reader that did not write it (zint did); ]d2 is a GS1 Data Matrix (ISO/IEC 15424)."""
    before = tablet.entries()
    page = way(tablet, "#/reader")
    picture = page.get_by_role("img", name=re.compile("^Test code")).screenshot()
    (code,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)))
    assert (code.symbology_identifier, code.bytes.decode("utf-8")) == ("]d2", TEST_TEXT)

    for sent, said in (
        (f"]d2{TEST_TEXT}", "The reader is set as it should be"),
        (TEST_TEXT, "The reader is set as it should be"),
        (f"]d2{TEST_TEXT.replace(chr(29), '')}", "Let the reader send FNC1 as the GS character (29)."),
        (
            f"]D2{TEST_TEXT.swapcase()}"[:3] + TEST_TEXT.swapcase(),
            "Switch Caps Lock off, on the keyboard and in the reader.",
        ),
        (f"*]d2{TEST_TEXT}", "Take the prefix out."),
        (f"01{C_14.di}21{C_14.serial}", "Scan the test code: with it everything can be told."),
    ):
        tablet.scan(sent)
        tablet.wait_for(said, ".hand")
        assert "#/reader" in page.url
    tablet.wait_for("as one code", "main")
    way(tablet, "#/home")
    assert tablet.entries() == before


def test_the_camera_reads_the_test_code_and_says_its_size(sink: Sink) -> None:
    target = sink.folder / "test-code.mjpeg"
    frame = Image.new("RGB", SIZE, "white")
    mark = zint_code("[01]51022222233336[10]Zy-Aq_7[21]LB/wM5", sink.folder)
    frame.paste(mark, ((SIZE[0] - mark.width) // 2, (SIZE[1] - mark.height) // 2))
    hands = sink.tablet("Sink 4", camera=film(target, [frame]))
    way(hands, "#/reader")
    hands.tap("Camera", "main")
    hands.wait_for("The camera reads codes.", ".hand")
    hands.wait_for("1280 × 720 px", "main")
    hands.wait_for("]d2", "main")
    assert hands.entries() == []
    our_labels_lead_to_their_places(sink, hands, target)
    assert hands.entries() == []


def our_labels_lead_to_their_places(sink: Sink, hands: Hands, playing: Path) -> None:
    """A label of each sort as it is printed, before the same camera: the film it plays is another at each opening."""
    other = SinkTablet(sink.server.url, "Sink 2").enrol(sink.house.codes["Sink 2"])
    other.chain.person = "ila.venn"
    tool = {"tool": "B-9", "what": "borescope", "place": PLACE, "codes": []}
    other.chain.write("tool.registered", tool, inspection=False, about={"tool": "B-9"})
    assert [each["verdict"] for each in other.send()] == ["counted"]
    other.close()
    hear(hands)
    shelf = "Cabinet 2, shelf 3"
    hung = f"?scope={quote(C_11.key)}&step=hung"
    for what, of, form, at, then, where in (
        ("scope", C_11.key, "matrix", "", "Where is it in the cycle?", "h1"),
        ("tool", "B-9", "qr", "", "B-9", "main"),
        ("place", shelf, "matrix", hung, shelf, ".hand"),
        ("person", "rin.oake", "qr", "", "PIN for Rin Oake", "body"),
    ):
        way(hands, "#/help")
        film(playing, [held(label_of(sink, what, of, form))])
        way(hands, f"#/camera-scan{at}")
        hands.wait_for(then, where)
        assert hands.page.url.partition("#/")[2].partition("?")[0] == {"scope": "cycle", "place": "step"}.get(
            what, "tools" if what == "tool" else "camera-scan"
        )
        if what == "scope":
            hands.wait_for("C-11", ".bar")


def label_of(sink: Sink, what: str, of: str, form: str) -> Image.Image:
    desk = sink.lead()._desk
    sizes = {"what": what, "of": of, "form": form, "size": "50x25"}
    answer = desk.http.get("/lead/labels.pdf", params=sizes, headers=desk.headers())
    assert answer.status_code == 200, answer.text
    (label,) = printed(answer.content, sink.folder, f"label-{what}")
    return label
