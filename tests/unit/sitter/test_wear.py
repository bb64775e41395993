"""Clothes must lie outside the body, glasses before the eyes, headwear over the hair."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from render.sitter import CHOICES, Body, Surface, Wishes
from render.sitter.body import Cloth, Glass
from render.sitter.store import load_body, save_body
from tests.people import made

# What is built once: every top, both glasses and both kinds of headwear, the head to its limits.
DRESSED = {
    "crew neck": {"model": "alma", "top": "crew neck", "head_turn_deg": 60, "head_nod_deg": 30},
    "shirt": {
        "model": "bram",
        "top": "shirt",
        "glasses": "square",
        "headwear": "hat",
        "hair": "crop",
        "head_turn_deg": -60,
        "head_nod_deg": 30,
    },
    "jacket": {"model": "alma", "top": "jacket", "glasses": "round", "headwear": "headscarf"},
    "wrap": {"model": "bram", "top": "wrap", "head_nod_deg": -20},
    "hat": {"model": "alma", "headwear": "hat", "hair": "bob"},
}


def dressed(name: str) -> Body:
    return made(Wishes(**DRESSED[name]))


def solid(surface: Surface) -> trimesh.Trimesh:
    """The surface with seams sewn up."""
    points, inverse = np.unique(surface.vertices, axis=0, return_inverse=True)
    return trimesh.Trimesh(points, inverse[surface.triangles], process=False)


def parts(body: Body, *names: str) -> list[Surface]:
    return [s for s in body.surfaces if s.name in names]


def cloth(body: Body) -> list[Surface]:
    return [s for s in body.surfaces if isinstance(s.material, Cloth)]


def spread(surfaces: list[Surface], count: int) -> np.ndarray:
    """Random points (count, 3) all over some surfaces."""
    joined = trimesh.util.concatenate([solid(s) for s in surfaces])
    return np.asarray(trimesh.sample.sample_surface(joined, count, seed=1)[0])


def test_every_top_and_accessory_can_be_asked_for() -> None:
    assert CHOICES["top"] == ("crew neck", "shirt", "jacket", "wrap")
    assert CHOICES["glasses"] == ("none", "round", "square")
    assert CHOICES["headwear"] == ("none", "hat", "headscarf")


def shoulders(body: Body) -> np.ndarray:
    """Left and right shoulder (2, 3) [m]; a turned head moves the origin between its eyes."""
    marks = (body.landmarks[f"shoulder_sitter_{side}"] for side in ("left", "right"))
    return np.stack([mark.position_m for mark in marks])


@pytest.mark.parametrize("name", DRESSED)
def test_no_cloth_inside_the_skin(name: str) -> None:
    """Parity of rays through the closed skin: nothing that is worn lies in the body.

    Between arm and chest, where cloth is pressed together and nobody sees it, it may.
    """
    body = dressed(name)
    skin = solid(body.surfaces[0])
    assert skin.is_watertight
    points = spread(cloth(body), 6000)
    middle = shoulders(body).mean(0)
    seen = (points[:, 1] > middle[1] - 0.02) | (np.abs(points[:, 0] - middle[0]) < 0.08)
    seen &= points[:, 1] > skin.vertices[:, 1].min() + 0.03
    assert skin.contains(points[seen]).sum() == 0


@pytest.mark.parametrize("name", ["crew neck", "shirt", "jacket"])
def test_no_skin_seen_through_a_top(name: str) -> None:
    """From skin 60 mm below the collar outwards, cloth is met; deep in the armpit, other skin."""
    body = dressed(name)
    skin = body.surfaces[0]
    low = skin.vertices[:, 1] < body.landmarks["collar"].position_m[1] - 0.06
    low &= skin.vertices[:, 1] > skin.vertices[:, 1].min() + 0.06
    start, way = skin.vertices[low][::23].astype(float), skin.normals[low][::23].astype(float)
    worn = trimesh.util.concatenate([solid(s) for s in cloth(body)])
    hit = worn.ray.intersects_any(start + 1e-5 * way, way)
    folded = np.abs(np.abs(start[:, 0] - shoulders(body).mean(0)[0]) - 0.13) < 0.02
    hit |= folded & solid(skin).ray.intersects_any(start + 1e-3 * way, way)
    # The undone button of a shirt shows some of the breast bone.
    open_front = np.abs(start[:, 0] - shoulders(body).mean(0)[0]) < 0.03
    assert hit[~open_front].all()


def test_a_wrap_leaves_shoulders_and_arms_bare() -> None:
    """Outwards from the outer side of the upper arms, 200 mm from the middle and more: nothing."""
    body = dressed("wrap")
    skin, worn = body.surfaces[0], trimesh.util.concatenate([solid(s) for s in cloth(body)])
    y = skin.vertices[:, 1]
    below = y - shoulders(body)[:, 1].mean()
    arm = (below < 0.02) & (below > -0.25) & (skin.normals[:, 0] * skin.vertices[:, 0] > 0.13)
    arm &= np.abs(skin.vertices[:, 0]) > 0.2
    assert arm.sum() > 200
    start, way = skin.vertices[arm].astype(float), skin.normals[arm].astype(float)
    assert not worn.ray.intersects_any(start + 1e-5 * way, way).any()
    assert np.abs(worn.vertices[:, 0]).max() < np.abs(skin.vertices[:, 0]).max() - 0.03


@pytest.mark.parametrize("name", DRESSED)
def test_a_top_has_thickness_and_uv_in_decimetres(name: str) -> None:
    """One uv unit is 100 mm of cloth, so that threads come out at their size."""
    body = dressed(name)
    top = parts(body, "top", "jacket")[-1]
    corners, flat = top.vertices[top.triangles], top.uv[top.triangles]
    side = np.linalg.norm(corners - np.roll(corners, 1, 1), axis=2).sum(1)
    uv = np.linalg.norm(flat - np.roll(flat, 1, 1), axis=2).sum(1)
    assert np.median(side / np.maximum(uv, 1e-9)) == pytest.approx(0.1, rel=0.15)


@pytest.mark.parametrize("name", DRESSED)
def test_collar_and_shoulders_are_metered_on_what_is_seen(name: str) -> None:
    body = dressed(name)
    expected = "skin" if name == "wrap" else "cloth"
    for mark in ("collar", "shoulder_sitter_left", "shoulder_sitter_right"):
        assert body.landmarks[mark].on == expected
        lying = body.surfaces[:1] if name == "wrap" else cloth(body)
        points = np.concatenate([s.vertices for s in lying])
        assert cKDTree(points).query(body.landmarks[mark].position_m)[0] < 0.006
    left, right = (body.landmarks[f"shoulder_sitter_{s}"] for s in ("left", "right"))
    assert left.position_m[0] - right.position_m[0] > 0.16
    assert left.normal[1] > 0.3
    assert right.normal[1] > 0.3


def unturned(body: Body, points: np.ndarray) -> np.ndarray:
    """Points seen from the head: x along the line of the eyes, z out of the lens."""
    left, right = (
        next(s for s in body.surfaces if s.name == f"eye_sitter_{w}").vertices.mean(0)
        for w in ("left", "right")
    )
    x = (left - right) / np.linalg.norm(left - right)
    lens = parts(body, "lens_left")[0]
    z = lens.normals.mean(0) + parts(body, "lens_right")[0].normals.mean(0)
    z = z - x * (z @ x)
    z /= np.linalg.norm(z)
    frame = np.stack([x, np.cross(z, x), z])
    return np.asarray((points - 0.5 * (left + right)) @ frame.T)


@pytest.mark.parametrize("name", ["shirt", "jacket"])
def test_lenses_sit_before_the_pupils(name: str) -> None:
    """Within 5 mm sideways; vertex distance 12 to 20 mm, lens 38 to 58 mm wide and 28 to 50 mm
    tall, bridge 14 to 24 mm: opticians' usual figures, from memory."""
    body = dressed(name)
    inner = []
    for word, sign in (("left", 1), ("right", -1)):
        lens = unturned(body, parts(body, f"lens_{word}")[0].vertices.astype(float))
        eye = unturned(body, parts(body, f"eye_sitter_{word}")[0].vertices.astype(float))
        ball = 0.5 * (eye.min(0) + eye.max(0))
        middle = 0.5 * (lens.min(0) + lens.max(0))
        assert abs(middle[0] - ball[0]) < 0.005
        assert abs(middle[1] - ball[1]) < 0.008
        assert lens[0, 2] - eye[:, 2].max() + 0.002 >= 0.012
        assert lens[0, 2] - eye[:, 2].max() < 0.020
        wide, tall = np.ptp(lens[:, 0]), np.ptp(lens[:, 1])
        assert 0.038 <= wide <= 0.058
        assert 0.028 <= tall <= 0.050
        inner.append((sign * lens[:, 0]).min())
    assert 0.014 <= sum(inner) <= 0.026


@pytest.mark.parametrize("name", ["shirt", "jacket"])
def test_glasses_touch_neither_face_nor_brows(name: str) -> None:
    body = dressed(name)
    glasses = parts(body, "glasses_frame", "lens_left", "lens_right")
    points = np.concatenate([s.vertices for s in glasses])
    assert solid(body.surfaces[0]).contains(points).sum() == 0
    lenses = trimesh.util.concatenate([solid(s) for s in glasses[1:]])
    for strands in body.strands:
        if strands.name.startswith(("lashes", "brows")):
            start, end = strands.points[:, :-1].reshape(-1, 3), strands.points[:, 1:].reshape(-1, 3)
            assert crossings(lenses, start, end) == 0


def crossings(mesh: trimesh.Trimesh, start: np.ndarray, end: np.ndarray) -> int:
    """How many of the straight pieces pass through the mesh."""
    way = (end - start).astype(float)
    length = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
    place, ray, _ = mesh.ray.intersects_location(
        start.astype(float), way / length[:, None], multiple_hits=False
    )
    return int((np.linalg.norm(place - start[ray], axis=1) < length[ray]).sum())


@pytest.mark.parametrize("name", ["shirt", "jacket"])
def test_a_lens_has_no_power(name: str) -> None:
    """A sheet that a straight line meets once bends no light: both its faces are one."""
    body = dressed(name)
    for lens in parts(body, "lens_left", "lens_right"):
        assert isinstance(lens.material, Glass)
        mesh = solid(lens)
        middle = mesh.vertices.mean(0)
        way = lens.normals.mean(0) / np.linalg.norm(lens.normals.mean(0))
        start = middle + 0.004 * np.random.default_rng(0).standard_normal((50, 3)) + 0.1 * way
        _, ray, _ = mesh.ray.intersects_location(start, np.tile(-way, (50, 1)))
        assert sorted(ray) == list(range(50))


@pytest.mark.parametrize("name", ["shirt", "hat"])
def test_a_hat_clears_scalp_and_hair(name: str) -> None:
    body = dressed(name)
    hat = parts(body, "hat", "hat_lining")
    skin = body.surfaces[0].vertices
    away = cKDTree(np.concatenate([s.vertices for s in hat])).query(skin)[0]
    assert away.min() > 0.001
    outside = solid(parts(body, "hat")[0])
    for strands in body.strands:
        if strands.name.startswith("hair"):
            start, end = strands.points[:, :-1].reshape(-1, 3), strands.points[:, 1:].reshape(-1, 3)
            assert crossings(outside, start, end) == 0
    for mark in ("crown", "hair_sitter_left", "hair_sitter_right"):
        assert body.landmarks[mark].on == "cloth"


def test_a_headscarf_leaves_the_face_free_and_shows_no_hair() -> None:
    body = dressed("jacket")
    assert not any(s.name.startswith("hair") for s in body.strands)
    worn = trimesh.util.concatenate([solid(s) for s in cloth(body)])
    for mark in ("forehead", "nose_tip", "chin", "cheek_sitter_left", "cheek_sitter_right"):
        place = body.landmarks[mark]
        start = place.position_m + 1e-4 * place.normal
        assert not worn.ray.intersects_any(start[None], place.normal[None].astype(float)).any()
    crown = body.landmarks["crown"]
    assert crown.on == "cloth"
    assert crown.normal[1] > 0.8


def test_glasses_and_hat_are_kept_on_disk(tmp_path: Path) -> None:
    body = dressed("shirt")
    save_body(tmp_path / "sitter.npz", body)
    kept = load_body(tmp_path / "sitter.npz")
    assert kept is not None
    assert [s.name for s in kept.surfaces] == [s.name for s in body.surfaces]
    assert parts(kept, "lens_left")[0].material == parts(body, "lens_left")[0].material
