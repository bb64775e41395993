"""Stands are drawn with their legs clear of the walls wherever the check finds that they can be."""

from pathlib import Path

import numpy as np
import pytest

from render.layout import place
from render.plan.checks.finding import Context
from render.plan.checks.legs import turned_legs
from render.plan.checks.rig import Rig, rigs
from render.plan.checks.stands import check_feet
from render.scenefile import load_scene

LIGHT = """
title = "By the wall"
[room]
width_m = 3
depth_m = 4
height_m = 2.4
back_wall_m = 2
[point.face]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
[light.key]
size_cm = [10, 10]
luminous_energy_lm_s = 1000
position_m = {place}
aim = {aim}
"""


def stood(folder: Path, place_m: list[float], aim: list[float]) -> tuple[Rig, np.ndarray, str]:
    """The rig, the room and the verdict on its stand."""
    file = folder / "wall.toml"
    file.write_text(LIGHT.format(place=place_m, aim=aim))
    setup = load_scene(file)
    box = np.array([[-1.5, 0, -2], [1.5, 2.4, 2]])
    (rig,) = rigs(setup, place(setup))
    found = next(each for each in check_feet(Context(setup)) if each.check == "stand")
    return rig, box, found.verdict


def least_overshoot(rig: Rig, box: np.ndarray) -> float:
    """Every turn of the tripod by a tenth of a degree, tried by hand."""
    turns = np.radians(np.arange(0, 120, 0.1))[:, None] + np.radians([0, 120, 240])
    x = rig.foot_m[0] + rig.leg_radius_m * np.sin(turns)
    z = rig.foot_m[2] + rig.leg_radius_m * np.cos(turns)
    over = np.maximum.reduce([box[0, 0] - x, x - box[1, 0], box[0, 2] - z, z - box[1, 2]])
    return max(0.0, float(over.max(1).min()))


@pytest.mark.parametrize(
    ("x", "z", "clear"),
    [
        (0.0, 0.0, True),
        (-1.1, 0.3, True),
        (-1.2, 0.3, False),
        (-1.1, -1.4, True),
        (-1.15, -1.65, False),
    ],
)
def test_legs_stand_clear_as_the_check_says(
    tmp_path: Path, x: float, z: float, clear: bool
) -> None:
    rig, box, verdict = stood(tmp_path, [x, 1.6, z], [0.9, 1.2, 1.0])
    legs = turned_legs(rig, box)
    assert legs.over_m == pytest.approx(least_overshoot(rig, box), abs=0.01)
    assert (legs.over_m < 0.01) is clear
    assert verdict == ("fine" if clear else "wrong")
    lengths = np.linalg.norm(legs.ends_m - rig.foot_m * [1, 0, 1], axis=1)
    assert lengths == pytest.approx(rig.leg_radius_m)


def test_a_leg_lies_under_the_load_in_the_open(tmp_path: Path) -> None:
    rig, box, _ = stood(tmp_path, [0.2, 1.6, 0.3], [0.9, 1.2, 1.0])
    ahead = np.array([0.9 - 0.2, 0, 1.0 - 0.3])
    first = turned_legs(rig, box).ends_m[0] - rig.foot_m * [1, 0, 1]
    assert first / np.linalg.norm(first) == pytest.approx(ahead / np.linalg.norm(ahead), abs=1e-6)
