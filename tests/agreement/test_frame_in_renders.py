"""The frame test against path-traced pictures of a lamp painted in a signal colour."""

import pickle
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.emission import Front
from render.layout.lens import view
from render.plan.checks.frustum import Frustum, clipped
from render.plan.checks.in_frame import covered_share, solid_things
from render.studio.camera import Camera
from render.trace import Engine
from tests import sets
from tests.agreement.test_traced_shapes import run

EYES = np.array([0.0, 1.2, 0.0])
CAMERA = Camera(distance_m=1.7, height_m=1.2, aim_height_m=1.2, focal_length_mm=100, crop="4:5")
# A pinhole, as the frame test takes the lens; out of focus, a lamp would show a little earlier.
LENS = replace(view(CAMERA, EYES, EYES), f_number=1e4)
SIZE = (48, 60)
DEEP_M = (0.04, 0.01, -0.01)  # of the deepest corner inside an edge of the frame; below 0 outside
FACINGS = ([0.3, -0.2, 1], [-1, 0.2, 0.4], [0.5, 0.6, -1], [0.1, -1, 0.3])


def at_side(side: int, deep_m: float) -> Front:
    """A soft box whose deepest corner is so far inside one edge of the frame."""
    frustum = Frustum.of(LENS)
    front = sets.front(FACINGS[side], EYES + [0, 0, -0.2], width_m=0.25, height_m=0.35)
    heights = frustum.heights(solid_things(sets.layout(front))["light.key"][0])[:, side]
    move = (deep_m - heights.max()) * frustum.inward[side]
    return replace(front, centre_m=front.centre_m + move)


def test_the_signal_colour_is_in_the_picture_where_the_lamp_is_in_the_pyramid(
    engine: Engine, tmp_path: Path
) -> None:
    """Truth: the tracer's camera and its rays, which know nothing of planes and clipping."""
    lamps = [at_side(side, deep) for side in range(4) for deep in DEEP_M]
    file = tmp_path / "lamps.pickle"
    file.write_bytes(pickle.dumps([(sets.layout(lamp), LENS, SIZE) for lamp in lamps]))
    shares = run("tests.agreement.signal_lamp", engine, file)
    verdicts = []
    for lamp, share in zip(lamps, shares, strict=True):
        mesh = solid_things(sets.layout(lamp))["light.key"]
        inside = bool(clipped(Frustum.of(LENS), mesh))
        assert inside == (share > 0), lamp
        assert share == pytest.approx(covered_share(LENS, mesh, (None,)), abs=0.002)
        verdicts.append(inside)
    assert sum(verdicts) == 2 * len(FACINGS)
