"""A sitter must be a sound body of human size before any light falls on it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from render.errors import MeshError
from render.sitter import (
    CHOICES,
    Body,
    Painted,
    Skin,
    Surface,
    Wishes,
    assembly,
    build_body,
    near_surface,
)
from tests import people
from tests.people import DATA, small

FACE_MARKS = ("forehead", "glabella", "nose_tip", "chin")
SIDED_MARKS = ("cheek", "temple", "brow", "hair", "shoulder")


def anew(wishes: Wishes, cache_dir: Path | None = None) -> Body:
    """A small sitter made again, or loaded from the cache."""
    return build_body(
        wishes,
        data_dir=DATA,
        cache_dir=cache_dir,
        strand_count=people.STRANDS,
        map_width=people.MAP_WIDTH,
    )


@pytest.fixture(scope="module", params=CHOICES["model"])
def body(request: pytest.FixtureRequest) -> Body:
    return small(request.param)


@pytest.fixture(scope="module")
def alma() -> Body:
    return small("alma")


def welded(surface: Surface) -> trimesh.Trimesh:
    """The surface with its map seam sewn up: equal positions become one vertex."""
    points, inverse = np.unique(surface.vertices, axis=0, return_inverse=True)
    return trimesh.Trimesh(points, inverse[surface.triangles], process=False)


def eye_centres(body: Body) -> dict[str, np.ndarray]:
    """Centre of each eyeball, from the sphere through its rear half."""
    out = {}
    for surface in body.surfaces:
        if surface.name.startswith("eye"):
            assert isinstance(surface.material, Painted)
            points = surface.vertices.astype(float)
            rear = points[points[:, 2] < np.median(points[:, 2])]
            system = np.c_[2 * rear, np.ones(len(rear))]
            out[surface.name] = np.linalg.lstsq(system, (rear**2).sum(1), rcond=None)[0][:3]
    return out


def test_skin_is_closed_and_has_the_volume_of_a_bust(body: Body) -> None:
    skin = welded(body.surfaces[0])
    assert isinstance(body.surfaces[0].material, Skin)
    assert skin.is_watertight
    # An adult has 0.05 to 0.1 m3 in all; head, neck and upper trunk are a good third of it
    # (body volume: mass over about 1000 kg/m3; shares from memory).
    assert 0.018 < skin.volume < 0.045


def test_eyes_are_as_far_apart_as_those_of_adults(body: Body) -> None:
    left, right = (eye_centres(body)[f"eye_sitter_{side}"] for side in ("left", "right"))
    # Adult interpupillary distance 54 to 74 mm (published range, from memory).
    assert 0.054 < np.linalg.norm(left - right) < 0.074
    assert left[0] > 0 > right[0]
    assert np.abs(0.5 * (left + right)).max() < 2e-4


def test_head_is_as_broad_and_high_as_those_of_adults(body: Body) -> None:
    points = body.surfaces[0].vertices
    above_ears = points[(points[:, 1] > 0.025) & (points[:, 1] < 0.06)]
    # Adult head breadth 0.13 to 0.17 m (published range, from memory).
    assert 0.13 < np.ptp(above_ears[:, 0]) < 0.17
    # Adult menton-to-crown height 0.19 to 0.26 m (from memory); the chin mark is above menton.
    assert 0.17 < points[:, 1].max() - body.landmarks["chin"].position_m[1] < 0.26


def test_normals_are_unit_and_point_out_of_the_faces(body: Body) -> None:
    for surface in body.surfaces:
        assert np.abs(np.linalg.norm(surface.normals, axis=1) - 1).max() < 1e-4, surface.name
        a, b, c = (surface.vertices[surface.triangles[:, k]].astype(float) for k in range(3))
        face = np.cross(b - a, c - a)
        smooth = surface.normals[surface.triangles].mean(1)
        agree = (face * smooth).sum(1) > 0
        area = np.linalg.norm(face, axis=1)
        # A few folds inside nostrils, mouth and between teeth may turn over; the whole may not.
        assert area[agree].sum() > 0.997 * area.sum(), surface.name
    assert welded(body.surfaces[0]).volume > 0


def test_nothing_is_infinite_and_no_triangle_misses_its_vertices(body: Body) -> None:
    for surface in body.surfaces:
        for part in (surface.vertices, surface.normals, surface.uv):
            assert np.isfinite(part).all()
        assert surface.triangles.min() == 0
        assert surface.triangles.max() == len(surface.vertices) - 1
    for strands in body.strands:
        assert np.isfinite(strands.points).all()
        assert (strands.radii > 0).all()


def test_no_strand_has_an_empty_piece_or_a_cusp(body: Body) -> None:
    for strands in body.strands:
        pieces = np.diff(strands.points.astype(float), axis=1)
        length = np.linalg.norm(pieces, axis=2)
        assert length.min() > 1e-5, strands.name
        straight = (pieces[:, 1:] * pieces[:, :-1]).sum(2) / (length[:, 1:] * length[:, :-1])
        # Less than one bend in a thousand is sharper than a right angle.
        assert (straight < 0).mean() < 1e-3, strands.name


def test_hair_stays_outside_the_skin_but_for_its_roots(body: Body) -> None:
    skin = welded(body.surfaces[0])
    hair = [s.points[:, 2:] for s in body.strands if s.name.startswith("hair")]
    if not hair:
        pytest.skip("a bald head")
    points = np.concatenate([h.reshape(-1, 3) for h in hair]).astype(float)
    rng = np.random.default_rng(3)
    sample = points[rng.choice(len(points), 4000, replace=False)]
    inside = sample[skin.contains(sample)]
    # Distance to the nearest vertex is never less than the depth.
    depth, _ = cKDTree(skin.vertices).query(inside)
    assert (depth > 0.002).sum() < 0.005 * len(sample)


def test_hair_leaves_the_face_free(body: Body) -> None:
    nose = body.landmarks["nose_tip"].position_m
    for strands in body.strands:
        if strands.name.startswith("hair"):
            x, y, z = np.moveaxis(strands.points, -1, 0)
            over_face = (np.abs(x) < 0.045) & (y < 0.02) & (y > nose[1] - 0.03) & (z > 0)
            assert not over_face.any()


def test_eyeballs_stay_behind_the_lids(body: Body) -> None:
    skin = body.surfaces[0].vertices.astype(float)
    for name, centre in eye_centres(body).items():
        ball = next(s for s in body.surfaces if s.name == name).vertices.astype(float)
        radius = np.quantile(np.linalg.norm(ball - centre, axis=1), 0.5)
        offset = skin - centre
        distance = np.linalg.norm(offset, axis=1)
        lids = (distance < 1.3 * radius) & (offset[:, 2] > 0.3 * radius)
        assert lids.sum() > 100
        assert distance[lids].min() > radius


def test_eyes_look_at_the_camera(alma: Body) -> None:
    gaze = np.array([0.0, 0.0, 2.4])
    for name, centre in eye_centres(alma).items():
        surface = next(s for s in alma.surfaces if s.name == name)
        pupil = surface.vertices[surface.uv[:, 1] < 0.01].mean(0)
        axis, wanted = pupil - centre, gaze - centre
        cosine = axis @ wanted / np.linalg.norm(axis) / np.linalg.norm(wanted)
        assert np.degrees(np.arccos(min(1.0, cosine))) < 0.5


def test_landmarks_lie_where_their_names_say(body: Body) -> None:
    mark = {name: m.position_m for name, m in body.landmarks.items()}
    assert mark["crown"][1] > mark["forehead"][1] > mark["glabella"][1] > mark["nose_tip"][1]
    assert mark["nose_tip"][1] > mark["chin"][1] > mark["collar"][1]
    assert mark["nose_tip"][2] == max(m[2] for m in mark.values())
    for name in FACE_MARKS:
        assert abs(mark[name][0]) < 0.004
    for name in SIDED_MARKS:
        left, right = mark[f"{name}_sitter_left"], mark[f"{name}_sitter_right"]
        assert left[0] > 0.02
        # Faces are slightly uneven, and so is hair.
        assert np.abs(left - right * [-1, 1, 1]).max() < (0.012 if name == "hair" else 0.006)


def test_landmark_normals_are_unit_and_point_away_from_the_head(body: Body) -> None:
    for mark in body.landmarks.values():
        assert abs(float(np.linalg.norm(mark.normal)) - 1) < 1e-5
    normal = {name: m.normal for name, m in body.landmarks.items()}
    assert normal["forehead"][2] > 0.85
    assert normal["nose_tip"][2] > 0.85
    assert normal["crown"][1] > 0.9
    assert normal["collar"][2] > 0.7
    assert normal["collar"][1] > -0.3
    for side, sign in (("left", 1), ("right", -1)):
        assert sign * normal[f"cheek_sitter_{side}"][0] > 0.3
        assert normal[f"cheek_sitter_{side}"][2] > 0.5
        assert sign * normal[f"hair_sitter_{side}"][0] > 0.7
        assert normal[f"hair_sitter_{side}"][1] > 0.1
        assert normal[f"shoulder_sitter_{side}"][1] > 0.6


def test_hair_landmarks_lie_just_outside_the_hair(alma: Body) -> None:
    hair = np.concatenate(
        [s.points.reshape(-1, 3) for s in alma.strands if s.name.startswith("hair")]
    )
    for name in ("crown", "hair_sitter_left", "hair_sitter_right"):
        mark = alma.landmarks[name]
        assert mark.on == "hair"
        offset = hair - mark.position_m
        above = (offset @ mark.normal > 0) & (np.linalg.norm(offset, axis=1) < 0.008)
        below = (offset @ mark.normal < 0) & (np.linalg.norm(offset, axis=1) < 0.012)
        assert below.sum() > 10 * above.sum()


def test_a_bald_head_has_no_hair_and_its_crown_is_skin() -> None:
    bald = small("alma", hair="bald", skin_reflectance=0.60)
    assert not any(s.name.startswith("hair") for s in bald.strands)
    assert bald.landmarks["crown"].on == "skin"


@pytest.mark.parametrize("reflectance", [0.05, 0.60])
def test_plain_skin_has_the_asked_luminous_reflectance(reflectance: float) -> None:
    body = small("alma", hair="bald", skin_reflectance=reflectance)
    skin = body.surfaces[0]
    assert isinstance(skin.material, Skin)
    maps = skin.material
    assert maps.albedo.min() > 0
    assert maps.albedo.max() < 1
    # Luminance weights of linear sRGB: IEC 61966-2-1.
    luminous = maps.albedo @ np.array([0.2126, 0.7152, 0.0722])
    h, w = luminous.shape
    near = []
    for name in ("forehead", "cheek_sitter_left", "cheek_sitter_right"):
        i = np.linalg.norm(skin.vertices - body.landmarks[name].position_m, axis=1).argmin()
        u, v = skin.uv[i]
        row, column = int((1 - v) * h), int(u % 1 * w)
        near.append(luminous[row - 3 : row + 4, column - 3 : column + 4].mean())
    # The mean over all plain skin is exact; forehead and cheeks differ from it as on a person.
    assert abs(np.mean(near) / reflectance - 1) < 0.12


def test_patch_points_lie_on_the_triangles_around_the_point(body: Body) -> None:
    skin = body.surfaces[0]
    mesh = welded(skin)
    for name in ("forehead", "nose_tip", "cheek_sitter_left"):
        mark = body.landmarks[name]
        points, normals = near_surface(skin, mark.position_m, 0.004, 200, seed=1)
        assert points.shape == normals.shape == (200, 3)
        assert np.linalg.norm(points - mark.position_m, axis=1).max() <= 0.004 + 1e-6
        # A ray shot at each point from 1 mm outside meets the skin there.
        start = points + 0.001 * normals
        hits, rays, _ = mesh.ray.intersects_location(start, -normals, multiple_hits=False)
        assert len(rays) == len(points)
        assert np.linalg.norm(hits - points[rays], axis=1).max() < 1e-5
        assert np.abs(np.linalg.norm(normals, axis=1) - 1).max() < 1e-5
        assert (normals @ mark.normal).min() > 0.4
    again, _ = near_surface(skin, mark.position_m, 0.004, 200, seed=1)
    assert np.array_equal(points, again)


def test_patch_points_are_spread_evenly() -> None:
    # On a flat square the mean of uniform points in a disc is its centre and the mean square
    # radius is R2/2 (disc geometry); 4 standard errors of R2/sqrt(12)/sqrt(n).
    flat = Surface(
        "flat",
        np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]], np.float32),
        np.array([[0, 1, 2], [0, 2, 3]], np.int32),
        np.tile(np.array([0, 0, 1], np.float32), (4, 1)),
        np.zeros((4, 2), np.float32),
        Painted(np.zeros((2, 2, 3), np.float32), 0.1),
    )
    points, _ = near_surface(flat, np.zeros(3), 0.8, 4000, seed=5)
    square = (points[:, :2] ** 2).sum(1)
    assert abs(square.mean() - 0.32) < 4 * 0.64 / np.sqrt(12) / np.sqrt(4000)
    assert np.abs(points[:, :2].mean(0)).max() < 4 * 0.4 / np.sqrt(4000)


def test_a_turned_head_keeps_its_eyes_in_the_middle_and_its_chest_in_place() -> None:
    straight, turned = small("emi"), small("emi", head_turn_deg=40, head_nod_deg=5)
    centres = list(eye_centres(turned).values())
    assert np.abs(0.5 * (centres[0] + centres[1])).max() < 2e-4
    assert welded(turned.surfaces[0]).is_watertight
    # Turning is to the sitter's left, +x; 40 degrees about the neck.
    forward = turned.landmarks["forehead"].normal
    was = straight.landmarks["forehead"].normal
    turn = np.degrees(np.arctan2(forward[0], forward[2]) - np.arctan2(was[0], was[2]))
    assert abs(turn - 40) < 2
    # A nod lowers the nose against the eyes.
    nose = [b.landmarks["nose_tip"].position_m[1] for b in (turned, straight)]
    assert nose[0] < nose[1]


def not_made_again(body: Body, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Whatever is to be made from now on is this body; versions that were asked for."""
    asked: list[str] = []

    def make(wish: object, sitter: object, data_dir: object, version: str) -> Body:
        asked.append(version)
        return replace(body, version=version)

    monkeypatch.setattr(assembly, "make_body", make)
    return asked


def test_the_same_wishes_give_the_same_body(alma: Body, monkeypatch: pytest.MonkeyPatch) -> None:
    again = anew(Wishes(model="alma"))
    assert again.version == alma.version
    for one, other in zip(alma.surfaces, again.surfaces, strict=True):
        assert np.array_equal(one.vertices, other.vertices)
    for one, other in zip(alma.strands, again.strands, strict=True):
        assert np.array_equal(one.points, other.points)
    not_made_again(alma, monkeypatch)
    assert anew(Wishes(model="alma", hair_colour="white")).version != alma.version
    assert anew(Wishes(model="alma")).version == alma.version


def test_a_kept_body_comes_back_whole_and_a_spoilt_one_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wishes = Wishes(model="alma", hair="bald")
    asked = not_made_again(small("alma", hair="bald", skin_reflectance=0.60), monkeypatch)
    made = anew(wishes, tmp_path)
    assert asked.pop() == made.version
    (file,) = tmp_path.iterdir()
    kept = anew(wishes, tmp_path)
    assert not asked
    assert kept.landmarks.keys() == made.landmarks.keys()
    for one, other in zip(made.surfaces, kept.surfaces, strict=True):
        assert np.array_equal(one.uv, other.uv)
        assert type(one.material) is type(other.material)
    assert [s.fibre for s in kept.strands] == [s.fibre for s in made.strands]
    for spoilt in (b"not a body", file.read_bytes()[: file.stat().st_size // 2]):
        file.write_bytes(spoilt)
        assert anew(wishes, tmp_path).version == made.version
        assert asked.pop() == made.version
        assert not asked
        assert [f.name for f in tmp_path.iterdir()] == [file.name]
        assert file.stat().st_size > 1_000_000


@pytest.mark.parametrize(
    ("name", "wishes", "accepted"),
    [
        ("nobody", {}, CHOICES["model"]),
        ("alma", {"hair": "mohawk"}, CHOICES["hair"]),
        ("alma", {"hair_colour": "plaid"}, CHOICES["hair_colour"]),
        ("alma", {"skin_reflectance": 0.9}, ("0.05", "0.6")),
    ],
)
def test_an_unknown_wish_is_refused_with_what_would_do(
    name: str, wishes: dict[str, object], accepted: tuple[str, ...]
) -> None:
    with pytest.raises(MeshError) as caught:
        small(name, **wishes)
    for word in accepted:
        assert word in str(caught.value)


def test_missing_head_data_are_named(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match=r"head_base\.npz"):
        build_body(Wishes(), data_dir=tmp_path)
