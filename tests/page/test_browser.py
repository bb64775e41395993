"""The page in a real browser: what it mixes, moves, saves and takes back."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from render.layout import place
from render.photometry.stops import show_f_number, show_power
from render.picture.develop import codes, mix
from render.picture.take import exposure_of, size_px
from render.report import meter
from render.scenefile import load_scene
from render.trace import light_frames
from tests.page.conftest import LONG_SIDE_PX, Served, until

CODES = 255
Open = Callable[..., Any]

# WCAG 2.2, success criteria 1.4.3 and 1.4.11.
TEXT_CONTRAST, SIGN_CONTRAST = 4.5, 3.0


def scene(served: Served) -> dict[str, Any]:
    return tomllib.loads(served.session.document.text)


def developed(served: Served) -> NDArray[np.float64]:
    """The server's own picture of the present set, in codes."""
    setup = served.session.document.checked(served.session.document.text)
    layout = place(setup)
    assert layout.view is not None
    size = size_px(layout.view, LONG_SIDE_PX)
    frames = light_frames(layout, "draft", size, served.store, served.engine)
    return CODES * codes(mix(frames, layout, exposure_of(setup)).linear)


def finished(page: Any) -> None:
    """All light is traced and fetched, and nothing is on its way."""
    page.evaluate("tenthstop.set.settle()")
    page.wait_for_function(
        "tenthstop.set.current().lights.every((light) => light.frame.samples === light.frame.of)"
        " && document.querySelector('#tracing').textContent === ''"
    )
    # What was heard last is drawn at the next refresh of the screen.
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def test_a_late_answer_does_not_take_back_how_far_a_picture_is(page: Any) -> None:
    samples = page.evaluate(
        """async () => {
          const { keeper } = await import("/static/state.js");
          const light = { name: "key", frame: { digest: "d", samples: 12, of: 16 } };
          const answer = () => Response.json({ version: 1, lights: [structuredClone(light)] });
          const fetched = window.fetch;
          let late = null;
          window.fetch = () => late ? new Promise((done) => late = done) : answer();
          try {
            const set = keeper({ changed() {} });
            set.heard();
            await set.settle();
            late = () => {};
            set.heard();
            await new Promise((done) => setTimeout(done));
            set.traced("key", { digest: "d", samples: 16, of: 16 });
            late(answer());
            await set.settle();
            return set.current().lights[0].frame.samples;
          } finally {
            window.fetch = fetched;
          }
        }"""
    )
    assert samples == 16


def test_a_mixed_pixel_is_that_of_the_server(served: Served, page: Any) -> None:
    """Half floats are good to 1/2048, a tenth of a code: 1 code is left to rounding."""
    assert page.evaluate("tenthstop.picture.way") == "canvas"
    finished(page)
    page.get_by_label("key: one step more").click()
    page.get_by_label("ISO speed").select_option("200")
    page.wait_for_function("tenthstop.set.current().undo")
    finished(page)
    assert scene(served)["camera"]["iso_speed"] == 200
    truth = developed(served)
    height, width = truth.shape[:2]
    assert page.evaluate("[look.width, look.height]") == [width, height]
    places = [(0, 0), (width - 1, 0), (width // 2, height // 2), (5, height - 1)]
    plain = page.evaluate(
        "(places) => places.map(([x, y]) => tenthstop.picture.codes(x, y))", places
    )
    # The graphics card's way, on a canvas that is not shown.
    card = page.evaluate(
        """async (places) => {
          const { lookOn } = await import("/static/mix.js");
          const look = lookOn(document.createElement("canvas"), "gl");
          look.show(tenthstop.parts());
          return [look.way, places.map(([x, y]) => look.codes(x, y))];
        }""",
        places,
    )
    assert card[0] == "webgl2"
    for seen in (plain, card[1]):
        for (x, y), codes_there in zip(places, seen, strict=True):
            assert np.abs(np.array(codes_there) - truth[y, x]).max() <= 1, (x, y)
    assert truth.max() > CODES / 8  # there is something to see
    page.get_by_label("ISO speed").select_option("100")
    page.evaluate("tenthstop.set.settle()")


def test_power_turns_at_once_and_the_file_follows(served: Served, page: Any) -> None:
    dial = page.get_by_label("key, power as on the dial")
    dial.fill("1/16 +0.5")
    dial.press("Enter")
    until(lambda: scene(served)["light"]["key"]["power"] == "1/16 +0.5")
    assert scene(served)["light"]["key"]["power"] == "1/16 +0.5"
    setup = served.session.document.checked(served.session.document.text)
    told = {row.lights: row for row in meter(setup, bounce=False).readings}
    page.wait_for_function("tenthstop.set.current().bounce === 'traced'")
    finished(page)
    shown = page.evaluate("document.querySelector('#table tbody td b').textContent")
    # A dark room's bounce adds little to a light metered along its axis: common practice.
    assert abs(_stops(shown) - _stops(told["key"].shown)) <= 0.3
    page.locator("#on-key").uncheck()
    page.wait_for_function("document.querySelector('#table tbody td b').textContent === '–'")
    until(lambda: scene(served)["light"]["key"].get("on") is False)
    page.get_by_role("button", name="Undo").click()
    until(lambda: scene(served)["light"]["key"].get("on", True))
    page.wait_for_function("document.querySelector('#on-key').checked")
    page.get_by_role("button", name="Redo").click()
    page.wait_for_function("!document.querySelector('#on-key').checked")
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function("document.querySelector('#on-key').checked")


def _stops(shown: str) -> float:
    mark, tenths = re.fullmatch(r"f/([\d.]+) \+0\.(\d)", shown).groups()
    return round(2 * math.log2(float(mark))) + int(tenths) / 10


def test_a_light_moves_by_keys_by_hand_and_by_number(served: Served, page: Any) -> None:
    lamp = page.locator('g[data-thing="light.key"][data-part=""][data-view="plan"]')
    before = scene(served)["light"]["key"]
    lamp.focus()
    page.keyboard.press("ArrowUp")  # 5 cm farther
    page.keyboard.press("ArrowRight")  # 5 degrees to camera right
    until(lambda: scene(served)["light"]["key"]["azimuth_deg"] != before["azimuth_deg"])
    moved = scene(served)["light"]["key"]
    assert moved["distance_m"] == pytest.approx(before["distance_m"] + 0.05)
    assert moved["azimuth_deg"] == before["azimuth_deg"] + 5
    page.wait_for_function("!document.querySelector('.draft')")
    box = lamp.locator(".middle").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] + 30, middle[1], steps=3)
    assert page.locator("#readings").get_attribute("aria-busy") == "true"
    page.mouse.up()
    until(lambda: scene(served)["light"]["key"]["distance_m"] > moved["distance_m"])
    dragged = scene(served)["light"]["key"]
    assert (dragged["distance_m"] / 0.05) == pytest.approx(round(dragged["distance_m"] / 0.05))
    assert dragged["azimuth_deg"] % 5 == 0
    field = page.get_by_label("key, distance")
    field.fill("4 ft")
    field.press("Enter")
    until(lambda: scene(served)["light"]["key"]["distance_m"] == pytest.approx(1.2192))
    assert scene(served)["light"]["key"]["distance_m"] == pytest.approx(4 * 0.3048)


def test_the_camera_moves_along_its_line(served: Served, page: Any) -> None:
    before = scene(served)["camera"]
    page.locator('g[data-thing="camera"][data-view="side"]').focus()
    page.keyboard.press("ArrowRight")  # 5 cm farther
    page.keyboard.press("ArrowUp")  # 5 cm higher
    until(lambda: scene(served)["camera"]["distance_m"] != before["distance_m"])
    moved = scene(served)["camera"]
    assert moved["distance_m"] == pytest.approx(before["distance_m"] + 0.05)
    assert moved["height_m"] == pytest.approx(before["height_m"] + 0.05)
    page.wait_for_function("!document.querySelector('.draft')")


def test_a_wrong_number_is_told_beside_the_light(served: Served, page: Any) -> None:
    text = served.session.document.text
    field = page.get_by_label("key, distance")
    field.fill("far")
    field.press("Enter")
    assert "far" in page.locator("#rows li").first.get_by_role("alert").inner_text()
    field.fill("200 m")  # a length, but farther than the file allows
    field.press("Enter")
    page.wait_for_function(
        "document.querySelector('#rows .error').textContent.includes('distance_m')"
    )
    assert served.session.document.text == text


def test_balance_is_shown_before_it_is_taken(served: Served, page: Any) -> None:
    before = served.session.document.text
    page.get_by_role("button", name="Balance").click()
    page.get_by_role("button", name="Set these powers").wait_for()
    assert served.session.document.text == before
    page.get_by_role("button", name="Set these powers").click()
    until(lambda: served.session.document.text != before)
    page.wait_for_function("document.querySelector('#wanted li').classList.contains('met')")


def test_save_keeps_comments_and_refuses_a_file_changed_meanwhile(
    served: Served, page: Any
) -> None:
    page.get_by_label("key: one step less").click()
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_function("document.querySelector('#save').disabled")
    saved = served.file.read_text(encoding="utf-8")
    assert "# stays" in saved
    assert load_scene(str(served.file)).scene.light["key"].power == pytest.approx(
        served.session.document.checked(served.session.document.text).scene.light["key"].power
    )
    page.reload()
    page.wait_for_function("window.tenthstop?.set.current()")
    power = tomllib.loads(saved)["light"]["key"]["power"]
    assert page.get_by_label("key, power as on the dial").input_value() == power
    served.file.write_text(saved + "\n# somebody else\n", encoding="utf-8")
    page.get_by_label("key: one step less").click()
    page.get_by_role("button", name="Save", exact=True).click()
    told = page.locator("#disk")
    told.get_by_role("button", name="Put my changes on top of it").wait_for()
    assert served.file.read_text(encoding="utf-8").endswith("# somebody else\n")
    mine = scene(served)["light"]["key"]["power"]
    told.get_by_role("button", name="Put my changes on top of it").click()
    told.wait_for(state="hidden")
    assert scene(served)["light"]["key"]["power"] == mine
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_function("document.querySelector('#save').disabled")
    both = served.file.read_text(encoding="utf-8")
    assert "# somebody else" in both
    assert tomllib.loads(both)["light"]["key"]["power"] == mine


def test_two_tabs_stay_in_step(served: Served, opened: Open, page: Any) -> None:
    other = opened(served)
    dial = page.get_by_label("background, power as on the dial")
    dial.fill("1/4")
    dial.press("Enter")
    other.wait_for_function("document.querySelectorAll('#rows .power')[1].value === '1/4'")


def test_a_held_look_stays_while_the_present_one_changes(page: Any) -> None:
    """Both are drawn by the same arithmetic, from the same frames."""
    page.get_by_role("button", name="Hold this look").click()
    corner = "[...document.querySelector('#{}').getContext('2d').getImageData(2, 2, 1, 1).data]"
    before = page.evaluate(corner.format("look"))
    assert page.evaluate(corner.format("held")) == before
    page.get_by_label("ISO speed").select_option("400")
    page.wait_for_function(f"{corner.format('look')}[0] > {before[0]}")
    assert page.evaluate(corner.format("held")) == before
    page.get_by_role("button", name="Let it go").click()
    assert page.locator("#held").is_hidden()
    page.get_by_label("ISO speed").select_option("100")
    page.wait_for_function(f"{corner.format('look')}[0] === {before[0]}")


def test_the_page_says_who_lights_a_place(page: Any) -> None:
    """The only light left lights every place whole: a sum of one."""
    page.locator("#on-background").uncheck()
    page.locator("#look").focus()
    page.keyboard.press("ArrowDown")
    page.wait_for_function("document.querySelector('#spot').textContent.includes('key 100 %')")
    page.locator("#on-background").check()
    page.wait_for_function("document.querySelector('#spot').textContent.includes('background')")


def test_axe_finds_nothing(page: Any) -> None:
    """axe-core, the usual independent check of a page for people with disabilities."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    )
    found = axe.Axe().run(page).response["violations"]
    assert [(each["id"], each["nodes"][0]["html"]) for each in found] == []


def test_words_write_what_python_writes(page: Any) -> None:
    """The module of the page against `photometry.stops`, which has its own tests."""
    f_numbers = [0.11, 0.7, 1.0, 2.83, 8.0, 8.88, 11.31, 300.0]
    shown = page.evaluate(
        "async (all) => { const words = await import('/static/words.js');"
        " return all.map(words.fNumber); }",
        f_numbers,
    )
    assert shown == [show_f_number(each) for each in f_numbers]
    below = [0.0, -0.1, -0.5, -1.0, -2.3, -6.0]
    dials = page.evaluate(
        "async (all) => { const words = await import('/static/words.js');"
        " return all.map((each) => words.dial(each, 0.1)); }",
        below,
    )
    assert dials == [show_power(2.0**each) for each in below]
    read = page.evaluate(
        "async (all) => { const words = await import('/static/words.js');"
        " return all.map((each) => words.readLength(each, 'm')); }",
        ["1.2", "120 cm", "4 ft 3 in", "51 in", "4' 3\"", "far", ""],
    )
    assert read == [1.2, pytest.approx(1.2), *[pytest.approx(51 * 0.0254)] * 3, None, None]


def test_nothing_sticks_out_and_all_can_be_named_and_seen(page: Any) -> None:
    """Contrast by the formula of WCAG 2.2: relative luminance, 0.05 for stray light."""
    # A desk, a tablet both ways, a desk at 200 %, a phone both ways.
    sizes = [(1440, 900), (1024, 768), (820, 1180), (640, 450), (844, 390), (390, 844)]
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        wide, tall, ratio = page.evaluate(
            "(() => { const look = document.querySelector('#look');"
            " const { width, height } = look.getBoundingClientRect();"
            " return [width, height, look.width / look.height]; })()"
        )
        assert tall < height
        assert wide / tall == pytest.approx(ratio, rel=0.01)
    # On the phone the look stays in sight while the lights are turned.
    page.locator("#lights").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('#lights').scrollIntoView()")
    page.wait_for_function("document.documentElement.classList.contains('aloft')")
    seen = page.locator("#look").bounding_box()
    lights = page.locator("#lights").bounding_box()
    assert seen["y"] >= 0
    assert seen["y"] + seen["height"] <= lights["y"] < height
    page.set_viewport_size({"width": 1440, "height": 900})
    page.wait_for_function("!document.documentElement.classList.contains('aloft')")
    nameless = page.evaluate(
        "[...document.querySelectorAll('button, input, select, [role=button], [tabindex=\"0\"]')]"
        ".filter((each) => each.checkVisibility() && !(each.ariaLabel || each.textContent.trim()"
        " || each.labels?.length || each.getAttribute('aria-labelledby')))"
        ".map((each) => each.outerHTML)"
    )
    assert nameless == []
    names = ["ground", "raised", "ink", "quiet", "edge", "accent", "wrong"]
    found = page.evaluate(
        "(names) => names.map((name) =>"
        " getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim())",
        names,
    )
    light = {name: _luminance(colour) for name, colour in zip(names, found, strict=True)}
    for behind in ("ground", "raised"):
        for text in ("ink", "quiet", "wrong"):
            assert (light[text] + 0.05) / (light[behind] + 0.05) >= TEXT_CONTRAST
        for sign in ("edge", "accent"):
            assert (light[sign] + 0.05) / (light[behind] + 0.05) >= SIGN_CONTRAST


def _luminance(colour: str) -> float:
    coded = [int(colour[i : i + 2], 16) / CODES for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in coded]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_words_of_a_tape_step_aside_from_a_line_beside_it(sheet: Any) -> None:
    """A thing that hangs in front of a backdrop seen edge on: the words of its height stand free of
    the line, and without the line they stand on the tape's middle."""
    found = sheet.evaluate(
        """async () => {
          const { labels } = await import("/static/labels.js");
          const { heightLine } = await import("/static/tapes.js");
          const { draw } = await import("/static/make.js");
          const words = (lines) => {
            const svg = draw("svg", { viewBox: "-200 -250 400 270", width: 400, height: 270 });
            document.body.append(svg);
            const put = labels(svg, [-190, -240, 190, 0], 1);
            for (const line of lines) put.avoid(line);
            const view = { name: "side", seen: [2, 1] };
            heightLine({ svg, view, scale: 1, unit: "m", put }, { centre: [0, 1.3, 0] });
            const { x, y, width, height } = svg.querySelector("text").getBBox();
            svg.remove();
            return [x, y, x + width, y + height];
          };
          return [words([]), words([[[-8, -220], [-8, 0]]])];
        }"""
    )
    (left, top, right, bottom), beside = found
    assert abs(left + right) < 2
    assert top < -65 < bottom
    assert beside[0] > -8
    assert beside[2] < 190
