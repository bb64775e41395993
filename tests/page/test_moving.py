"""Everything that can be taken hold of on the page, on a set that is not traced."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

import pytest

from tests.page.conftest import SHOWN, Served, until

STEP_M, STEP_DEG = 0.05, 5
PLAN = 'g[data-thing="{}"][data-part="{}"][data-view="{}"]'


def scene(still: Served) -> dict[str, Any]:
    return tomllib.loads(still.session.document.text)


def drag(page: Any, thing: str, by: tuple[float, float], part: str = "", view: str = "plan") -> Any:
    """Take hold of a thing and carry it by so many pixels; the button stays down."""
    grip = page.locator(PLAN.format(thing, part, view)).locator("circle.grip").bounding_box()
    at = (grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2)
    page.mouse.move(*at)
    page.mouse.down()
    page.mouse.move(at[0] + by[0], at[1] + by[1], steps=3)


def settled(page: Any) -> None:
    page.wait_for_function("!document.querySelector('.draft')")


def snapped(value: float, step: float) -> None:
    assert value / step == pytest.approx(round(value / step), abs=1e-6)


def test_readings_follow_a_panel_while_it_is_dragged(still: Served, sheet: Any) -> None:
    """Readings of the drag are those that the scene gives when it is let go there."""
    before = scene(still)["panel"]["fill"]
    version = still.session.document.version
    drag(sheet, "panel.fill", (25, -25))
    sheet.wait_for_function("document.querySelector('#readings').ariaBusy === 'true'")
    sheet.wait_for_function("!document.querySelector('#readings.stale')")
    during = sheet.locator("#table").inner_text()
    assert still.session.document.version == version  # nothing is taken yet
    sheet.mouse.up()
    settled(sheet)
    moved = scene(still)["panel"]["fill"]
    assert moved["distance_m"] > before["distance_m"]
    snapped(moved["distance_m"], STEP_M)
    assert moved["azimuth_deg"] % STEP_DEG == 0
    assert still.session.document.version == version + 1  # one step of undo
    assert sheet.locator("#table").inner_text() == during
    sheet.get_by_role("button", name="Undo").click()
    until(lambda: scene(still)["panel"]["fill"] == before)
    assert scene(still)["panel"]["fill"] == before


def test_two_moves_are_two_steps_of_undo_and_one_turn_of_a_dial_is_one(
    still: Served, sheet: Any
) -> None:
    before = scene(still)["light"]["key"]
    version = still.session.document.version
    for _ in range(2):
        sheet.get_by_label("key: one step more").click()
        sheet.wait_for_function("!document.querySelector('#undo').disabled")
    sheet.evaluate("tenthstop.set.settle()")
    lamp = sheet.locator(PLAN.format("light.key", "", "plan"))
    for times in (1, 2):
        lamp.focus()
        sheet.keyboard.press("ArrowUp")
        far = before["distance_m"] + times * STEP_M
        until(lambda far=far: scene(still)["light"]["key"]["distance_m"] == pytest.approx(far))
        settled(sheet)
    assert still.session.document.version > version + 2
    for far in (before["distance_m"] + STEP_M, before["distance_m"]):
        sheet.get_by_role("button", name="Undo").click()
        until(lambda far=far: scene(still)["light"]["key"]["distance_m"] == pytest.approx(far))
    sheet.get_by_role("button", name="Undo").click()
    until(lambda: scene(still)["light"]["key"] == before)
    assert scene(still)["light"]["key"] == before


def test_the_sitter_moves_in_the_room_and_turns(still: Served, sheet: Any) -> None:
    """Nearer to the camera wall is as much farther from the backdrop."""
    before = scene(still)
    body = sheet.locator(PLAN.format("sitter", "", "plan"))
    body.focus()
    for key in ("ArrowRight", "ArrowRight", "PageUp"):  # 10 cm towards the camera, 5 degrees
        sheet.keyboard.press(key)
    until(lambda: scene(still)["sitter"].get("turn_deg") == STEP_DEG)
    settled(sheet)
    moved = scene(still)
    assert moved["backdrop"]["gap_m"] == pytest.approx(before["backdrop"]["gap_m"] + 2 * STEP_M)
    assert moved["room"]["back_wall_m"] == pytest.approx(before["room"]["back_wall_m"] + 2 * STEP_M)
    drag(sheet, "sitter", (0, -40), part="turn")
    sheet.mouse.up()
    until(lambda: scene(still)["sitter"]["turn_deg"] > STEP_DEG)
    assert scene(still)["sitter"]["turn_deg"] % STEP_DEG == 0
    settled(sheet)


def test_backdrop_and_aim_are_dragged(still: Served, sheet: Any) -> None:
    gap = scene(still)["backdrop"]["gap_m"]
    drag(sheet, "backdrop", (-12, 0))
    sheet.mouse.up()
    until(lambda: scene(still)["backdrop"]["gap_m"] > gap)
    snapped(scene(still)["backdrop"]["gap_m"], STEP_M)
    settled(sheet)
    sheet.get_by_role("button", name="Choose key in the drawings").click()
    drag(sheet, "light.key", (20, 0), part="aim")
    sheet.mouse.up()
    until(lambda: "aim" in scene(still)["light"]["key"])
    aim = scene(still)["light"]["key"]["aim"]
    assert aim[2] > STEP_M
    settled(sheet)


def test_a_place_where_nothing_can_stand_is_told_and_not_taken(still: Served, sheet: Any) -> None:
    text = still.session.document.text
    drag(sheet, "light.key", (0, 200))  # through the wall
    sheet.wait_for_function("document.querySelector('#handling.refused')")
    sheet.mouse.up()
    settled(sheet)
    assert still.session.document.text == text


def test_gear_is_changed_in_its_sentence(still: Served, sheet: Any) -> None:
    sheet.locator("#rows details.gearing summary").first.click()
    sheet.get_by_label("key, grid").select_option("40")
    until(lambda: scene(still)["light"]["key"].get("grid_deg") == 40)
    sheet.get_by_label("key, gel 1").select_option('"warm-full"')
    until(lambda: scene(still)["light"]["key"].get("gel") == ["warm-full"])
    sheet.get_by_label("key, gel 1").select_option("null")
    until(lambda: "gel" not in scene(still)["light"]["key"])
    sheet.locator("#housing summary").click()
    sheet.get_by_label("Room, walls").select_option("0.5")
    until(lambda: scene(still)["room"]["walls"] == 0.5)
    assert scene(still)["room"]["walls"] == 0.5


def test_all_that_is_pressed_is_large_enough_for_a_finger(
    still: Served, opened: Callable[..., Any]
) -> None:
    """44 px: WCAG 2.2, success criterion 2.5.5; marks reach 7 px beyond their ring."""
    tablet = opened(
        still, SHOWN, viewport={"width": 768, "height": 1024}, has_touch=True, is_mobile=True
    )
    small = tablet.evaluate(
        "[...document.querySelectorAll('button:not(.mark), select, .blank, summary,"
        " input[type=range]')].filter((each) => each.checkVisibility()"
        " && each.getBoundingClientRect().height < 44).map((each) => each.outerHTML)"
    )
    assert small == []
    assert tablet.evaluate("document.documentElement.scrollWidth") <= 768
    lamp = tablet.locator(PLAN.format("light.key", "", "plan"))
    grip = lamp.locator("circle.grip").bounding_box()
    assert min(grip["width"], grip["height"]) >= 44 - 1
    # A finger that lands beside the lamp takes it, and the page does not scroll away with it.
    before = scene(still)["light"]["key"]
    at = (grip["x"] + 0.7 * grip["width"], grip["y"] + grip["height"] / 2)
    touch = tablet.context.new_cdp_session(tablet)
    for kind, by in (("Start", 0), ("Move", 20), ("Move", 40), ("End", None)):
        points = [] if by is None else [{"x": at[0] + by, "y": at[1] - by / 2}]
        touch.send("Input.dispatchTouchEvent", {"type": f"touch{kind}", "touchPoints": points})
    until(lambda: scene(still)["light"]["key"] != before)
    moved = scene(still)["light"]["key"]
    assert moved["azimuth_deg"] != before["azimuth_deg"]
    assert tablet.evaluate("scrollY") == 0
    tablet.context.close()


def test_lights_panels_and_wishes_come_and_go(still: Served, sheet: Any) -> None:
    """What refers to a light that is taken away goes with it; one step of undo brings all back."""
    before = scene(still)
    for opens, form in (
        ("Put up another light", "light"),
        ("Put up a panel", "panel"),
        ("Want another reading", "wish"),
    ):
        sheet.get_by_text(opens).click()
        sheet.locator(f"#add-{form} button").click()
        kind = "wanted" if form == "wish" else form
        until(lambda kind=kind: len(scene(still)[kind]) == len(before[kind]) + 1)
        assert len(scene(still)[kind]) == len(before[kind]) + 1
    sheet.get_by_role("button", name="Take fill away").click()
    until(lambda: "fill" not in scene(still)["panel"])
    full = scene(still)
    sheet.get_by_role("button", name="Take the key light away").click()
    until(lambda: "key" not in scene(still)["light"])
    assert "face" not in scene(still)["wanted"]
    sheet.get_by_role("button", name="Undo").click()
    until(lambda: scene(still) == full)
    assert scene(still) == full


def test_axe_finds_nothing_in_what_opens(sheet: Any) -> None:
    """axe-core over every sentence of gear, sitter and room."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    )
    sheet.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true })")
    found = axe.Axe().run(sheet).response["violations"]
    assert [(each["id"], each["nodes"][0]["html"]) for each in found] == []
