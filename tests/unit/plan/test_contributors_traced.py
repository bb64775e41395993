"""Who lights a wall of paper in a pale room: parts, and a cure measured again with more paths."""

import math
from pathlib import Path

import numpy as np
import pytest

from render.plan.changes.settings import Setting, changed
from render.plan.who.cheapest import cheapest
from render.plan.who.contributors import who
from render.report import meter
from render.scenefile import Setup, load_scene
from render.trace import Engine

ROOM = """
title = "paper in a pale room"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
walls = 0.7
ceiling = 0.8
[backdrop]
gap_m = 1.3
width_m = 1.35
reflectance = 0.18
[camera]
f_number = 4
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/8"
azimuth_deg = -45
elevation_deg = 28
distance_m = 1.2
[light.hair]
flash = "monobloc-200"
modifier = "snoot"
power = "1/4"
position_m = [0.8, 2.1, -0.6]
aim = [0, 1.3, 0]
[point.face]
position_m = [0, 1.2, 0.1]
[wanted]
face = { point = "face", f_number = 5.6 }
paper = { point = "backdrop_centre", stops = -3 }
"""


@pytest.fixture
def room(tmp_path: Path) -> Setup:
    file = tmp_path / "room.toml"
    file.write_text(ROOM)
    return load_scene(file)


def test_parts_add_up_to_what_the_meter_shows(room: Setup, engine: Engine) -> None:
    """Truth: the meter table, which reads the same place in a run of its own."""
    found, taken = who(room, [], engine=engine)
    assert [lit.point for lit in found.points] == ["backdrop_centre", "face"]
    table = {(row.point, row.lights): row for row in meter(room).readings}
    for lit in found.points:
        parts = sum(part.luminous_exposure_lx_s for part in lit.parts)
        shown = table[lit.point, "all"]
        error = shown.standard_error_stops + lit.standard_error_stops
        assert abs(math.log2(parts / shown.luminous_exposure_lx_s)) < 4 * error
        assert error < 0.03
    assert taken.measured.by_surface.sum(-1) == pytest.approx(taken.measured.bounce, rel=1e-6)


def test_what_is_listed_holds_when_it_is_done(room: Setup, engine: Engine) -> None:
    """Truth: each listed change set in the scene and measured anew with twice the paths."""
    _, taken = who(room, [], engine=engine)
    (cures,) = cheapest(taken, None, engine=engine)
    assert not cures.met
    assert {cure.effort for cure in cures.cures} >= {3, 4, 6}  # grid, flag, gap
    for cure in cures.cures:
        found, _ = who(changed(room, cure.settings), [], engine=engine, samples=4096)
        tone = next(lit.tone for lit in found.points if lit.tone)
        listed = cure.points[0].code
        error = cure.standard_error_stops + found.points[0].standard_error_stops
        stops = np.log2((tone.code + 14.0) / (listed + 14.0)) * 2.4  # sRGB's power law, nearly
        assert abs(stops) < 4 * error + 0.01
        assert abs(cure.face_stops) < 0.1  # half a step of the dial is 0.05


def test_black_cloth_on_a_wall_takes_away_what_came_by_it(room: Setup, engine: Engine) -> None:
    """A wall of 0.04 for one of 0.7 gives 0.04 / 0.7 of the light by it, and less by the others."""
    before, _ = who(room, ["backdrop_centre"], engine=engine)
    cloth = changed(room, [Setting("room.ceiling", 0.04)])
    after, _ = who(cloth, ["backdrop_centre"], engine=engine)

    def by_ceiling(found) -> float:
        parts = found.points[0].parts
        return sum(p.luminous_exposure_lx_s for p in parts if p.way == "ceiling")

    assert by_ceiling(after) < by_ceiling(before) * 0.04 / 0.8
    straight = [
        next(p.luminous_exposure_lx_s for p in found.points[0].parts if p.way == "straight")
        for found in (before, after)
    ]
    assert straight[0] == pytest.approx(straight[1], rel=1e-9)
