"""A change is none where its lamp or panel would stand in the picture or in a wall.

Edges of the frame by the pinhole: at a distance d before the lens a sensor of height h behind a
focal length f takes in d h / f, half of it on either side of the axis.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from render.layout import place
from render.plan.changes.objections import in_the_way_after
from render.plan.changes.settings import Setting, changed
from render.scenefile import Setup, load_scene

# Lens at 1.2 m, level, 2 m from a sitter's place, sensor of 36 mm upright, 100 mm: at 1 m before
# the lens the picture is 36 cm high and 24 cm wide.
SET = """
title = "bench"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
[camera]
distance_m = 2.0
height_m = 1.2
aim_height_m = 1.2
frame = "upright"
focal_length_mm = 100
[point.face]
position_m = [0, 1.2, 0]
[light.lamp]
flash = "monobloc-400"
size_cm = [20, 20]
power = "1/4"
azimuth_deg = 90
distance_m = {distance}
[wanted]
face = {{ point = "face", f_number = 8 }}
"""


def bench(folder: Path, distance: float) -> Setup:
    file = folder / "bench.toml"
    file.write_text(SET.format(distance=distance))
    return load_scene(file)


def words(setup: Setup, *settings: Setting) -> list[str]:
    after = changed(setup, settings)
    faults = in_the_way_after((setup, place(setup)), (after, place(after)), settings)
    return [fault.words for fault in faults]


@pytest.mark.parametrize(
    ("distance", "fault"),
    [
        # The frame's edge is 0.24 m from the axis in the sitter's plane, less before it: the front,
        # which looks along x, is 20 cm deep along the axis and so 0.228 m from it at its nearest.
        (0.2, "the lamp light would be in the frame"),
        (0.27, "the lamp light would be 3 cm from the frame"),
        (0.4, None),
        # the wall is 1.6 m away, and the head is behind the front
        (1.5, "the lamp light would be"),
    ],
)
def test_a_moved_lamp(tmp_path: Path, distance: float, fault: str | None) -> None:
    told = words(bench(tmp_path, 0.8), Setting("light.lamp.distance_m", distance))
    assert len(told) == (fault is not None)
    if fault is not None:
        assert told[0].startswith(fault)


def test_a_lamp_that_was_in_the_frame_may_go_out_of_it_but_not_farther_in(tmp_path: Path) -> None:
    setup = bench(tmp_path, 0.22)
    assert words(setup, Setting("light.lamp.distance_m", 0.4)) == []


def test_a_panel_in_the_picture(tmp_path: Path) -> None:
    def panel(x: float) -> Setting:
        keys = {"size_cm": [30, 40], "position_m": [x, 1.2, 0.3], "facing": [0, 1.2, 0]}
        return Setting("panel.white", keys)

    setup = bench(tmp_path, 0.8)
    assert words(setup, panel(0.1)) == ["the white panel would be in the frame"]
    assert words(setup, panel(0.6)) == []
