"""A ray starts so near its surface that a low edge beside it keeps grazing light off."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from render.trace import Engine
from render.trace.choice import worker_environment

# A floor as far from the middle of the room as a sitter's face is high, and a wall of 0.15 mm on
# it, 1 mm from a point: light from less than atan(0.15) = 8.5 degrees above it is kept off.
GRAZE = """
import json, sys
import mitsuba as mi
import numpy as np
mi.set_variant(sys.argv[1])
import drjit as dr
from render.trace.meshes import mesh
from render.trace.starts import leaving, shadow_ray
grey = {"type": "twosided", "inner": {"type": "diffuse"}}
both = [[0, 1, 2], [0, 2, 3]]
floor = mesh("floor", [[-1, 2, -1], [-1, 2, 1], [1, 2, 1], [1, 2, -1]], both, grey)
top = 2.00015
wall = [[1e-3, 2, -1], [1e-3, 2, 1], [1e-3, top, 1], [1e-3, top, -1]]
low = mesh("wall", wall, both, grey)
scene = mi.load_dict({"type": "scene", "floor": floor, "low": low}, optimize=False)
angle = dr.deg2rad(mi.Float([1, 5, 10, 45, 179, 181, 270]))
way = mi.Vector3f(dr.cos(angle), dr.sin(angle), 0)
down = mi.Ray3f(mi.Point3f(0, 3, 0.1), mi.Vector3f(0, -1, 0))
si = scene.ray_intersect(down)
ahead = scene.ray_test(leaving(si, way))
shadow = scene.ray_test(shadow_ray(si, si.p + 0.4 * way))
through = mi.Ray3f(mi.Point3f(0.5, 2.5, 0.1), mi.Vector3f(0, -1, 0))
under = leaving(scene.ray_intersect(through), through.d)
print(json.dumps([np.array(ahead).tolist(), np.array(shadow).tolist(), scene.ray_test(under)[0]]))
"""
KEPT_OFF = [True, True, False, False, False, False, False]


@pytest.fixture(scope="module")
def rays(engine: Engine) -> list[list[bool]]:
    if engine.name == "scalar":
        pytest.skip("the plain engine starts its rays as it likes")
    run = subprocess.run(
        [sys.executable, "-c", GRAZE, engine.choice.variant],
        env=worker_environment(engine.choice),
        capture_output=True,
        text=True,
        check=True,
    )
    found: list[list[bool]] = json.loads(run.stdout)
    return found


def test_a_low_wall_keeps_grazing_light_off(rays: list[list[bool]]) -> None:
    ahead, shadow, _ = rays
    assert ahead == KEPT_OFF
    assert shadow == KEPT_OFF


def test_a_ray_leaves_on_the_side_to_which_it_goes(rays: list[list[bool]]) -> None:
    assert rays[2] is False
