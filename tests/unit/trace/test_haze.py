"""Dust as the camera sees it: how much there is, how bright, what it hides."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.errors import EngineError
from render.layout.coverage import hidden_share
from render.layout.dust_grid import density_grid
from render.layout.lens import view
from render.layout.placed import Cloud
from render.photometry.scattering import FORWARD
from render.studio.camera import Camera
from render.trace import Engine, FrameStore, light_frames
from render.trace.frames import in_quality
from render.trace.stage import stage_of
from tests import sets

FAR_M = 6.0
MIDDLE = np.array([0.0, 1.2, 0.0])
LENS = replace(
    view(
        Camera(distance_m=FAR_M, height_m=1.2, aim_height_m=1.2, focal_length_mm=300, crop="1:1"),
        MIDDLE,
        MIDDLE,
    ),
    f_number=64.0,
)
SIDE_M = LENS.frame_width_m / LENS.image_m * FAR_M  # of the frame at the cloud


def cloud(hidden_m2: float, scattered: float, wide_m: float) -> Cloud:
    """Dust in many puffs, evenly thrown in a thin square before the camera."""
    rng = np.random.default_rng(1)
    count = 300
    return Cloud(
        name="dust",
        kind="dust",
        centres_m=MIDDLE + (rng.random((count, 3)) - 0.5) * [wide_m, wide_m, 0.02],
        sizes_m=np.full(count, 0.1 * wide_m),
        turns=np.tile(np.eye(3), (count, 1, 1)),
        looks=np.zeros((count, 8)),
        reflectance=(scattered, scattered, scattered / 2),
        through=(0.0, 0.0, 0.0),
        refractive_index=1.0,
        hides_m2=np.full(count, hidden_m2 / count),
    )


def test_the_grid_holds_all_dust() -> None:
    """What is hidden per metre, summed over the box, is the area that was stated."""
    made = cloud(3e-3, 0.8, 0.1)
    grid, low, high = density_grid((made, replace(made, centres_m=made.centres_m + 0.05)))
    cell = float(np.prod((high - low) / grid.shape[2::-1]))
    assert cell * grid[..., 0].sum() == pytest.approx(6e-3, rel=1e-5)
    assert cell * grid[..., 1].sum() == pytest.approx(0.8 * 6e-3, rel=1e-5)


def test_thin_dust_shines_as_its_phase_function_says(tmp_path: Path, engine: Engine) -> None:
    """Two far lamps, one behind and one beside: the dust sends to the camera the intensity of
    share x area x p(angle) x E each (single scattering: van de Hulst 1957, chapter 1)."""
    made, turns_deg = cloud(2e-5, 0.8, 0.1), (150.0, 80.0)
    lamps, cosines = [], []
    for name, turn in zip("ab", map(math.radians, turns_deg), strict=True):
        way = np.array([math.sin(turn), 0.0, math.cos(turn)])
        cosines.append(-way[2])
        lamps.append(
            sets.front(
                -way,
                MIDDLE + FAR_M * way,
                name=name,
                width_m=0.2,
                height_m=0.2,
                luminous_energy_lm_s=1.0,
            )
        )
    layout = replace(sets.layout(*lamps), view=LENS, elements=(made,))
    frames = light_frames(layout, 16, (64, 64), FrameStore(tmp_path), engine)
    for name, cosine in zip("ab", cosines, strict=True):
        seen = frames[name].mean.sum((0, 1)) * (SIDE_M / 64) ** 2
        bent = 1 + FORWARD**2 - 2 * FORWARD * cosine
        shares = (1 - FORWARD**2) / (4 * math.pi * bent**1.5)
        law = 0.8 * 2e-5 * shares / (math.pi * FAR_M**2)
        assert seen[1] == pytest.approx(law, rel=0.02)
        assert seen[2] == pytest.approx(law / 2, rel=0.02)


def test_dust_hides_what_the_closed_form_says(tmp_path: Path, engine: Engine) -> None:
    """A bright cloth behind dust that scatters next to nothing, against `hidden_share`; uneven
    dust hides a little less than even dust (Jensen's inequality)."""
    wide = 1.2 * SIDE_M
    made = cloud(0.15 * wide**2, 0.01, wide)
    cloth = sets.front(
        (0, 0, 1), MIDDLE - [0, 0, 0.5], width_m=1.0, height_m=1.0, luminous_energy_lm_s=1.0
    )
    light = []
    for elements in ((), (made,)):
        layout = replace(sets.layout(cloth), view=LENS, elements=elements)
        frame = light_frames(layout, 16, (64, 64), FrameStore(tmp_path), engine)["key"]
        light.append(float(frame.mean[..., 1].mean()))
    assert 1 - light[1] / light[0] == pytest.approx(hidden_share([made], LENS), abs=0.01)


def test_the_plain_engine_says_that_it_has_no_dust() -> None:
    layout = replace(sets.layout(sets.front((0, 0, -1), (0, 1, 2))), elements=(cloud(1, 1, 0.1),))
    stage = stage_of(layout, "real")
    assert in_quality(stage, "draft", "llvm").elements
    with pytest.raises(EngineError, match="scalar engine has no dust"):
        in_quality(stage, "draft", "scalar")
