"""What is told and chosen now and then: a sitter in the making, two hands on a file, downloads."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from render.page import making
from tests.page.conftest import Served, until

PNG = b"\x89PNG\r\n\x1a\n"  # ISO/IEC 15948, 5.2
# Of two lights and a wish; each drawing was six stops and each sentence a dozen. A choice.
MOST_STOPS = 55


def scene(served: Served) -> dict[str, Any]:
    return tomllib.loads(served.session.document.text)


def test_a_sitter_in_the_making_is_told_until_she_is_there(
    still: Served, sheet: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(making, "is_made", lambda sitter: sitter.hair != "long")
    monkeypatch.setattr(making, "COMMAND", ["sleep", "60"])  # nobody is made here
    sheet.evaluate("document.querySelector('#sitting details').open = true")
    sheet.get_by_label("Sitter, hair", exact=True).select_option('"long"')
    told = "document.querySelector('#tracing').textContent.includes('being made')"
    sheet.wait_for_function(told)
    assert scene(still)["sitter"]["hair"] == "long"
    assert sheet.evaluate("tenthstop.set.current().sitter !== null")  # another one sits there
    sheet.get_by_role("button", name="Undo").click()
    sheet.wait_for_function(f"!{told}")
    assert "hair" not in scene(still)["sitter"]


def test_where_two_changed_the_same_each_key_is_chosen(still: Served, sheet: Any) -> None:
    sheet.evaluate("tenthstop.set.command('save')")
    until(lambda: still.session.document.saved)
    saved = still.file.read_text(encoding="utf-8")
    power = tomllib.loads(saved)["light"]["key"]["power"]
    still.file.write_text(
        saved.replace(f'power = "{power}"', 'power = "1/64"', 1).replace(
            "iso_speed = 100", "iso_speed = 200"
        ),
        encoding="utf-8",
    )
    dial = sheet.get_by_label("key, power as on the dial")
    dial.fill("1/2")
    dial.press("Enter")
    sheet.get_by_label("ISO speed").select_option("400")
    until(lambda: scene(still)["light"]["key"]["power"] == "1/2")
    sheet.get_by_role("button", name="Save", exact=True).click()
    told = sheet.locator("#disk")
    told.get_by_role("button", name="Put my changes on top of it").click()
    told.get_by_label("light key power").select_option("theirs")
    told.get_by_label("camera iso speed").select_option("mine")
    told.get_by_role("button", name="Merge like this").click()
    told.wait_for(state="hidden")
    assert scene(still)["light"]["key"]["power"] == "1/64"
    assert scene(still)["camera"]["iso_speed"] == 400
    sheet.get_by_role("button", name="Undo").click()
    until(lambda: scene(still)["light"]["key"]["power"] == "1/2")


def test_the_picture_is_loaded_under_the_name_of_the_scene(page: Any) -> None:
    page.wait_for_function(
        "tenthstop.set.current().lights.every(({ frame }) => frame.samples === frame.of)"
    )
    with page.expect_download() as loading:
        page.locator("#download").click()
    assert loading.value.suggested_filename == "two-look.png"
    assert Path(loading.value.path()).read_bytes().startswith(PNG)


def test_a_series_is_told_what_is_wrong_and_loaded(page: Any) -> None:
    page.locator("#along summary").click()
    page.get_by_label("What changes").select_option(label="key, power")
    values, told = page.get_by_label("Its values"), page.locator("#series [role=status]")
    start = page.get_by_role("button", name="Make the sheet")
    for said, wrong in [("1/8, far", "far"), ("1/8", "2 to 5"), ("1/8, 1/8", "twice")]:
        values.fill(said)
        start.click()
        told.filter(has_text=wrong).wait_for()
    values.fill("1/8, 1/4 and 1/2")
    with page.expect_download() as loading:
        start.click()
    assert loading.value.suggested_filename == "two-key-power.png"
    assert Path(loading.value.path()).read_bytes().startswith(PNG)


def test_few_stops_of_the_tab_key_lead_to_all(sheet: Any, page: Any) -> None:
    page.evaluate("for (const each of document.querySelectorAll('details')) each.open = false")
    stops = page.evaluate(
        "[...document.querySelectorAll('a[href], button, input, select, summary, [tabindex]')]"
        ".filter((each) => each.checkVisibility() && !each.disabled && each.tabIndex >= 0).length"
    )
    assert stops <= MOST_STOPS
    inside = "document.activeElement.closest('g[data-thing]')?.dataset.thing"
    sheet.locator('g[data-view="plan"][tabindex="0"]').first.focus()
    seen = set()
    for _ in range(16):  # more than there are things and handles
        sheet.keyboard.press("End")
        seen.add(sheet.evaluate(inside))
    drawn = "[...document.querySelectorAll('g[data-view=plan]')].map((g) => g.dataset.thing)"
    assert seen == set(sheet.evaluate(drawn))
    sheet.keyboard.press("Home")
    assert sheet.evaluate(inside)
