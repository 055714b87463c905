"""Every part of the look in a real browser, under the product's own policy: sizes, readers, keys, touch, both hands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.bundle import bundle
from browser.conftest import OpenBrowser, holds, settled
from browser.eyes import keep_picture
from browser.gallery_server import CONFIG, GalleryServer
from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.sink

SCENES = "home serial route answers camera finding ringed decide lock leak lines lists pieces".split()
SIZES = {"landscape": {"width": 1180, "height": 820}, "portrait": {"width": 820, "height": 1180}}
PHONE = {"width": 390, "height": 844}

CONTROLS = """() => {
  const seen = [...document.querySelectorAll('button, [role=radio], [role=slider], a, input')]
    .filter((node) => !node.matches('.side') && node.getClientRects().length > 0);
  // What a scrolling place hides of a control is not there for the finger.
  const visible = (node) => {
    const { left, right, top, bottom } = node.getBoundingClientRect();
    const box = { left, right, top, bottom };
    for (let up = node.parentElement; up !== null; up = up.parentElement) {
      if (getComputedStyle(up).overflow === 'visible') continue;
      const edge = up.getBoundingClientRect();
      box.left = Math.max(box.left, edge.left); box.right = Math.min(box.right, edge.right);
      box.top = Math.max(box.top, edge.top); box.bottom = Math.min(box.bottom, edge.bottom);
    }
    return { ...box, hidden: box.right <= box.left || box.bottom <= box.top };
  };
  return seen.map((node) => {
    const whole = node.getBoundingClientRect();
    const box = visible(node);
    const name = (node.getAttribute('aria-label') ?? node.textContent ?? '').trim().replace(/\\s+/g, ' ').slice(0, 60);
    const group = node.closest('.segments, .grades, .drawing ol');
    return {
      name, left: box.left, right: box.right, top: box.top, bottom: box.bottom, hidden: box.hidden,
      width: whole.width, height: whole.height,
      group: group === null ? -1 : [...document.querySelectorAll('.segments, .grades, .drawing ol')].indexOf(group),
      segment: node.closest('.segments, .grades') !== null, cell: node.matches('.cell'),
      cut: node.scrollWidth > node.clientWidth + 1 && !node.matches('.cell'),
    };
  });
}"""


@pytest.fixture(scope="module")
def gallery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[GalleryServer]:
    """The gallery, built once."""
    folder = tmp_path_factory.mktemp("gallery")
    bundle(CONFIG, folder)
    server = GalleryServer(folder)
    yield server
    server.close()


def controls(page: Page) -> list[dict[str, object]]:
    """Every control on the page with its box, in CSS px."""
    return page.evaluate(CONTROLS)  # type: ignore[no-any-return]


def too_small(found: list[dict[str, object]]) -> list[str]:
    """Controls under the floor of the look: 64 by 64; segments that touch 90 wide; cells of the line 66 by 92."""
    small = []
    for one in found:
        least_width = 90 if one["segment"] else 64
        least_height = 92 if one["cell"] else 64
        if float(str(one["width"])) < least_width - 0.5 or float(str(one["height"])) < least_height - 0.5:
            small.append(f"{one['name']}: {one['width']} x {one['height']}")
    return small


def too_near(found: list[dict[str, object]]) -> list[str]:
    """Pairs of controls less than 12 px apart that do not belong to one group of segments.

    The parts on the line touch each other and what stands beside them: they navigate, and record nothing.
    They still must not lie over anything.
    """

    def gap(a: dict[str, object], b: dict[str, object], low: str, high: str) -> float:
        return max(float(str(a[low])) - float(str(b[high])), float(str(b[low])) - float(str(a[high])))

    near = []
    for index, a in enumerate(found):
        for b in found[index + 1 :]:
            if a["hidden"] or b["hidden"] or a["group"] == b["group"] != -1:
                continue
            apart = max(gap(a, b, "left", "right"), gap(a, b, "top", "bottom"))
            if apart < (-0.5 if a["cell"] or b["cell"] else 11.5):
                near.append(f"{a['name']} | {b['name']}: {apart:.1f}")
    return near


def hold(page: Page, target: Locator, ms: int) -> None:
    """A finger on the middle of `target` for `ms` of the page's own, stopped clock."""
    box = target.bounding_box()
    assert box is not None
    cdp = page.context.new_cdp_session(page)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    cdp.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    page.clock.run_for(ms)
    cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    cdp.detach()


@pytest.mark.parametrize(
    ("turned", "theme"),
    [
        ("landscape", "bench"),
        ("portrait", "room"),
        pytest.param("landscape", "room", marks=pytest.mark.slow),
        pytest.param("portrait", "bench", marks=pytest.mark.slow),
    ],
)
def test_every_scene_is_big_enough_to_touch_and_readable_by_axe(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path, theme: str, turned: str
) -> None:
    """Sizes: WCAG 2.2 2.5.8 asks for 24 px, 2.5.5 for 44; the look asks for 64 and a gap of 12.

    Readable: the rules of axe-core, none broken that it calls serious or critical.
    """
    page = open_browser(viewport=SIZES[turned]).pages[0]
    found: list[str] = []
    for scene in SCENES:
        page.goto(gallery.page(scene, theme=theme))
        settled(page)
        keep_picture(page, screens / f"part-{scene}-{theme}-{turned}.png")
        seen = controls(page)
        assert seen or scene == "pieces"
        found += [f"{scene}: too small: {line}" for line in too_small(seen)]
        found += [f"{scene}: too near: {line}" for line in too_near(seen)]
        found += [f"{scene}: cut: {one['name']}" for one in seen if one["cut"]]
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            found.append(f"{scene}: wider than the screen")
        for rule in Axe().run(page).response["violations"]:
            if rule["impact"] in ("serious", "critical"):
                found += [f"{scene}: {rule['id']}: {node['html'][:160]}" for node in rule["nodes"]]
    assert found == [], "\n".join(found)


def test_the_measure_of_sizes_and_gaps_sees_a_small_and_a_near_button(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("home"))
    settled(page)
    page.evaluate(
        """() => { for (const left of [300, 350]) { const b = document.createElement('button');
        b.textContent = 'small ' + left; document.body.append(b);
        const at = {position: 'fixed', left: left + 'px', top: '300px', width: '40px', height: '70px'};
        Object.assign(b.style, at); } }"""
    )
    seen = controls(page)
    assert [line for line in too_small(seen) if line.startswith("small")] == [
        "small 300: 40 x 70",
        "small 350: 40 x 70",
    ]
    assert any(line.startswith("small 300 | small 350: 10.0") for line in too_near(seen))


def test_the_legend_adds_up_to_the_parts_of_the_line(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("route"))
    settled(page)
    told = page.locator("nav .only-landscape li").all_inner_texts()
    assert len(told) == 6
    assert sum(int(re.sub(r"\D", "", text)) for text in told) == page.locator("ol .cell").count() == 30


def test_the_line_is_an_ordered_list_of_buttons_that_say_where_and_what(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("route"))
    settled(page)
    cells = page.get_by_role("list", name="Route from tip to plug").get_by_role("listitem")
    assert cells.count() == 30
    current = page.get_by_role("button", name="Part 12 of 30, insertion tube, 2nd third, not looked yet")
    assert current.get_attribute("aria-current") == "step"
    page.get_by_role("button", name="Part 8 of 30, adhesive band, tip, finding").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Adhesive band, tip"
    assert page.locator(".here").count() == 1


def test_a_mark_is_spoken_and_the_next_part_opens(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("route"))
    settled(page)
    page.get_by_role("button", name="Looked, nothing found", exact=True).click()
    assert "insertion tube, 2nd third, looked, nothing found" in page.get_by_role("status").all_inner_texts()
    assert page.get_by_role("heading", level=1).inner_text() == "Insertion tube, 3rd third"


def test_a_drop_marks_nothing_and_a_finger_marks_once(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    """The look's rule on water: a touch counts after 40 ms. A drop is 0 ms here, and then a finger is 60."""
    page = open_browser().pages[0]
    page.clock.install()
    page.goto(gallery.page("route"))
    settled(page)
    button = page.get_by_role("button", name="Looked, nothing found", exact=True)
    box = button.bounding_box()
    assert box is not None
    page.clock.pause_at(datetime.fromtimestamp(page.evaluate("Date.now()") / 1000 + 1, UTC))
    page.touchscreen.tap(box["x"] + 60, box["y"] + 30)
    page.clock.run_for(500)
    hold(page, button, 60)
    page.clock.resume()
    holds(page, "document.querySelector('h1').innerText !== 'Insertion tube, 2nd third'")
    marked = page.locator(".cell[aria-label*='looked, nothing found']").count()
    assert marked == 11, "ten before, one by the finger, none by the drop"


def test_segments_are_radios_that_the_keyboard_moves(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    """ARIA Authoring Practices, radio group pattern: one tab stop, arrows move and choose, round the end."""
    page = open_browser().pages[0]
    page.goto(gallery.page("home"))
    settled(page)
    group = page.get_by_role("radiogroup", name="The next scan says")
    assert group.locator("[tabindex='0']").count() == 1
    group.get_by_role("radio", name="Inspect").focus()
    for key, chosen in (
        ("ArrowRight", "Received"),
        ("End", "Processed"),
        ("ArrowDown", "Inspect"),
        ("ArrowLeft", "Processed"),
    ):
        page.keyboard.press(key)
        radio = group.get_by_role("radio", name=chosen)
        assert radio.get_attribute("aria-checked") == "true"
        assert page.evaluate("document.activeElement.innerText") == chosen


def test_a_refused_act_stays_in_reach_says_why_and_does_nothing(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("lock"))
    settled(page)
    page.get_by_role("button", name="7", exact=True).click()
    enter = page.get_by_role("button", name="Enter")
    assert enter.get_attribute("aria-disabled") == "true"
    assert "3 digits to go" in enter.inner_text()
    enter.focus()
    page.keyboard.press("Enter")
    assert page.locator("#entered").inner_text() == ""


def test_a_pin_is_typed_by_touch_and_by_keys_and_never_shown(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("lock"))
    settled(page)
    page.get_by_role("button", name="7", exact=True).focus()
    page.keyboard.type("27")
    page.keyboard.press("Backspace")
    page.keyboard.type("418")
    assert page.get_by_role("img", name="4 digits typed").count() == 1
    assert "2418" not in page.locator("body").inner_text()
    page.get_by_role("button", name="Enter").click()
    assert page.locator("#entered").inner_text() == "2418"


def test_a_ring_is_placed_by_a_tap_and_moved_by_buttons_in_whole_numbers(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("ringed"))
    settled(page)
    field = page.locator("button.field")
    box = field.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 4, box["y"] + box["height"] / 2)
    x, y, r = (int(word) for word in page.locator("#ring-now").inner_text().split())
    assert abs(x - 2500) < 60
    assert abs(y - 5000) < 60
    page.get_by_role("button", name="Small steps").click()
    page.get_by_role("button", name="Right").click()
    page.get_by_role("button", name="Larger").click()
    assert page.locator("#ring-now").inner_text() == f"{x + 200} {y} {r + 200}"


def test_the_wipe_moves_by_buttons_and_keys_as_well_as_by_drag(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    """WCAG 2.2 2.5.7: what is dragged can be done without dragging."""
    page = open_browser().pages[0]
    page.goto(gallery.page("camera"))
    settled(page)
    knob = page.get_by_role("slider", name="Compare")
    assert knob.get_attribute("aria-valuenow") == "40"
    page.get_by_role("button", name="Show more of before").click()
    assert knob.get_attribute("aria-valuenow") == "50"
    knob.focus()
    page.keyboard.press("ArrowLeft")
    assert knob.get_attribute("aria-valuenow") == "49"
    box = page.locator("[data-wipe]").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 20, box["y"] + 300)
    assert knob.get_attribute("aria-valuenow") == "39"


def test_the_place_moves_by_steps_and_unknown_has_no_number(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("finding"))
    settled(page)
    place = page.get_by_role("group", name="Where", exact=True)
    place.get_by_role("button", name="−1 1 cm less").click()
    place.get_by_role("button", name="+10 10 cm more").click()
    assert place.locator("output").inner_text() == "71 cm"
    assert place.get_by_role("img", name="Ruler of 168 cm, the place is 71 cm from the tip").count() == 1
    place.get_by_role("radio", name="Unknown").click()
    assert place.locator("output").inner_text() == "–"


def test_the_hand_zone_changes_sides_for_a_left_hand(open_browser: OpenBrowser, gallery: GalleryServer) -> None:
    page = open_browser().pages[0]
    for side, leftmost in (("right", "main"), ("left", ".hand")):
        page.goto(gallery.page("route", side=side))
        settled(page)
        box = page.locator(leftmost).bounding_box()
        assert box is not None
        assert box["x"] == 0, side


def test_a_right_to_left_language_mirrors_the_line_but_no_ruler_and_no_keypad(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("route", dir="rtl"))
    settled(page)
    keep_picture(page, screens / "part-route-rtl.png")
    tip = page.locator("ol .cell").first.bounding_box()
    assert tip is not None
    assert tip["x"] > 1000, "the tip stands at the reading start"
    page.goto(gallery.page("lock", dir="rtl"))
    settled(page)
    one, three = (page.get_by_role("button", name=digit, exact=True).bounding_box() for digit in "13")
    assert one is not None
    assert three is not None
    assert one["x"] < three["x"]


@pytest.mark.parametrize("turned", SIZES)
def test_words_two_fifths_longer_fit_their_buttons(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path, turned: str
) -> None:
    page = open_browser(viewport=SIZES[turned]).pages[0]
    found: list[str] = []
    for scene in SCENES:
        page.goto(gallery.page(scene, words="long"))
        settled(page)
        keep_picture(page, screens / f"part-{scene}-long-{turned}.png")
        seen = controls(page)
        found += [f"{scene}: {line}" for line in too_small(seen)]
        found += [f"{scene}: cut: {one['name']}" for one in seen if one["cut"]]
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            found.append(f"{scene}: wider than the screen")
    assert found == []


def test_on_a_phone_the_frame_is_one_column_without_sideways_scroll(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path
) -> None:
    """WCAG 2.2 1.4.10: reflow at 320 px, which is also 1280 px at 400 %."""
    page = open_browser(viewport=PHONE).pages[0]
    found = []
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        for scene in ("home", "lock", "decide", "finding", "lists"):
            page.goto(gallery.page(scene))
            settled(page)
            keep_picture(page, screens / f"part-{scene}-phone-{width}.png", full_page=True)
            if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                found.append(f"{scene} at {width}")
    assert found == []


def test_forced_colours_keep_the_shapes_of_the_marks(
    open_browser: OpenBrowser, gallery: GalleryServer, screens: Path
) -> None:
    page = open_browser(forced_colors="active").pages[0]
    page.goto(gallery.page("route"))
    settled(page)
    keep_picture(page, screens / "part-route-forced-colours.png")
    paints = page.evaluate(
        """() => [...document.querySelectorAll('nav .only-landscape svg path')].map((path) => getComputedStyle(path))
        .filter((style) => style.fill === 'none' && style.stroke === 'none').length"""
    )
    assert paints == 0
    assert page.evaluate("getComputedStyle(document.body).color !== getComputedStyle(document.body).backgroundColor")


def test_the_tab_key_goes_through_bar_line_look_and_hand_in_this_order(
    open_browser: OpenBrowser, gallery: GalleryServer
) -> None:
    page = open_browser().pages[0]
    page.goto(gallery.page("route"))
    settled(page)
    zones: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        zone = page.evaluate("document.activeElement.closest('header, nav, main, .hand')?.tagName ?? ''")
        if zone and (not zones or zones[-1] != zone):
            zones.append(zone)
        if page.evaluate("document.activeElement === document.body"):
            break
    assert zones[:4] == ["HEADER", "NAV", "MAIN", "SECTION"]
    page.get_by_role("button", name="Finding", exact=True).focus()
    assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"
