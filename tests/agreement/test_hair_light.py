"""Hair gives back the light that its model says, shines where it should, and spreads less by
colour than the bare tones of hair do."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.sitter import Wishes, build_body
from render.sitter.body import Body, Fibre, Strands
from render.sitter.hair.pigment import head_fibres
from render.trace import Engine, Spot, spots
from render.trace.choice import worker_environment
from tests.agreement.test_traced_fronts import front, surround
from tests.checks import CHECKS
from tests.sets import layout

DATA = Path(__file__).resolve().parents[2] / "meshes"
ENERGY = np.pi * 4.0  # of one face of the surround, 2 x 2 m, at luminance 1
SHINE = {"eumelanin": 1e3, "pheomelanin": 0.0}  # so dark that only the surface gives light back
COVERED = {"HR-1", "HR-3", "HR-4"}
# Body tones of hair black, brown, blond, white in stops from 18 % (common practice, no source).
TONES = {"black": -2.8, "brown": -1.4, "blond": 0.5, "white": 1.2}


@pytest.fixture(scope="module")
def fibres(engine: Engine) -> dict[str, list[float]]:
    """Albedo, its error, mean exit angle and spread [deg] of single fibres."""
    if engine.name == "scalar":
        pytest.skip("drawing many directions needs the compiling engine")
    narrow = {"longitudinal_roughness": 0.05, "azimuthal_roughness": 0.1}
    cases = {
        "clear": ({"eumelanin": 0.0, "pheomelanin": 0.0}, 25.0),
        "shine": (SHINE, 0.0),
        "tilted": ({**SHINE, **narrow, "scale_tilt_deg": 3.0}, 40.0),
        "level": ({**SHINE, "scale_tilt_deg": 0.0}, 0.0),
        "brown": ({"eumelanin": 0.3, "pheomelanin": 0.06}, 0.0),
    }
    script = Path(__file__).with_name("fibre_samples.py")
    done = subprocess.run(
        [sys.executable, str(script), engine.choice.variant, json.dumps([*cases.values()])],
        env=worker_environment(engine.choice), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return dict(zip(cases, json.loads(done.stdout), strict=True))


def fresnel_over_a_cylinder(n: float) -> float:
    """Mean reflectance of a smooth cylinder under unpolarised light across it (Fresnel)."""
    h = (np.arange(20000) + 0.5) / 20000
    inside, outside = np.sqrt(1 - (h / n) ** 2), np.sqrt(1 - h * h)
    s = (outside - n * inside) / (outside + n * inside)
    p = (n * outside - inside) / (n * outside + inside)
    return float(np.mean((s**2 + p**2) / 2))


def test_a_clear_fibre_loses_nothing(fibres: dict[str, list[float]]) -> None:
    """Truth: without pigment the model's albedo is 1."""
    albedo, error, _, _ = fibres["clear"]
    assert abs(albedo - 1) < 4 * error + 0.002


def test_the_shine_is_that_of_the_published_index(fibres: dict[str, list[float]]) -> None:
    """Truth: Fresnel reflection of a cylinder of the index in Marschner et al. 2003, Table 1."""
    albedo, error, _, _ = fibres["shine"]
    published = fresnel_over_a_cylinder(CHECKS["HR-1"].values[0])
    assert abs(albedo - published) < 4 * error + 0.0005
    assert abs(albedo - fresnel_over_a_cylinder(1.50)) > 0.004


def test_the_shine_lies_towards_the_root(fibres: dict[str, list[float]]) -> None:
    """Truth: a mirror on scales tilted 3 deg sends light from +40 deg to -46 deg (HR-4)."""
    _, _, angle, spread = fibres["tilted"]
    expected = CHECKS["HR-4"].values[-1]
    assert abs(angle - expected) < 4 * spread / 2**8.5 + 0.25


def test_the_shine_is_as_broad_as_measured(fibres: dict[str, list[float]]) -> None:
    """Truth: 5 to 10 deg in the half angle, half of that in the exit angle (HR-3)."""
    low, high = CHECKS["HR-3"].values[:2]
    assert low < fibres["level"][3] / 2 < high


def block(eumelanin: float, pheomelanin: float) -> Strands:
    """A slab of parallel strands 4 layers deep, wide enough that its rim is out of sight."""
    roots = np.stack(np.meshgrid(np.linspace(-0.05, 0.05, 120), [0.0, 0.001, 0.002]), -1)
    roots = roots.reshape(-1, 2)
    points = np.zeros((len(roots), 9, 3), np.float32)
    points[..., 0], points[..., 2] = roots[:, :1], roots[:, 1:]
    points[..., 1] = np.linspace(-0.1, 0.1, 9)
    radii = np.full(points.shape[:2], 5e-4, np.float32)
    return Strands("hair", points, radii, Fibre(eumelanin, pheomelanin))


def in_uniform_light(strands: Strands, engine: Engine) -> tuple[float, float]:
    targets = np.stack([np.linspace(-0.03, 0.03, 64), np.zeros(64), np.zeros(64)], -1)
    reading = spots(
        layout(*surround(), body=Body((), (strands,), {}, "block")),
        [Spot(np.array([0.2, 0.3, 0.8]), targets)], "real",
        room=True, bounces=300, samples=1 << 15, engine=engine,
    )  # fmt: skip
    error = ENERGY * float(np.sqrt((reading.standard_error**2).sum()))
    return ENERGY * float(reading.mean.sum()), error


def test_white_furnace(engine: Engine) -> None:
    """Truth: clear fibres in light of luminance 1 from everywhere show luminance 1, within 2 %."""
    luminance, error = in_uniform_light(block(0.0, 0.0), engine)
    assert error < 0.006
    assert abs(luminance - 1) < 0.02 + 2 * error


def test_one_brown_fibre_in_uniform_light(fibres: dict[str, list[float]], engine: Engine) -> None:
    """Truth: a single fibre shows the albedo that its model has across the view."""
    points = np.zeros((1, 9, 3), np.float32)
    points[..., 1] = np.linspace(-0.1, 0.1, 9)
    fibre = Strands("hair", points, np.full((1, 9), 0.01, np.float32), Fibre(0.3, 0.06))
    targets = np.stack([np.linspace(-0.0099, 0.0099, 64), np.zeros(64), np.zeros(64)], -1)
    reading = spots(
        layout(*surround(), body=Body((), (fibre,), {}, "fibre")),
        [Spot(np.array([0.0, 0.0, 0.9]), targets)], "real",
        room=True, bounces=20, samples=1 << 15, engine=engine,
    )  # fmt: skip
    red = fibres["brown"][0]
    assert 0.2 < red < 1
    luminance = ENERGY * float(reading.mean.sum())
    assert 0.3 * red < luminance < red  # green and blue are absorbed more than red


@pytest.fixture(scope="module")
def lit(engine: Engine) -> dict[str, tuple[float, float]]:
    """Luminance, and its error, of the crown of a bob under one hair light, by hair colour."""
    body = build_body(
        Wishes(model="alma", hair="bob"), data_dir=DATA, strand_count=8000, map_width=256
    )
    crown = body.landmarks["crown"].position_m.astype(float)
    # High over the crown, where its shine is seen; from farther behind, light shining through
    # pale hair spreads the colours by 4 to 5 stops.
    back = np.array([0.3, 0.92, -0.25])
    place = crown + 0.9 * back / np.linalg.norm(back)
    lamp = front(-back, place, width_m=0.25, height_m=0.6)
    spread = np.random.default_rng(1).uniform(-0.02, 0.02, (64, 3)) * [1, 0.2, 1]
    out = {}
    for colour in TONES:
        hair = head_fibres(colour)
        strands = tuple(
            replace(s, fibre=hair[int(s.name[-1])])
            for s in body.strands
            if s.name.startswith("hair")
        )
        person = Body(body.surfaces[:1], strands, {}, colour)
        reading = spots(
            layout(lamp, body=person), [Spot(crown + [0.0, 0.35, 1.9], crown + spread)], "real",
            room=True, bounces=40, samples=1 << 14, engine=engine,
        )  # fmt: skip
        mean = float(reading.mean.sum())
        out[colour] = mean, float(np.sqrt((reading.standard_error**2).sum()))
    return out


def test_lighter_hair_is_brighter_under_the_same_light(
    lit: dict[str, tuple[float, float]],
) -> None:
    """Truth: the order of the body tones (common practice, no source)."""
    values = [lit[colour] for colour in TONES]
    assert [mean for mean, _ in values] == sorted(mean for mean, _ in values)
    for (dark, dark_error), (light, light_error) in zip(values, values[2:], strict=False):
        assert light - dark > 4 * np.hypot(dark_error, light_error)


def test_colours_spread_less_than_their_tones(lit: dict[str, tuple[float, float]]) -> None:
    """Truth: shine ignores pigment, so lit hair differs by less than the tones do, but differs
    (the trade moves the hair light by 1 to 2 stops; common practice, no source)."""
    (black, black_error), (blond, blond_error) = lit["black"], lit["blond"]
    stops = float(np.log2(blond / black))
    error = float(np.hypot(black_error / black, blond_error / blond)) / np.log(2)
    assert stops + 4 * error < TONES["blond"] - TONES["black"]
    assert stops - 4 * error > 0.5
