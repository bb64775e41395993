"""Elements: the same throw for the same seed, as many, as large and as spread as is stated."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from render.errors import SceneError
from render.layout import place
from render.layout.coverage import hidden_share, shadow_areas
from render.layout.lens import view
from render.layout.particles import cloud_mesh, curls, flakes
from render.layout.placed import Cloud
from render.layout.scatter import scatter
from render.scenefile import Setup, load_scene
from render.studio.camera import Camera
from render.studio.element import Element

EYES = np.array([0.0, 1.2, 0.0])
LENS = view(Camera(distance_m=2.0, height_m=1.2, aim_height_m=1.2), EYES, EYES)


def setup(**keys: object) -> Setup:
    """A void with one element."""
    made = load_scene("empty-room")
    element = Element.model_validate(
        {"kind": "grains", "count": 4000, "size_mm": (1.0, 4.0)} | keys
    )
    scene = made.scene.model_copy(update={"element": {"dust": element}})
    return replace(made, scene=scene)


def cloud(**keys: object) -> Cloud:
    """The particles of one element."""
    return scatter(setup(**keys), "dust", EYES)


@pytest.mark.parametrize("kind", ["grains", "flakes", "drops", "curls"])
def test_the_same_seed_is_the_same_throw_bit_for_bit(kind: str) -> None:
    first, again, other = (cloud(kind=kind, count=20, seed=seed) for seed in (7, 7, 8))
    assert [part.tobytes() for part in cloud_mesh(first)] == [
        part.tobytes() for part in cloud_mesh(again)
    ]
    assert not np.array_equal(first.centres_m, other.centres_m)


def test_a_throw_stays_the_same_for_good() -> None:
    """PCG64 of the seed [7, 0]: its first uniform numbers, as NumPy 1.17 and later give them."""
    u = np.random.Generator(np.random.PCG64([7, 0])).random(16)
    assert cloud(seed=7).sizes_m[0] == pytest.approx(1e-3 * 4 ** u[4], rel=1e-12)


def test_sizes_are_even_in_stops_between_the_two_that_are_stated() -> None:
    """The logarithm of an even draw has mean 1/2 and variance 1/12 of its range."""
    sizes = cloud().sizes_m
    share = np.log(sizes / 1e-3) / np.log(4)
    assert len(sizes) == 4000
    assert 0 <= share.min() < share.max() <= 1
    assert abs(share.mean() - 0.5) < 4 * np.sqrt(1 / 12 / 4000)
    assert abs(share.var() - 1 / 12) < 4 * np.sqrt(1 / 180 / 4000)  # of a uniform draw


@pytest.mark.parametrize(("shape", "variance"), [("box", 1 / 3), ("ellipsoid", 1 / 9)])
def test_the_cloud_is_as_wide_as_stated(shape: str, variance: float) -> None:
    """Of half an extent: 1/3 for an even box; for a density of (1 - r²)², r² has the beta law of
    3/2 and 3, mean 1/3, a third of it along each axis."""
    wide = np.array([1.0, 0.6, 0.2])
    apart = (cloud(shape=shape, spread_m=tuple(wide)).centres_m - EYES) / (0.5 * wide)
    assert np.abs(apart).max() <= 1
    assert np.abs(apart.mean(0)).max() < 4 * np.sqrt(variance / 4000)
    assert np.abs(apart.var(0) / variance - 1).max() < 4 * np.sqrt(2 / 4000)


def test_a_fall_is_thin_below_as_things_that_fall_are() -> None:
    """Let go evenly in time, half of the time is a quarter of the depth (y = g t² / 2)."""
    down = EYES[1] - cloud(falls_m=1.0, spread_m=(0.3, 0.0, 0.3)).centres_m[:, 1]
    share = float((down < 0.25).mean())
    assert 0 <= down.min() < down.max() <= 1
    assert abs(share - 0.5) < 4 * np.sqrt(0.25 / 4000)


def test_every_turn_is_as_likely() -> None:
    """Under a rotation of the Haar measure the mean of each axis is 0, its square 1/3."""
    turns = cloud(kind="flakes").turns
    assert np.allclose(turns @ turns.transpose(0, 2, 1), np.eye(3), atol=1e-12)
    assert np.allclose(np.linalg.det(turns), 1)
    assert np.abs(turns.mean(0)).max() < 4 * np.sqrt(1 / 3 / 4000)
    assert np.abs((turns**2).mean(0) - 1 / 3).max() < 4 * np.sqrt(4 / 45 / 4000)


def test_a_sphere_of_triangles_hides_what_a_sphere_hides() -> None:
    """Cauchy: a convex body hides a quarter of its surface on the mean; of a sphere pi r²."""
    grains = cloud(count=50)
    assert np.allclose(shadow_areas(grains), 0.25 * np.pi * grains.sizes_m**2, rtol=1e-9)


def test_a_flat_sheet_hides_half_of_one_side() -> None:
    """The mean of |cos| over all turns is 1/2."""
    side = cloud(kind="flakes", count=2000)
    vertices, _, triangles = cloud_mesh(side)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    flat = 0.5 * np.abs(np.cross(b - a, c - a)[:, 2]).reshape(2000, -1).sum(1)
    ratio = float(flat.sum() / shadow_areas(side).sum())
    assert ratio == pytest.approx(1, abs=0.03)  # 4 standard errors of 2000 flakes


def test_mean_coverage_by_areas_against_rays() -> None:
    """Rays through the middle of a box of spheres that is larger than the frame: the share that is
    stopped, against 1 - exp(-sum of projected areas over the frame)."""
    grains = cloud(shape="box", spread_m=(1.6, 2.0, 0.02), size_mm=(10.0, 10.0), count=4000)
    vertices, _, triangles = cloud_mesh(grains)
    rays = 60
    share = (np.arange(rays) + 0.5) / rays - 0.5
    x, y = (part.ravel() for part in np.meshgrid(share, share))
    ways = (
        x[:, None] * LENS.frame_width_m / LENS.image_m * LENS.right
        + y[:, None] * LENS.frame_height_m / LENS.image_m * LENS.up
        - LENS.back
    )
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    stopped = mesh.ray.intersects_any(np.tile(LENS.position_m, (len(ways), 1)), ways)
    told = hidden_share([grains], LENS)
    # Some 740 spheres in the frame: counts vary by 4 %, their overlaps by less.
    assert 0.05 < told < 0.2
    assert float(stopped.mean()) == pytest.approx(told, rel=0.05)


DUST = {"kind": "dust", "size_mm": (0.01, 0.05), "count": 3_000_000}


def test_dust_hides_what_its_particles_hide_one_by_one() -> None:
    """The area of discs, of diameters drawn even in stops, against the closed form."""
    drawn = 1e-5 * 5 ** ((np.arange(100_000) + 0.5) / 100_000)
    one_by_one = 3_000_000 * float((0.25 * np.pi * drawn**2).mean())
    assert float(shadow_areas(cloud(**DUST)).sum()) == pytest.approx(one_by_one, rel=1e-6)
    alike = cloud(**DUST | {"size_mm": (0.02, 0.02)})
    assert float(shadow_areas(alike).sum()) == pytest.approx(3e6 * np.pi * 1e-10, rel=1e-6)


def test_a_draught_keeps_dust_within_its_cloud() -> None:
    """And stirs it: evenly thrown in a box, it is uneven afterwards (of an even throw, counts in
    cells vary by their mean)."""
    half = np.array([0.3, 0.2, 0.1])
    thrown = cloud(**DUST, shape="box", spread_m=tuple(2 * half))
    apart = (thrown.centres_m - EYES) / half
    assert np.abs(apart).max() <= 1
    counts = np.histogramdd(apart, bins=6, range=[(-1, 1)] * 3)[0]
    assert counts.var() > 3 * counts.mean()


def test_a_flake_is_as_long_as_stated_along_its_bend() -> None:
    grid = flakes(cloud(kind="flakes", count=200))
    middle = grid[:, :, 1:3].mean(2)  # its two edges wander, so it leaves the arc a little
    long = np.linalg.norm(np.diff(middle, axis=1), axis=-1).sum(1)
    assert np.all(np.abs(long / cloud(kind="flakes", count=200).sizes_m - 1) < 0.08)


def test_a_coil_is_as_wide_as_stated() -> None:
    thrown = cloud(kind="curls", count=200)
    reach = np.abs(curls(thrown)[..., 2]).reshape(200, -1).max(1) / (0.5 * thrown.sizes_m)
    assert reach.max() <= 1 + 1e-9
    assert np.median(reach) > 0.85  # less where a shaving of half a turn ends before its widest


@pytest.mark.parametrize("kind", ["grains", "flakes", "dust"])
def test_one_number_is_a_grey_as_it_is_of_a_wall(kind: str) -> None:
    """Grey reflects every part of the spectrum alike."""
    keys = {"kind": kind, "count": 20, "size_mm": (0.05, 0.1)}
    grey, same = (cloud(**keys, colour=colour) for colour in (0.6, (0.6, 0.6, 0.6)))
    assert grey.reflectance == same.reflectance == (0.6, 0.6, 0.6)
    assert cloud(**keys, colour=0.6, reflectance=0.3).reflectance == pytest.approx((0.3,) * 3)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"size_mm": (4.0, 1.0)}, r"size_mm: found \[4, 1\] \(the smallest first\)"),
        ({"kind": "drops", "count": 1001}, r"count: found 1001 drops \(at most 1000\)"),
        ({"kind": "drops", "reflectance": 0.5}, r"reflectance: found with drops \(leave it out"),
        ({"size_mm": (0.01, 1.0)}, r"size_mm: found \[0.01, 1\] \(0.05 to 200 for grains\)"),
        ({"kind": "dust"}, r"size_mm: found \[1, 4\] \(0.005 to 0.2 for dust\)"),
        (
            {"kind": "dust", "size_mm": (0.01, 0.05), "through": 0.1},
            r"through: found with dust \(leave it out",
        ),
        ({"clear": "water"}, r"clear: found with grains \(with drops only\)"),
        (
            {"kind": "curls", "reflectance": 0.8, "through": 0.3},
            r"through: found 0.3.*at most 0.14",
        ),
        ({"colour": "no-such-paint"}, r'colour: "no-such-paint" is not in the kit'),
        ({"spread_m": (5.0, 0.1, 0.1)}, r"cloud reaches \d+ cm through a side wall"),
        ({"centre_m": (0.0, 0.05, 0.0)}, r"cloud reaches \d+ cm through floor or ceiling"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(keys: dict[str, object], said: str) -> None:
    with pytest.raises(SceneError, match=f"element.dust.*{said}"):
        place(setup(**{"count": 100} | keys))


def test_a_cloud_stays_before_the_backdrop() -> None:
    made = setup(spread_m=(0.2, 0.2, 0.2), centre_m=(0.0, 1.2, -1.3))
    hung = load_scene("violin-two-lights").scene.backdrop
    made = replace(made, scene=made.scene.model_copy(update={"backdrop": hung, "room": None}))
    with pytest.raises(SceneError, match=r"element.dust: the cloud reaches \d cm through the back"):
        place(made)


def test_a_size_out_of_range_is_refused_as_it_is_read(tmp_path: Path) -> None:
    text = load_scene("empty-room").file.read_text(encoding="utf-8")
    file = tmp_path / "odd.toml"
    odd = '[element.dust]\nkind = "grains"\ncount = 9\nsize_mm = [0.001, 2]\n'
    file.write_text(f"{text}\n{odd}", encoding="utf-8")
    with pytest.raises(SceneError, match=r"element.dust.size_mm: found .*0.005 to 200"):
        load_scene(file)


def test_lights_and_meter_find_an_element_by_its_name() -> None:
    """Half way down a fall."""
    made = setup(centre_m=(0.1, 1.4, 0.0), falls_m=0.4, spread_m=(0.1, 0.1, 0.1), count=9)
    key = made.scene.light["key"].model_copy(update={"aim": "dust"})
    scene = made.scene.model_copy(update={"point": {}, "light": {"key": key}})
    layout = place(replace(made, scene=scene))
    held = layout.points[0]
    assert (held.name, held.on) == ("dust", "free")
    assert np.allclose(held.position_m, [0.1, 1.2, 0.0])
    assert np.allclose(
        np.cross(held.position_m - layout.fronts[0].centre_m, layout.fronts[0].normal), 0
    )


def test_the_plate_is_the_set_without_them_and_aims_stay() -> None:
    """Lights aimed at an element stand as they do with it."""
    made = setup(count=9, on=False)
    key = made.scene.light["key"].model_copy(update={"aim": "dust"})
    scene = made.scene.model_copy(update={"point": {}, "light": {"key": key}})
    layout = place(replace(made, scene=scene))
    assert layout.elements == ()
    assert layout.points[0].name == "dust"


def test_an_element_has_no_landmark_s_name() -> None:
    made = setup(count=9)
    scene = made.scene.model_copy(update={"element": {"eyes": made.scene.element["dust"]}})
    with pytest.raises(SceneError, match=r"element.eyes: found as a name \(another name"):
        place(replace(made, scene=scene))
