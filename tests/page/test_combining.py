"""The combine page in a real browser: what it mixes, where an element is dragged, what it keeps."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from render.combine.making import make
from render.combine.recipe import Recipe
from render.picture.develop import codes
from tests.page.conftest import Served
from tests.unit.combine.files import png

CODES = 255
READY = "window.combine?.ready()"
LOOK, GRAINS = (60, 75), (40, 32)  # width, height
ALIKE = 2  # codes: half floats, single against double precision, rounding


@pytest.fixture(scope="module")
def table(still: Served, opened: Callable[..., Any]) -> Any:
    """The page with a smooth look in the scene's folder, and grains on a dirty black."""
    chance = np.random.default_rng(8)
    folder = still.file.parent
    across, down = np.meshgrid(np.linspace(0, 1, LOOK[0]), np.linspace(0, 1, LOOK[1]))
    png(folder / "look.png", np.stack([40 + 150 * across, 30 + 90 * down, 60 + 0 * across], -1))
    grains = np.full((GRAINS[1], GRAINS[0], 3), 5.0)
    grains += 220 * (chance.random(grains.shape[:2]) > 0.9)[..., None] * [1, 0.8, 0.5]
    png(folder / "grains.png", grains)
    page = opened(still, "document.querySelector('#views svg')")
    page.goto(page.url.split("?")[0] + "combine", wait_until="commit")
    page.wait_for_function("document.querySelector('#under option')")
    page.get_by_label("Picture of the look").select_option(label="look.png")
    page.wait_for_function("!document.querySelector('#adding').hidden")
    page.get_by_label("A picture to lay over the look").select_option(label="grains.png")
    page.wait_for_function(f"{READY} && combine.recipe().element.length === 1")
    return page


def blank(page: Any, words: str, text: str) -> None:
    field = page.get_by_label(f"Element 1: {words}")
    field.fill(text)
    field.press("Enter")


def shown(page: Any) -> NDArray[np.float64]:
    """Codes (h, w, 3) that the page shows."""
    page.wait_for_function(READY)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    flat = page.evaluate(
        "[...look.getContext('2d').getImageData(0, 0, look.width, look.height).data]"
    )
    return np.array(flat, float).reshape(LOOK[1], LOOK[0], 4)[..., :3]


def made(still: Served, page: Any) -> NDArray[np.float64]:
    """What the program makes of the recipe on the page, in codes."""
    recipe = Recipe.model_validate(page.evaluate("combine.recipe()") | {"out": "x.png"})
    return CODES * codes(make(recipe, still.file.parent).linear)


def test_what_is_mixed_here_is_what_the_program_makes(still: Served, table: Any) -> None:
    cases: list[dict[str, Any]] = [
        {},
        {"scale": GRAINS[0] / LOOK[0], "at": [0.4, 0.52]},  # whole pixels
        {"scale": 0.41, "turn_deg": -30.5, "at": [0.3, 0.9], "gain_stops": 0.7, "flip": "sideways"},
        {"scale": 2.2, "way": "screen", "fade": 0.3, "flip": "both", "turn_deg": 10},
        {"matte": "light", "scale": 0.9, "gain_stops": -1, "flip": "upside down"},
        {"region": [{"points": [[0.2, 0.1], [0.9, 0.3], [0.4, 0.9]], "feather": 0.1}]},
    ]
    for keys in cases:
        table.evaluate("(keys) => combine.set(keys)", {**cases[0], **keys})
        table.wait_for_function(READY)
        truth = made(still, table)
        assert np.abs(shown(table) - truth).max() <= ALIKE, keys
        table.get_by_role("button", name="Undo").click()
    assert table.evaluate("combine.recipe().element[0].scale") == 1


def test_a_drag_changes_its_place_and_is_one_step_of_undo(table: Any) -> None:
    blank(table, "width, per cent of the look's", "50 %")
    box = table.locator("#look").bounding_box()
    middle = [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2]
    table.mouse.move(*middle)
    table.mouse.down()
    for step in (1, 2, 3):
        table.mouse.move(middle[0] - step * box["width"] / 12, middle[1] + box["height"] / 8)
    table.mouse.up()
    at = table.evaluate("combine.recipe().element[0].at")
    assert at == pytest.approx([0.25, 0.625], abs=0.01)
    table.keyboard.press("ArrowRight")
    table.keyboard.press("Shift+ArrowUp")
    moved = table.evaluate("combine.recipe().element[0].at")
    assert moved == pytest.approx([at[0] + 0.01, at[1] - 0.001], abs=1e-4)
    field = table.get_by_label("Element 1: middle across, per cent of the look")
    table.wait_for_function(READY)
    assert float(field.input_value()) == pytest.approx(100 * moved[0], abs=0.01)
    table.get_by_role("button", name="Undo").click()
    assert table.evaluate("combine.recipe().element[0].at") == at
    table.get_by_role("button", name="Undo").click()
    assert table.evaluate("combine.recipe().element[0].at") == [0.5, 0.5]


def test_dirty_black_is_told_and_marked(table: Any) -> None:
    """Code 5 against 3: log2 of 5/3 over the straight piece of the curve is 0.7 stop."""
    told = table.locator("#elements .wrong")
    assert "backdrop code 5.0" in told.inner_text()
    assert "not clean, 0.7 stops over" in told.inner_text()
    plain = shown(table)
    for name in ("three stops up", "the element alone", "mark its light over code 3"):
        table.get_by_label(name).check()
    striped = shown(table)
    inside = striped[30:45, 20:40].reshape(-1, 3)
    marks = {tuple(each) for each in inside.tolist()}
    assert {(0.0, 0.0, 0.0), (240.0, 200.0, 105.0)} <= marks
    for name in ("three stops up", "the element alone", "mark its light over code 3"):
        table.get_by_label(name).uncheck()
    blank(table, "gain in stops", "−1")
    table.wait_for_function(
        "document.querySelector('#elements .wrong').textContent.includes(': clean')"
    )
    table.get_by_role("button", name="Undo").click()
    assert np.array_equal(shown(table), plain)


def test_screen_is_shown_beside_adding_with_its_difference(still: Served, table: Any) -> None:
    table.get_by_label("add and screen side by side").check()
    both = shown(table)
    half = LOOK[0] // 2
    added = made(still, table)
    table.get_by_label("Element 1: the way it is laid over").select_option(label="screened")
    screened = made(still, table)
    assert np.abs(both[:, :half] - added[:, :half]).max() <= ALIKE
    assert np.abs(both[:, half:] - screened[:, half:]).max() <= ALIKE
    table.get_by_label("add and screen side by side").uncheck()
    recipe = Recipe.model_validate(table.evaluate("combine.recipe()") | {"out": "x.png"})
    truth = make(recipe, still.file.parent).report.elements[0].screen.median_stops
    assert truth is not None
    words = f"{abs(truth):.2f} stop {'brighter' if truth > 0 else 'darker'} than light adds"
    table.locator("#elements").get_by_text(words).wait_for()
    table.get_by_role("button", name="Undo").click()


def test_the_result_is_kept_with_its_recipe_and_never_over_another(
    still: Served, table: Any
) -> None:
    table.get_by_label("Name of the result").fill("laid")
    table.get_by_role("button", name="Save result").click()
    table.wait_for_function("document.querySelector('#kept').textContent.includes('are kept')")
    folder = still.file.parent
    kept = tomllib.loads((folder / "laid.toml").read_text())
    assert kept["element"][0]["scale"] == table.evaluate("combine.recipe().element[0].scale")
    before = (folder / "laid.tif").read_bytes()
    table.get_by_role("button", name="Save result").click()
    table.wait_for_function("document.querySelector('#kept').textContent.includes('there already')")
    assert (folder / "laid.tif").read_bytes() == before
    table.get_by_label("A recipe to go on with").select_option(label="laid.toml")
    table.wait_for_function(READY)


def test_axe_finds_nothing_and_nothing_sticks_out(table: Any) -> None:
    """axe-core, the usual independent check of a page for people with disabilities."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed"
    )
    table.locator("#elements summary").click()
    found = axe.Axe().run(table).response["violations"]
    assert [(each["id"], each["nodes"][0]["html"]) for each in found] == []
    for width, height in [(1440, 900), (1024, 768), (820, 1180)]:
        table.set_viewport_size({"width": width, "height": height})
        assert table.evaluate("document.documentElement.scrollWidth") <= width
