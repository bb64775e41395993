"""Skin in light that is known: its body keeps the albedo asked for, its gloss follows Fresnel."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from render.folders import data_folder
from render.layout.placed import Layout
from render.photometry.fresnel import diffuse_external, reflected
from render.sitter import Wishes, build_body
from render.sitter.body import Body, Glass, Skin, Surface
from render.trace import Engine, Spot, spots
from render.trace.stage import SkinModel, Stage, stage_of
from tests.agreement.test_traced_fronts import surround
from tests.agreement.test_traced_materials import ENERGY, RADIUS_M, globe, white
from tests.checks import CHECKS
from tests.sets import front, layout, sheet

INDEX = 1.4
MODELS: tuple[SkinModel, SkinModel] = ("surface", "under")
SAMPLES = 1 << 17
FACE = (
    "forehead",
    "nose_tip",
    "chin",
    "cheek_sitter_right",
    "cheek_sitter_left",
    "lower_lip",
)


def skin(albedo: float, roughness: float) -> Skin:
    """Even skin without relief."""
    return Skin(albedo * white(8, 8, 3), roughness * white(8, 8), 0 * white(8, 8))


def disk(count: int = 40_000) -> np.ndarray:
    """Points (n, 2) evenly over the unit disk."""
    turn = np.arange(count) * np.pi * (3 - np.sqrt(5))
    ways = np.stack([np.cos(turn), np.sin(turn)], -1)
    return np.asarray(np.sqrt((np.arange(count) + 0.5) / count)[:, None] * ways)


def whole(material: Skin, engine: Engine, model: SkinModel) -> tuple[float, float]:
    """Share of light from all sides that a ball gives back to all sides, and its error.

    Rays that pass the middle of a ball at distances b, b² spread evenly, meet its surface at every
    angle as often as that angle weighs: their mean is the hemispherical reflectance.
    """
    made = layout(*surround(), body=Body((globe(material),), (), {}, "ball"))
    stage = replace(stage_of(made, "real", room=False, bounces=1), skin=model)
    return looked_at(stage, 0.9, engine)


def looked_at(stage: Stage, far: float, engine: Engine) -> tuple[float, float]:
    """Mean luminance of such rays from an eye this far away, and its error."""
    way = disk()
    passing = RADIUS_M * np.linalg.norm(way, axis=1)
    in_plane = far * np.tan(np.arcsin(passing / far)) / np.maximum(passing, 1e-9) * RADIUS_M
    targets = np.concatenate([in_plane[:, None] * way, np.zeros((len(way), 1))], 1)
    eye = np.array([0.0, 0.0, far])
    sums, squares = engine.call(
        "spots",
        stage,
        {
            "eyes": eye[None], "first": np.array([0]), "counts": np.array([len(targets)]),
            "targets": targets, "samples": SAMPLES, "seed": 3,
        },
    )  # fmt: skip
    mean = sums[0] / SAMPLES
    error = np.sqrt(np.maximum(squares[0] / SAMPLES - mean**2, 0) / SAMPLES)
    return ENERGY * float(mean.sum()), ENERGY * float(np.sqrt((error**2).sum()))


@pytest.fixture(scope="module")
def black_ball(engine: Engine) -> tuple[float, float]:
    """What gloss alone gives back, and its error."""
    return whole(skin(0.0, 0.45), engine, "surface")


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("albedo", [0.05, 0.6])
def test_the_body_gives_back_its_albedo(
    albedo: float, model: SkinModel, engine: Engine, black_ball: tuple[float, float]
) -> None:
    """Truth: the albedo asked for; gloss is taken off by a black ball of the same gloss."""
    gloss, gloss_error = black_ball
    both, error = whole(skin(albedo, 0.45), engine, model)
    noise = np.hypot(error, gloss_error)
    assert noise < 0.01 * albedo
    assert abs(both - gloss - albedo) < 4 * noise + 0.03 * albedo
    assert abs(np.log2((both - gloss) / albedo)) < 0.045


def test_sharp_gloss_gives_back_the_diffuse_fresnel_share(engine: Engine) -> None:
    """Truth: FD-1.4, what a smooth boundary mirrors of light from all sides. At roughness 0.2 a
    facet model has lost a little of it between facets; at 0.48 the grazing facets shade each other
    and a third is missing, as the single-scattering model must."""
    published = CHECKS["FD-1.4"].values[0]
    assert diffuse_external(INDEX) == pytest.approx(published, abs=1e-5)
    sharp, error = whole(skin(0.0, 0.2), engine, "surface")
    assert sharp == pytest.approx(published, abs=0.07 * published + 4 * error)
    dull, _ = whole(skin(0.0, 0.48), engine, "surface")
    assert 0.5 * published < dull < sharp


def test_a_softbox_mirrored_in_skin(engine: Engine) -> None:
    """Truth: F L of the mirror image to rho L F12 of the body (computed row of the checks: 0.535
    for reflectance 0.36 at one metre from the usual box, facing it)."""
    share = 0.1442  # view factor E / (pi L) of a 0.6 x 0.9 m box at 1 m
    assert reflected(1.0, INDEX) / (0.36 * share) == pytest.approx(0.535, abs=0.0005)
    box = front([0, 0, -1], [0, 0, 1.0 + RADIUS_M], name="box")
    eye = np.array([0.0, 0.0, 0.6])
    seen = []
    for albedo, roughness in ((0.0, 0.15), (0.36, 0.15)):
        body = Body((globe(skin(albedo, roughness)),), (), {}, "ball")
        stage = stage_of(layout(box, body=body), "real", room=False, bounces=1)
        targets = np.array([[0.0, 0.0, RADIUS_M]])
        sums, _ = engine.call(
            "spots",
            stage,
            {
                "eyes": eye[None], "first": np.array([0]), "counts": np.array([1]),
                "targets": targets, "samples": SAMPLES, "seed": 5,
            },
        )  # fmt: skip
        seen.append(float(sums.sum()))
    mirror, both = seen
    upright = ((1 - reflected(1.0, INDEX)) / (1 - diffuse_external(INDEX))) ** 2
    assert mirror / (both - mirror) == pytest.approx(0.535 / upright, rel=0.04)


@pytest.fixture(scope="module")
def sitter() -> Body:
    """A bald sitter with small maps."""
    wishes = Wishes(model="alma", hair="bald")
    return build_body(
        wishes, data_dir=data_folder("meshes"), gaze_m=(0, 0, 2.4), strand_count=0, map_width=512
    )


def differences(sitter: Body, engine: Engine) -> dict[str, tuple[float, float]]:
    """Skin with light under it against surface skin [stops], with errors, key from the left."""
    key = front([0.7, -0.4, -0.7], [-0.73, 0.6, 0.73], name="key")
    fill = front([0, -0.2, -1], [0.3, 0.6, 2.6], name="fill", width_m=1.5, height_m=1.5)
    made = layout(key, fill, body=sitter)
    eye = np.array([0.0, 0.0, 2.0])
    looks = []
    for name in FACE:
        mark = sitter.landmarks[name]
        vertices = sitter.surfaces[0].vertices
        near = np.linalg.norm(vertices - mark.position_m, axis=1) < 0.008
        looks.append(Spot(eye, vertices[near].astype(float)))
    readings = [
        spots(made, looks, "real", room=False, bounces=None, samples=1 << 14, engine=engine,
              skin=model)
        for model in MODELS
    ]  # fmt: skip
    power = np.array([1.0, 0.25])
    surface, under = (reading.mean @ power for reading in readings)
    errors = [(r.standard_error**2 @ power**2) ** 0.5 / (r.mean @ power) for r in readings]
    noise = np.hypot(*errors) / np.log(2)
    change = np.log2(under / surface)
    return {n: (float(c), float(e)) for n, c, e in zip(FACE, change, noise, strict=True)}


def test_a_face_is_as_bright_with_light_under_its_skin(sitter: Body, engine: Engine) -> None:
    """Truth: light that goes under the skin is moved, not lost: patches stay within 0.1 stop."""
    if engine.name != "llvm":
        pytest.skip("surface skin only")
    for name, (change, error) in differences(sitter, engine).items():
        assert error < 0.02, name
        assert abs(change) < 0.1 + 4 * error, name


def lens(z: float) -> Surface:
    """A clear sheet across the view."""
    corners = np.array([[-0.3, -0.3, z], [0.3, -0.3, z], [0.3, 0.3, z], [-0.3, 0.3, z]])
    return Surface(
        "lens",
        corners.astype(np.float32),
        np.array([[0, 1, 2], [0, 2, 3]], np.int32),
        np.tile(np.array([0, 0, 1], np.float32), (4, 1)),
        np.zeros((4, 2), np.float32),
        Glass(),
    )


def behind_glass() -> Layout:
    """A grey card, a lens before it, a softbox before the lens."""
    card = sheet([0, 0, 0], [1.0, 0, 0], [0, 1.0, 0], 0.2, 0.2, name="card", kind="panel",
                 reflectance=(0.5, 0.5, 0.5))  # fmt: skip
    box = front([0, 0, -1], [0, 0, 2.0], name="box", width_m=0.1, height_m=0.1)
    return layout(box, sheets=(card,), body=Body((lens(0.5),), (), {}, "lens"))


def test_a_lens_takes_its_mirror_image_from_the_light_behind_it(engine: Engine) -> None:
    """Truth: a sheet of index 1.5 passes 1 - 2R / (1 + R) = 0.9231 upright, here in and out."""
    once = 1 - 2 * 0.04 / 1.04
    bare = replace(behind_glass(), body=Body((), (), {}, "none"))
    eye = np.array([0.5, 0.0, 1.5])  # aside, so that the lens does not mirror the box to it
    values = []
    for made in (behind_glass(), bare):
        stage = stage_of(made, "real", room=False, bounces=1)
        sums, squares = engine.call(
            "spots",
            stage,
            {
                "eyes": eye[None], "first": np.array([0]), "counts": np.array([1]),
                "targets": np.zeros((1, 3)), "samples": SAMPLES, "seed": 7,
            },
        )  # fmt: skip
        values.append(float(sums.sum()) / SAMPLES)
        error = float(np.sqrt(squares.sum())) / SAMPLES
    assert abs(values[0] / values[1] - once**2) < 4 * error / values[1] + 0.002
