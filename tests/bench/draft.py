"""A first look with a running engine, a change of power, a moved light; closed-form readings.

`python -m tests.bench.draft` prints JSON; CPU times of this process and the tracer's.
"""

from __future__ import annotations

import json
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from render.layout import Layout, place
from render.predict import Obstacles, aims, direct_exposure
from render.scenefile import load_scene
from render.trace import Engine, FrameStore, light_frames
from tests.bench.clock import least_s, taken_s

SCENE, POINTS, REPEATS = "violin-two-lights", 12, 5
DRAFT_PX, QUICK_PX = (480, 600), (240, 300)
OFF_CLOTH_M = 2e-3  # a meter's disc over the skin


def closed_form(layout: Layout) -> dict[str, float]:
    """Readings of 12 points by 2 lights, each aimed at its light, with shadow rays."""
    points = layout.points[:POINTS]
    places = np.array([point.position_m + OFF_CLOTH_M * point.normal for point in points])
    axes = np.stack([aims(places, front) for front in layout.fronts], 1)
    built, _ = taken_s(lambda: Obstacles.of(layout))
    obstacles = Obstacles.of(layout)
    read = least_s(
        lambda: direct_exposure(layout, places, axes, "flat", obstacles=obstacles), REPEATS
    )
    return {"closed_form_12_points_2_lights_s": read, "their_ray_scene_built_once_s": built}


def frames(layout: Layout, size: tuple[int, int]) -> dict[str, float]:
    """Draft with hair, then a power change, then one light moved; one engine, fresh store."""
    key, hair = layout.fronts
    louder = replace(key, luminous_energy_lm_s=2e3)
    moved = replace(key, centre_m=key.centre_m + [-0.05, 0.0, 0.0])
    found: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder, Engine("llvm") as engine:
        store = FrameStore(Path(folder))
        # The first frame of a worker compiles; it is thrown away so that the rest is warm.
        light_frames(layout, 4, size, FrameStore(Path(folder) / "first"), engine)
        for name, made in (
            (f"draft_{size[0]}x{size[1]}_two_lights", layout),
            ("power_change", replace(layout, fronts=(louder, hair))),
            ("key_moved", replace(layout, fronts=(moved, hair))),
        ):
            kept = len(store.entries())
            spent, _ = taken_s(lambda made=made: light_frames(made, "draft", size, store, engine))
            found[f"{name}_s"] = spent
            found[f"{name}_new_frames"] = len(store.entries()) - kept
    return found


def main() -> None:
    layout = place(load_scene(SCENE))
    size = QUICK_PX if "--quick" in sys.argv else DRAFT_PX
    print(json.dumps(closed_form(layout) | frames(layout, size)))


if __name__ == "__main__":
    main()
