"""What can be changed is what the scene file would say: read back from it, nothing else moves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.errors import OutputError, SceneError
from render.folders import scene_names
from render.layout import place
from render.plan.balance.balance import balance
from render.plan.changes import camera, fronts, lights, room
from render.plan.changes.settings import Setting, Step, changed, merged, of_light, together
from render.report import meter
from render.scenefile import Setup, load_scene
from render.scenefile.write import write_keys

SET = """# a set for tests
title = "bench"
[room]   # small
width_m = 3.2
depth_m = 4.6
height_m = 2.4
[backdrop]
gap_m = 1.3
reflectance = 0.18  # grey
[sitter]
model = "alma"
[camera]
f_number = 8
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/4 -0.3"   # to begin with
azimuth_deg = -45
distance_m = 1.2
aim = [0.4, 1.15, 0.6]

# the hair light
[light.hair]
flash = "hot-shoe-60"
modifier = "reflector-standard"
grid = "honeycomb-40"
nd = 0.3
power = "1/8"
azimuth_deg = 140
distance_m = 1.0
[light.background]
flash = "monobloc-200"
size_cm = [20, 60]
position_m = [-0.9, 1.0, -0.5]
aim = [0.1, 1.3, -1.3]
[wanted]
face = { point = "key_cheek", f_number = 8 }
paper = { point = "backdrop_centre", stops = -2 }
"""


@pytest.fixture
def bench(tmp_path: Path) -> Setup:
    file = tmp_path / "bench.toml"
    file.write_text(SET)
    return load_scene(file)


def every_step(setup: Setup) -> Iterator[Step | None]:
    """One of each kind, where the set takes it."""
    yield lights.turned(setup, "key", -1.05)
    yield lights.turned(setup, "hair", 1.0)
    yield lights.switched_off(setup, "hair")
    yield lights.other_head(setup, "key", 0.4)
    yield lights.aimed_back(setup, "key")
    yield lights.feathered(setup, "key")
    yield lights.distance(setup, "key", 0.8)
    yield lights.moved_round(setup, "key", 15)
    yield from fronts.grids(setup, "key")
    yield from fronts.grids(setup, "background")
    yield fronts.ungridded(setup, "hair")
    yield fronts.neutral_sheet(setup, "key", 1.2)
    yield fronts.no_sheet(setup, "hair")
    yield fronts.cloths(setup, "key", 1)
    yield room.flag(setup, "hair", "backdrop_centre", (45, 90), 0.4)
    yield room.beside(setup, "black", 1.0)
    yield room.gap(setup, 0.5)
    yield room.other_grey(setup, ["backdrop_centre"], 1.0)
    yield from room.papers(setup, ["backdrop_centre"], 0.5, 2)
    yield room.draped(setup, ["ceiling", "camera-left wall"])
    yield camera.other_speed(setup, 1.0)
    yield camera.other_aperture(setup, -1.0)


def test_every_step_is_read_back_from_the_file_as_it_was_tried(bench: Setup) -> None:
    """Truth: the reader of scene files; comments stay, and so do all keys that are not named."""
    tried = [step for step in every_step(bench) if step is not None]
    assert len(tried) == 25
    for step in tried:
        bench.file.write_text(SET)
        write_keys(bench, {each.key: each.value for each in step.settings})
        assert load_scene(bench.file).scene == changed(bench, step.settings).scene, step.name
        text = bench.file.read_text()
        assert all(words in text for words in ("# a set for tests", "# small", "# the hair light"))
        lines = set(SET.splitlines()) - set(text.splitlines())
        assert len(lines) <= len(step.settings), step.name


def test_no_settings_change_nothing() -> None:
    for name in scene_names():
        setup = load_scene(name)
        assert changed(setup, []).scene == setup.scene


def test_a_value_that_a_scene_file_may_not_have_is_refused(bench: Setup) -> None:
    with pytest.raises(SceneError, match=r"backdrop\.gap_m") as problem:
        changed(bench, [Setting("backdrop.gap_m", 40.0)])
    assert "\n" not in str(problem.value)


def settings_of(step: Step | None) -> dict[str, Any]:
    assert step is not None
    return {each.key: each.value for each in step.settings}


@pytest.mark.parametrize(
    ("light", "more", "power"),
    [
        ("key", -0.55, "1/8 +0.1"),  # a quarter less 0.3 stop, in tenths
        ("key", 9.0, "1/1"),  # no head goes past full
        ("key", -9.0, "1/64"),  # six stops is its range
        ("hair", 0.4, "1/8 +0.67"),  # thirds: two clicks
        ("hair", -0.33, "1/16 +0.67"),
    ],
)
def test_a_dial_goes_to_the_next_click(bench: Setup, light: str, more: float, power: str) -> None:
    assert settings_of(lights.turned(bench, light, more)) == {f"light.{light}.power": power}


def test_a_dial_at_its_end_goes_no_further(bench: Setup) -> None:
    assert lights.turned(bench, "background", 1.0) is None
    fixed = changed(bench, of_light("key", fixed=True))
    assert lights.turned(fixed, "key", 1.0) is None


def test_grids_close_at_the_tangent_of_cell_over_depth(bench: Setup) -> None:
    """atan(4.2/5) = 40.0 and atan(2.9/5) = 30.1 degrees; metal gets honeycombs, narrower ones."""
    assert [settings_of(step)["light.key.grid"] for step in fronts.grids(bench, "key")] == [
        *("fabric-40", "fabric-30"),
    ]
    assert [settings_of(step)["light.hair.grid"] for step in fronts.grids(bench, "hair")] == [
        "honeycomb-30"
    ]
    umbrella = changed(bench, of_light("key", modifier="umbrella-silver-100"))
    assert fronts.grids(umbrella, "key") == ()


def test_another_paper_leaves_the_tone_that_is_wanted(bench: Setup) -> None:
    """0.18 to 0.09 is one stop less: -2 on the old paper is -1 on the new."""
    step = room.papers(bench, ["backdrop_centre"], 0.5, 1)[0]
    assert settings_of(step) == {
        "backdrop.colour": "dark-grey-paper",
        "backdrop.reflectance": None,
        "wanted.paper.stops": -1.0,
    }
    paler = room.papers(bench, [], 2.0, 1)[0]
    assert settings_of(paler)["backdrop.colour"] == "light-grey-paper"
    assert "wanted.paper.stops" not in settings_of(paler)


def test_a_background_light_stays_with_the_backdrop(bench: Setup) -> None:
    """A wider gap moves the sitter: the light is as far from the paper as before."""

    def from_paper(setup: Setup) -> np.ndarray:
        layout = place(setup, spots=False)
        front = next(front for front in layout.fronts if front.name == "background")
        sheet = next(sheet for sheet in layout.sheets if sheet.kind == "backdrop")
        return np.array([*(front.centre_m - sheet.centre_m), *front.normal])

    without = changed(bench, [Setting("sitter", None), Setting("wanted", None)])
    step = room.gap(without, 0.4)
    assert step is not None
    wider = changed(without, step.settings)
    np.testing.assert_allclose(from_paper(wider), from_paper(without), atol=1e-9)


def test_the_same_in_another_amount(bench: Setup) -> None:
    """`again` takes stops of distance for a light: one stop nearer is 1/sqrt(2)."""
    step = lights.distance(bench, "key", 0.8)
    assert step is not None
    assert step.again is not None
    there = settings_of(step.again(-0.5))["light.key.distance_m"]
    assert there == pytest.approx(1.2 / math.sqrt(2), abs=0.01)


def test_of_two_values_for_a_key_the_last_is_kept() -> None:
    both = merged([*of_light("key", grid=None, power="1/2"), *of_light("key", power="1/4")])
    assert [(each.key, each.value) for each in both] == [
        ("light.key.grid", None),
        ("light.key.power", "1/4"),
    ]
    steps = [Step("one", 1, both), Step("two", 4, of_light("key", grid="fabric-40"))]
    assert together(steps).effort == 5
    assert together(steps).settings[0] == Setting("light.key.grid", "fabric-40")


@pytest.mark.parametrize("style", ["lines", "braces"])
def test_new_keys_go_into_tables_and_braces(tmp_path: Path, style: str) -> None:
    fields = 'flash = "monobloc-400", size_cm = [40, 40], azimuth_deg = 0, distance_m = 1'
    lines = "[light.key]\n" + fields.replace(", size", "\nsize").replace(", azi", "\nazi")
    braces = f"light = {{ key = {{ {fields} }} }}  # mine"
    light = lines.replace(", dist", "\ndist") if style == "lines" else braces
    file = tmp_path / "mine.toml"
    file.write_text(f'title = "mine"\n{light}\n\n# where\n[point.p]\nposition_m = [0, 1, 0]\n')
    setup = load_scene(file)
    guards = {"light": "key", "point": "p", "distance_m": 0.3}
    panel = {"kind": "black", "size_cm": [45, 90], "guards": guards}
    settings = [Setting("light.key.nd", 0.6), Setting("panel.flag", panel)]
    write_keys(setup, {each.key: each.value for each in settings})
    text = file.read_text()
    assert load_scene(file).scene == changed(setup, settings).scene
    assert text.index("nd = 0.6") < text.index("# where") < text.index("[point.p]")


def test_what_cannot_be_read_back_is_not_written(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(SET)
    with pytest.raises(OutputError, match="stays as it was"):
        write_keys(load_scene(file), {"light.key.power": "twice"})
    assert file.read_text() == SET


WEAK = """
title = "too weak, and its spill too bright"
[camera]
f_number = 8
[light.key]
flash = "monobloc-400"
size_cm = [40, 40]
power = "1/2"  # of now
azimuth_deg = -45
distance_m = 1.2
[point.face]
position_m = [0, 1.2, 0]
[point.far]
position_m = [0, 1.2, -2]
[wanted]
face = { point = "face", f_number = 40 }
far = { point = "far", stops = -4.5 }
"""


def test_a_written_cure_of_balance_gives_by_the_meter_what_it_promised(tmp_path: Path) -> None:
    """Among them two cures together; dials in tenths, so nothing is lost in the markings."""
    file = tmp_path / "weak.toml"
    file.write_text(WEAK)
    setup = load_scene(file)
    cures = balance(setup, bounce=False).cures
    assert any(", and " in cure.text for cure in cures)
    for cure in cures:
        file.write_text(WEAK)
        write_keys(setup, {each.key: each.value for each in cure.settings})
        assert "# of now" in file.read_text()
        for wish, row in zip(
            cure.wishes, meter(load_scene(file), bounce=False).wishes, strict=True
        ):
            assert row.miss_stops == pytest.approx(wish.missed_stops, abs=1e-6), cure.text
