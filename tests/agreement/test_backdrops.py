"""Backdrops by tracing: codes of papers under known light, and a sweep without seams or bands."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from render.layout import Layout, place
from render.layout.placed import Bend, Sheet
from render.layout.sweep import sheet_mesh
from render.photometry.formfactors import polygon_view_factor
from render.photometry.srgb import LUMINANCE_SHARES
from render.picture.develop import Exposure, codes, mix
from render.predict import Obstacles, direct_exposure
from render.scenefile import load_scene
from render.trace import Engine, FrameStore, Spot, light_frames, receptor_readings, spots
from tests.sets import front, layout, sheet

Floats = NDArray[np.float64]
INCIDENT_STOPS = (1, 0, -1, -2, -3, -4, -5, -6, -7)
# Code of an evenly lit backdrop by incident light from the key; computed for the trade notes from
# rho 0.18 = code 118 (IEC 61966-2-1), no tone curve, no flare.
TRADE_CODES = {
    "white-paper": (255, 237, 174, 127, 92, 65, 45, 30, 19),
    "light-grey-paper": (255, 188, 137, 99, 71, 49, 34, 22, 13),
    "grey-paper": (162, 118, 85, 60, 41, 27, 17, 9, 5),
    "dark-grey-paper": (118, 85, 60, 41, 27, 17, 9, 5, 2),
    "black-paper": (85, 60, 41, 27, 17, 9, 5, 2, 1),
    "black-velvet": (39, 25, 16, 8, 4, 2, 1, 1, 0),
}
SCENE = """
title = "paper under an even lamp"
[backdrop]
gap_m = 1.0
height_m = 1.4
colour = "NAME"
[camera]
distance_m = 2.0
height_m = 1.2
focal_length_mm = 200
[light.key]
luminous_energy_lm_s = 4000
size_cm = [60, 60]
position_m = [0, 1.2, 4.0]
aim = [0, 1.2, -1.0]
"""


@pytest.mark.parametrize("name", TRADE_CODES)
def test_code_of_a_paper_under_known_light(name: str, tmp_path: Path, engine: Engine) -> None:
    """Truth: the trade table, one code either way: the kit's paper traced, metered by the closed
    form and developed at each exposure."""
    file = tmp_path / "paper.toml"
    file.write_text(SCENE.replace("NAME", name))
    made = place(load_scene(file))
    centre = next(p for p in made.points if p.name == "backdrop_centre")
    metered = direct_exposure(made, centre.position_m[None], centre.normal[None], "flat")
    exposure = float(metered.luminous_exposure_lx_s[0, 0])
    frames = light_frames(made, 64, (8, 10), FrameStore(tmp_path), engine)
    found = []
    for stops in INCIDENT_STOPS:
        f_number = float(np.sqrt(exposure * 2.0**-stops * 100 / 250))
        picture = mix(frames, made, Exposure(100, f_number, 1 / 125, 200))
        found.append(255 * float(codes(picture.linear[3:7, 2:6].mean((0, 1)))[1]))
    np.testing.assert_allclose(found, TRADE_CODES[name], atol=1.0)


RADIUS_M, FLOOR_M = 0.4, 0.6
RHO = 0.5


def swept() -> tuple[Layout, Sheet]:
    """A paper with a sweep under one front, in the void."""
    grey = (RHO,) * 3
    paper = sheet(
        [0, 1.3, -1.4], [1, 0, 0], [0, 1, 0], 2.0, 1.8, name="backdrop", kind="backdrop",
        reflectance=grey, back_reflectance=grey, bend=Bend(RADIUS_M, FLOOR_M),
    )  # fmt: skip
    lamp = front([0.3, -0.4, -1.0], [-0.5, 1.8, 0.9], luminous_energy_lm_s=1000.0)
    return layout(lamp, sheets=(paper,)), paper


def down_the_paper() -> tuple[Floats, Floats]:
    """Places and normals down the middle of the paper, half of them on the bend."""
    turn = np.radians(np.linspace(0.7, 89.3, 24))
    height, depth = 0.4 - RADIUS_M * np.sin(turn), -1.4 + RADIUS_M * (1 - np.cos(turn))
    above, ahead = np.linspace(1.9, 0.45, 8), np.linspace(-0.95, -0.45, 6)
    y = np.concatenate([above, height, np.zeros(6)])
    z = np.concatenate([np.full(8, -1.4), depth, ahead])
    lean = np.concatenate([np.zeros(8), turn, np.full(6, np.pi / 2)])
    zero = np.zeros_like(y)
    return np.stack([zero, y, z], -1), np.stack([zero, np.sin(lean), np.cos(lean)], -1)


def test_a_sweep_shades_as_the_smooth_surface_that_it_is(engine: Engine) -> None:
    """Truth: rho / pi times the closed form's light on the true surface, down the whole paper."""
    made, _ = swept()
    places, normals = down_the_paper()
    lifted = places + 1e-3 * normals
    truth = direct_exposure(made, lifted, normals, "flat", obstacles=Obstacles.of(made))
    shown = RHO / np.pi * truth.luminous_exposure_lx_s[:, 0]
    eye = np.array([0.0, 1.3, 2.0])
    seen = spots(
        made, [Spot(eye, p[None]) for p in places], "plain",
        room=True, bounces=1, samples=1 << 14, engine=engine,
    )  # fmt: skip
    found, error = (1000.0 * a[:, 0] for a in (seen.mean, seen.standard_error))
    assert np.all(4 * error < 0.01 * shown)
    assert np.all(np.abs(found / shown - 1) < 0.003 + 4 * error / shown)


def test_a_sweep_shows_no_bands_where_facets_meet(engine: Engine) -> None:
    """Truth: light on a smooth surface changes smoothly; the facets' own normals would step by
    the cosine of 1.4 degrees at each of 64 edges."""
    made, paper = swept()
    smooth = _column(made, engine)
    steps = np.abs(np.diff(np.log2(smooth), 2))
    assert np.quantile(steps, 0.95) < 0.01
    assert len(sheet_mesh(paper)[0]) > 100


def _column(made: Layout, engine: Engine) -> Floats:
    """Luminance down the bend, 120 places, as one eye sees them."""
    turn = np.radians(np.linspace(5, 85, 120))
    y, z = 0.4 - RADIUS_M * np.sin(turn), -1.4 + RADIUS_M * (1 - np.cos(turn))
    targets = np.stack([np.zeros_like(y), y, z], -1)
    seen = spots(
        made, [Spot(np.array([0.0, 1.3, 2.0]), t[None]) for t in targets], "plain",
        room=True, bounces=1, samples=1 << 14, engine=engine,
    )  # fmt: skip
    return seen.mean[:, 0]


def test_the_upright_part_shows_what_a_flat_sheet_shows(engine: Engine) -> None:
    """Truth: the same plane in the same direct light; the bend adds its own bounce only."""
    made, paper = swept()
    flat = replace(made, sheets=(replace(paper, bend=None),))
    targets = [[0, 1.9, -1.4], [0.3, 1.2, -1.4], [-0.5, 0.6, -1.4]]
    looks = [Spot(np.array([0.0, 1.3, 2.0]), np.array([t])) for t in targets]
    pair = [
        spots(m, looks, "plain", room=True, bounces=1, samples=1 << 13, engine=engine)
        for m in (made, flat)
    ]
    error = np.hypot(pair[0].standard_error, pair[1].standard_error)
    assert np.all(4 * error < 0.02 * pair[1].mean)
    assert np.all(np.abs(pair[0].mean - pair[1].mean) <= 4 * error)


@pytest.mark.parametrize(("size_m", "stops"), [((1.35, 2.0), -2.1), ((2.7, 2.2), -1.4)])
def test_light_that_wraps_from_a_white_paper(
    size_m: tuple[float, float], stops: float, engine: Engine
) -> None:
    """Truth: trade table of light at the sitter's back, 1.5 m before an evenly lit white paper,
    from the paper's reading; computed there. 0.1 stop for the lamp's evenness."""
    white = (0.85,) * 3
    paper = sheet(
        [0, 0, -1.5], [1, 0, 0], [0, 1, 0], *size_m, name="backdrop", kind="backdrop",
        reflectance=white, back_reflectance=white,
    )  # fmt: skip
    made = layout(front([0, 0, -1.0], [0, 0, 12.0]), sheets=(paper,))
    places, axes = [[0, 0, 0], [0, 0, -1.499]], [[0, 0, -1], [0, 0, 1]]
    back, on_paper = receptor_readings(
        made, places, axes, "flat", engine=engine, samples=1 << 14
    ).total[:, 0]
    assert abs(np.log2(back / on_paper) - stops) < 0.1


WALLED = """
title = "one pale wall in a black room"
[room]
width_m = 3.0
depth_m = 4.0
height_m = 2.4
back_wall_m = 1.5
walls = 0
ceiling = 0
floor = 0
camera_right_wall = TONE
[light.key]
luminous_energy_lm_s = 1000
size_cm = [60, 90]
position_m = [-0.6, 1.5, 0.8]
aim = [1.5, 1.2, 0]
[point.cheek]
position_m = [0, 1.2, 0]
facing = [1, 0, 0]
"""


def test_a_red_wall_of_a_room_tints_as_its_one_bounce_says(tmp_path: Path, engine: Engine) -> None:
    """Truth: light of the key on cells of the wall by its view factor, each cell on the cheek; in
    a black room nothing else comes back."""
    found, rgb = {}, (0.7, 0.07, 0.035)
    for channel, rho in zip("rgb", rgb, strict=True):
        file = tmp_path / f"{channel}.toml"
        file.write_text(WALLED.replace("TONE", str(list(rgb))))
        made = place(load_scene(file))
        one = np.eye(3)["rgb".index(channel)] / LUMINANCE_SHARES
        key = replace(made.fronts[0], colour=tuple(one))
        reading = receptor_readings(
            replace(made, fronts=(key,)), [[0, 1.2, 0]], [[1, 0, 0]], "flat",
            engine=engine, samples=1 << 16,
        )  # fmt: skip
        wall = next(s for s in made.sheets if s.name == "camera-right wall")
        u, v = np.meshgrid(*[(np.arange(n) + 0.5) / n - 0.5 for n in (160, 96)])
        cells = wall.centre_m + u.reshape(-1, 1) * wall.width_m * wall.right
        cells = cells + v.reshape(-1, 1) * wall.height_m * wall.up
        half = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [key.width_m, key.height_m]
        corners = key.centre_m + half[:, :1] * key.right + half[:, 1:] * key.up
        light = 1000 / key.area_m2 * polygon_view_factor(corners - cells[:, None], wall.normal)
        way = cells - [0, 1.2, 0]
        away = np.linalg.norm(way, axis=1)
        cosines = (way[:, 0] / away) * (-way @ wall.normal / away)
        cell_m2 = wall.width_m * wall.height_m / len(cells)
        truth = rho / np.pi * float(np.sum(light * cosines / away**2)) * cell_m2
        bounce, error = (1000 * float(a[0, 0]) for a in (reading.bounce, reading.bounce_error))
        assert error < 0.02 * truth
        assert abs(bounce - truth) < 4 * error + 1e-3 * truth
        found[channel] = bounce
    assert found["r"] / found["g"] == pytest.approx(10, rel=1e-3)
