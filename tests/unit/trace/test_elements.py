"""Traced particles against the laws of spheres: a Lambert ball's phases, Snell, Fresnel."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.emission import Front
from render.layout.lens import view
from render.layout.placed import Cloud, Layout
from render.studio.camera import Camera
from render.trace import Engine, FrameStore, Spot, frame_names, light_frames, spots
from render.trace.stage import stage_of
from tests import sets
from tests.unit.trace.small import SIZE, portrait

RADIUS = 0.05  # of the drop [m]
WATER = 1.333
WALL_M = 0.5  # from the drop's middle to the fronts behind it


def cloud(kind: str, centres: np.ndarray, size: float, **changed: object) -> Cloud:
    """Particles that all lie alike."""
    count = len(centres)
    values = {
        "name": "dust",
        "kind": kind,
        "centres_m": centres,
        "sizes_m": np.full(count, size),
        "turns": np.tile(np.eye(3), (count, 1, 1)),
        "looks": np.full((count, 8), 0.5),
        "reflectance": (0.6, 0.6, 0.6),
        "through": (0.0, 0.0, 0.0),
        "refractive_index": WATER if kind == "drops" else 1.0,
    }
    return Cloud(**(values | changed))  # type: ignore[arg-type]


@pytest.mark.parametrize("phase_deg", [20, 70, 115])
def test_grains_wax_and_wane_as_lambert_balls(
    phase_deg: float, tmp_path: Path, engine: Engine
) -> None:
    """Under a far lamp at an angle a from the camera a white ball of radius r sends towards it the
    intensity of 2/3 rho E r² (sin a + (pi - a) cos a) / pi (Lambert 1760; Russell 1916).
    Facets that face all ways alike have the same mean."""
    a = math.radians(phase_deg)
    lamp_m, camera_m, size = 6.0, 6.0, 0.01
    step = 0.03 * (np.arange(10) - 4.5)  # too far apart to shade each other
    x, y = (part.ravel() for part in np.meshgrid(step, step))
    rng = np.random.default_rng(
        1
    )  # a lattice, each turned in its own way; dark, so that none lights another
    turns = np.linalg.qr(rng.normal(size=(len(x), 3, 3)))[0]
    turns *= np.sign(np.linalg.det(turns))[:, None, None]
    grains = cloud(
        "grains", np.stack([x, y + 1.2, 0 * x], -1), size, turns=turns, reflectance=(0.1,) * 3
    )
    way = np.array([math.sin(a), 0.0, math.cos(a)])
    lamp = sets.front(
        -way, [0, 1.2, 0] + lamp_m * way, width_m=0.2, height_m=0.2, luminous_energy_lm_s=1.0
    )
    lens = view(
        Camera(
            distance_m=camera_m, height_m=1.2, aim_height_m=1.2, focal_length_mm=300, crop="1:1"
        ),
        np.array([0, 1.2, 0]),
        np.array([0, 1.2, 0]),
    )
    layout = replace(sets.layout(lamp), view=replace(lens, f_number=64.0), elements=(grains,))
    frame = light_frames(layout, 64, (96, 96), FrameStore(tmp_path), engine)["key"]
    pixel = lens.frame_width_m / lens.image_m * camera_m / 96
    seen = float(frame.mean[..., 1].sum()) * pixel**2
    illuminance = 1.0 / (math.pi * lamp_m**2)
    law = 2 / 3 * 0.1 * illuminance * (math.sin(a) + (math.pi - a) * math.cos(a)) / math.pi
    assert seen / len(x) == pytest.approx(law * (0.5 * size) ** 2, rel=0.03)


def wall_front(name: str, x: float, width: float) -> Front:
    """An upright strip of light behind the drop that shines to the eye."""
    centre = [x, 1.2, -WALL_M]
    return sets.front(
        (0, 0, 1), centre, name=name, width_m=width, height_m=0.2, luminous_energy_lm_s=1.0
    )


def through(engine: Engine, offset: float, *fronts: Front) -> np.ndarray:
    """Luminance of each front through the drop, over its own, on a ray parallel to the axis."""
    drop = cloud("drops", np.array([[0.0, 1.2, 0.0]]), 2 * RADIUS)
    layout: Layout = replace(sets.layout(*fronts), elements=(drop,))
    x = offset * RADIUS
    aim = np.array([[x, 1.2, 0.0]])
    eye = np.array([x, 1.2, 2.0])
    target = Spot(eye, aim)
    read = spots(layout, [target], "real", room=False, bounces=None, samples=4096, engine=engine)
    own = np.array([1 / (math.pi * f.width_m * f.height_m) for f in fronts])
    return np.asarray(read.mean[0] / own)


def snell(offset: float) -> tuple[float, float]:
    """Where a ray along the axis lands on the wall behind the drop [m], and its share there.

    Bent by twice the angle between incidence and refraction (Snell); of unpolarised light each
    surface passes 1 - (rs² + rp²) / 2 (Fresnel).
    """
    inside = math.asin(offset / WATER)
    angle = math.asin(offset)
    bent = 2 * (angle - inside)
    leaves = math.pi + angle - 2 * inside  # round the middle, from +z towards +x
    z, x = RADIUS * math.cos(leaves), RADIUS * math.sin(leaves)
    s = (math.cos(angle) - WATER * math.cos(inside)) / (math.cos(angle) + WATER * math.cos(inside))
    p = (WATER * math.cos(angle) - math.cos(inside)) / (WATER * math.cos(angle) + math.cos(inside))
    return x - (WALL_M + z) * math.tan(bent), (1 - 0.5 * (s * s + p * p)) ** 2


def test_straight_through_a_drop_light_loses_what_two_surfaces_mirror(engine: Engine) -> None:
    """R = ((n - 1) / (n + 1))² a surface; with what is thrown to and fro (1 - R) / (1 + R)."""
    mirrored = ((WATER - 1) / (WATER + 1)) ** 2
    read = through(engine, 0.0, wall_front("key", 0.0, 0.05))
    assert read[0] == pytest.approx((1 - mirrored) / (1 + mirrored), abs=4 * 0.2 / 64)


@pytest.mark.parametrize("offset", [0.3, 0.6])
def test_a_drop_turns_the_picture_upside_down_as_snell_says(engine: Engine, offset: float) -> None:
    """A strip of light just where the bent ray lands is seen through that side of the drop, at
    Fresnel's share; one beside it, and one straight behind, are not."""
    x, share = snell(offset)
    assert x < 0  # on the other side of the axis
    wide = 0.06 * abs(x) + 0.004
    here, beside = wall_front("here", x, wide), wall_front("beside", x - 2 * wide, wide)
    behind = wall_front("behind", offset * RADIUS, 0.02)
    read = through(engine, offset, here, beside, behind)
    assert read[0] == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / 4096) + 2e-3)
    assert max(read[1], read[2]) < 5e-3


def test_thin_things_pass_on_and_give_back_what_is_stated(engine: Engine) -> None:
    """A flake that is nearly flat, lit straight from behind or from the front by a far lamp: its
    luminance over E / pi is the share stated, on either side (Lambert)."""
    looks = np.array([[0.0, 1.0, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5]])
    face_on = np.array([[[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]]])  # its own y towards the camera
    face_on = np.linalg.inv(face_on)
    made = cloud(
        "flakes",
        np.array([[0.0, 1.2, 0.0]]),
        0.05,
        looks=looks,
        turns=face_on,
        through=(0.2, 0.2, 0.2),
    )
    found = []
    for side in (1.0, -1.0):
        lamp = sets.front(
            (0, 0, -side), [0, 1.2, 5 * side], width_m=0.1, height_m=0.1, luminous_energy_lm_s=1.0
        )
        layout = replace(sets.layout(lamp), elements=(made,))
        target = Spot(np.array([0.0, 1.2, 0.4]), np.array([[0.0, 1.2, 0.0]]))
        read = spots(layout, [target], "real", room=False, bounces=1, samples=2048, engine=engine)
        found.append(float(read.mean[0, 0]) * math.pi * math.pi * 25)
    assert found[0] == pytest.approx(0.6, rel=0.03)
    assert found[1] == pytest.approx(0.2, rel=0.03)


def test_frames_hang_on_the_particles_and_without_them_are_what_they_were() -> None:
    made = portrait()
    assert made.view is not None

    def names(elements: tuple[Cloud, ...]) -> dict[str, str]:
        stage = stage_of(replace(made, elements=elements), "real")
        return frame_names(stage, made.view, SIZE, "llvm")  # type: ignore[arg-type]

    one, two = (cloud("grains", np.array([[0.0, 1.2, z]]), 0.01) for z in (0.3, 0.31))
    assert names((one,)) == names((replace(one, name="sparks"),))
    assert len({names(each)["key"] for each in ((), (one,), (two,))}) == 3


def test_particles_stand_in_the_real_dress_alone() -> None:
    """The first two stages of the comparison, and readings, go without, as they do without hair."""
    made = replace(portrait(), elements=(cloud("grains", np.zeros((1, 3)), 0.01),))
    assert [len(stage_of(made, dress).elements) for dress in ("real", "plain", "matte")] == [
        1,
        0,
        0,
    ]
