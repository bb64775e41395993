"""The face: eyes of the right size, lids that close and follow, teeth behind a laugh only."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from render.sitter import Body, Surface, Wishes, assembly, build_body
from render.sitter.cast import CAST
from render.sitter.choices import EXPRESSIONS, EYE_COLOURS
from render.sitter.face.expressions import EXPRESSIONS as RECIPES
from render.sitter.face.eye_paint import _IRIS, PUPIL_SHARE
from render.sitter.face.eyes import CORNEA_RADIUS, IRIS_RADIUS, dome_depth
from render.sitter.face.gaze import FARTHEST_DEG, looking_at
from render.sitter.shape.head_data import load_head_data
from render.sitter.wishes import settled

DATA = Path(__file__).resolve().parents[3] / "meshes"
MODELS = ("alma", "bram")
SIDES = ("left", "right")
FAR_M = 2.4
AWAY = np.array([0.0, 0.0, -1.0])  # from the camera to the sitter


@cache
def unturned(model: str, expression: str = "neutral", turn_deg: float = 0.0) -> Body:
    """A bald sitter whose eyes can still be turned."""
    wish = Wishes(model, expression=expression, hair="bald", head_turn_deg=turn_deg)
    return assembly.make_body(settled(wish, 1, 512), CAST[model], DATA, "test")


def gazing(body: Body, sideways_deg: float, up_deg: float) -> Body:
    """The body with its eyes turned by these angles (the sitter's left and up are +)."""
    a, e = np.radians(sideways_deg), np.radians(up_deg)
    x, y, z = np.sin(a) * np.cos(e), np.sin(e), np.cos(a) * np.cos(e)
    return looking_at(body, (100 * x, 100 * y, 100 * z))


def part(body: Body, name: str) -> Surface:
    return next(s for s in body.surfaces if s.name == name)


def first_hits(
    body: Body, origins: np.ndarray, direction: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What each ray meets first: names of surfaces (n,), "" for none, and places (n, 3)."""
    face = [s for s in body.surfaces if s.name not in ("top", "band", "edge")]
    kept = [s.triangles[s.vertices[s.triangles, 2].max(1) > 0.0] for s in face]
    start = np.cumsum([0, *(len(s.vertices) for s in face)])
    triangles = np.concatenate([t + n for t, n in zip(kept, start[:-1], strict=True)])
    owner = np.repeat(np.arange(len(face)), [len(t) for t in kept])
    vertices = np.concatenate([s.vertices for s in face]).astype(float)
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    towards = np.tile(direction, (len(origins), 1))
    places, ray, hit = mesh.ray.intersects_location(origins, towards, multiple_hits=False)
    names, where = np.full(len(origins), "", dtype="<U20"), np.full((len(origins), 3), np.nan)
    names[ray], where[ray] = np.array([s.name for s in face])[owner[hit]], places
    return names, where


def from_the_front(middle: np.ndarray, half_m: tuple[float, float], count: int) -> np.ndarray:
    """Origins of rays towards -z in a grid round a place on the face."""
    x, y = (np.linspace(-h, h, count) for h in half_m)
    grid = np.stack(np.meshgrid(x, y), -1).reshape(-1, 2)
    return np.c_[grid + middle[:2], np.full(len(grid), 1.0)]


def ball(body: Body, side: str) -> tuple[np.ndarray, float]:
    """Centre and radius of the eyeball, from the sphere through its rear half."""
    points = part(body, f"eye_sitter_{side}").vertices.astype(float)
    rear = points[: len(points) // 3]
    system = np.c_[2 * rear, np.ones(len(rear))]
    solution = np.linalg.lstsq(system, (rear**2).sum(1), rcond=None)[0]
    return solution[:3], float(np.sqrt(solution[3] + solution[:3] @ solution[:3]))


def lid_heights(body: Body, side: str) -> tuple[float, float]:
    """Heights [m] between which the eyeball is seen on a line through the pupil's column."""
    centre, radius = ball(body, side)
    y = np.linspace(-radius, radius, 400)
    origins = np.c_[np.full(400, centre[0]), centre[1] + y, np.full(400, 1.0)]
    hits, _ = first_hits(body, origins, AWAY)
    seen = y[np.char.startswith(hits, "eye")]
    return float(seen.min()), float(seen.max())


def test_iris_is_as_broad_as_those_of_adults() -> None:
    # Adult corneal (white to white) diameter 11.7 +- 0.5 mm (published surveys, from memory).
    assert abs(2 * IRIS_RADIUS * 100 - 11.7) <= 0.5
    body = gazing(unturned("alma"), 0, 0)
    eye = part(body, "eye_sitter_left")
    centre, radius = ball(body, "left")
    # The painted iris ends where the white begins: half way to the limit of its soft edge.
    limbus = 2 * eye.uv[:, 1].astype(float) * radius
    ring = np.hypot(*(eye.vertices - centre)[:, :2].T)
    front = eye.uv[:, 1] < 0.4
    assert np.abs(limbus - ring)[front].max() < 1e-4


def test_every_eye_colour_that_can_be_asked_for_has_a_paint() -> None:
    assert set(EYE_COLOURS) == set(_IRIS)
    assert set(EXPRESSIONS) == set(RECIPES)


def test_every_expression_is_made_of_packed_shape_changes() -> None:
    packed = load_head_data(DATA).morphs
    for expression in RECIPES.values():
        assert {name for name, _ in expression.morphs} <= set(packed)


@pytest.mark.parametrize("angles", [(0, 0), (30, 0), (0, -30)])
def test_closed_lids_cover_the_whole_eye(angles: tuple[float, float]) -> None:
    body = gazing(unturned("alma", "eyes closed"), *angles)
    for side in SIDES:
        centre, radius = ball(body, side)
        hits, _ = first_hits(body, from_the_front(centre, (radius, radius), 90), AWAY)
        assert not np.char.startswith(hits, "eye").any()
        # The tear film lies inside the shut rim.
        assert np.char.startswith(hits, "wet").mean() < 2e-3
    open_eyes = gazing(unturned("alma"), *angles)
    centre, radius = ball(open_eyes, "left")
    hits, _ = first_hits(open_eyes, from_the_front(centre, (radius, radius), 90), AWAY)
    assert (hits == "eye_sitter_left").mean() > 0.05


def test_lashes_go_down_with_closing_lids() -> None:
    tips = []
    for expression in ("neutral", "eyes closed"):
        body = unturned("alma", expression)
        lashes = next(s for s in body.strands if s.name == "lashes").points
        # The highest roots are those of the upper lid's middle.
        tips.append(float(np.percentile(lashes[:, 1, 1], 90)))
    # The upper lid makes nearly the whole way of a palpebral fissure of 8 to 11 mm (published
    # range, from memory).
    assert 0.004 < tips[0] - tips[1] < 0.012


@pytest.mark.parametrize("model", MODELS)
def test_a_laugh_shows_upper_teeth_and_a_shut_mouth_none(model: str) -> None:
    seen = {}
    for expression in ("neutral", "laugh"):
        body = unturned(model, expression)
        mouth = 0.5 * sum(
            body.landmarks[name].position_m.astype(float) for name in ("upper_lip", "lower_lip")
        )
        hits, _ = first_hits(body, from_the_front(mouth, (0.04, 0.03), 120), AWAY)
        seen[expression] = {name: float((hits == name).mean()) for name in set(hits)}
    inside = ("teeth_upper", "teeth_lower", "tongue", "mouth")
    assert sum(seen["neutral"].get(name, 0) for name in inside) < 2e-3
    laugh = seen["laugh"]
    # Smiles show mostly upper teeth: common observation, no source.
    assert laugh["teeth_upper"] > 0.04
    assert laugh["teeth_upper"] > 5 * laugh.get("teeth_lower", 0)


@pytest.mark.parametrize("model", MODELS)
def test_nothing_of_the_mouth_pokes_through_the_skin(model: str) -> None:
    for expression in ("neutral", "laugh"):
        body = unturned(model, expression)
        chin = body.landmarks["chin"].position_m.astype(float)
        # Below the lower lip only skin is seen, from the front and from below.
        for direction in ([0, 0, -1.0], [0, 0.6, -0.8]):
            towards = np.array(direction)
            rays = from_the_front(chin - [0, 0.01, 0], (0.05, 0.012), 60)
            origins = rays - [0, 0, 1.0] + [0, 0, chin[2]] - 0.5 * towards
            hits, _ = first_hits(body, origins, towards)
            assert not set(hits) & {"teeth_upper", "teeth_lower", "tongue", "mouth"}


@pytest.mark.parametrize("model", MODELS)
def test_lids_follow_the_eye_up_and_down(model: str) -> None:
    body = unturned(model)
    looks = {up: gazing(body, 0, up) for up in (-25, 0, 25)}
    for side in SIDES:
        low, high = {}, {}
        for up, look in looks.items():
            low[up], high[up] = lid_heights(look, side)
        _, radius = ball(body, side)
        made = {up: np.degrees((high[up] - high[0]) / radius) / up for up in (-25, 25)}
        # The upper lid makes much of the eye's way, the lower lid less: common observation,
        # no source.
        assert 0.4 < made[25] < 0.9
        assert 0.4 < made[-25] < 1.0
        assert low[-25] < low[0] < low[25]
        assert abs(low[-25] - low[0]) < 0.7 * abs(high[-25] - high[0])


@pytest.mark.parametrize(("model", "expression"), [("alma", "neutral"), ("bram", "laugh")])
def test_no_gaze_leaves_a_hole_between_lid_and_eye(model: str, expression: str) -> None:
    body = unturned(model, expression)
    looks = ((0, 0), (FARTHEST_DEG, 0), (0, FARTHEST_DEG), (0, -FARTHEST_DEG), (-25, -24))
    for sideways, up in looks:
        turned = gazing(body, sideways, up)
        skin = turned.surfaces[0].vertices.astype(float)
        for side in SIDES:
            centre, radius = ball(turned, side)
            q = skin - centre
            away = np.linalg.norm(q, axis=1)
            near = (away < 1.35 * radius) & (q[:, 2] > 0.3 * radius)
            # No lid enters the eye: below each lid vertex the eye's own surface lies deeper.
            e = part(turned, f"eye_sitter_{side}").vertices.astype(float) - centre
            reach = np.linalg.norm(e, axis=1)
            nearest = cKDTree(e / reach[:, None]).query(q[near] / away[near, None])[1]
            assert (away[near] - reach[nearest]).min() > 0
            # No ray finds a way past the lids into the socket behind the ball's middle.
            rays = from_the_front(centre, (0.9 * radius, 0.6 * radius), 60)
            hits, places = first_hits(turned, rays, AWAY)
            assert set(hits) <= {f"eye_sitter_{side}", f"wet_sitter_{side}", "skin"}
            assert places[:, 2].min() > centre[2]


def test_lids_stay_shut_whatever_the_eyes_do() -> None:
    body = unturned("alma", "eyes closed")
    straight, up = gazing(body, 0, 0), gazing(body, 0, 30)
    moved = np.linalg.norm(up.surfaces[0].vertices - straight.surfaces[0].vertices, axis=1)
    # Only the swelling over the cornea moves, by no more than the cornea stands out: 3 mm.
    assert 0 < moved.max() < 0.003


def test_lids_of_a_turned_head_move_as_those_of_a_straight_one() -> None:
    straight, turned = unturned("alma"), unturned("alma", turn_deg=40.0)
    a = np.radians(40.0)
    # A place 20 degrees below straight ahead for either head.
    drop = -np.tan(np.radians(20))
    looks = (
        (straight, (0.0, drop, 1.0)),
        (turned, (float(np.sin(a)), drop, float(np.cos(a)))),
    )
    moved = []
    for body, place in looks:
        x, y, z = (100 * c for c in place)
        change = (
            looking_at(body, (x, y, z)).surfaces[0].vertices
            - looking_at(body, None).surfaces[0].vertices
        )
        moved.append(np.sort(np.linalg.norm(change, axis=1))[-200:])
    assert moved[0].max() > 0.002
    assert np.abs(moved[0] - moved[1]).max() < 2e-4


def test_turning_the_eyes_keeps_the_skin_closed_and_its_normals_true() -> None:
    body = gazing(unturned("alma"), 20, -30)
    skin = body.surfaces[0]
    points, inverse = np.unique(skin.vertices, axis=0, return_inverse=True)
    assert trimesh.Trimesh(points, inverse[skin.triangles], process=False).is_watertight
    assert np.abs(np.linalg.norm(skin.normals, axis=1) - 1).max() < 1e-4
    assert body.lids == ()


def test_a_catchlight_sits_where_the_mirror_law_puts_it() -> None:
    """Cornea as a convex mirror: the normal at the glint halves the angle camera - eye - lamp."""
    body = looking_at(unturned("alma"), (0.0, 0.0, FAR_M))
    eye = part(body, "eye_sitter_left")
    camera, lamp = np.array([0, 0, FAR_M]), np.array([-0.8, 0.6, 1.0])
    to_camera, to_lamp = (p - eye.vertices for p in (camera, lamp))
    halfway = sum(v / np.linalg.norm(v, axis=1, keepdims=True) for v in (to_camera, to_lamp))
    halfway /= np.linalg.norm(halfway, axis=1, keepdims=True)
    on_cornea = eye.uv[:, 1] < 0.3
    glint = int(np.where(on_cornea, (eye.normals * halfway).sum(1), -1).argmax())
    # Closed form: a sphere's normal at the glint passes through the sphere's centre.
    centre, radius = ball(body, "left")
    ahead = (camera - centre) / np.linalg.norm(camera - centre)
    middle = centre + ahead * dome_depth(radius * 10) * 0.1
    normal = halfway[glint]
    expected = middle + CORNEA_RADIUS * 0.1 * normal
    # Half a mesh cell of the cornea: 2 pi 5 mm / 96 across, 0.2 mm along.
    assert np.linalg.norm(eye.vertices[glint] - expected) < 0.0003


def test_pupil_is_between_the_smallest_and_the_widest_of_adults() -> None:
    # Adult pupil 2 to 8 mm (textbook range, from memory); in studio light well inside.
    assert 2.0 < 2 * IRIS_RADIUS * PUPIL_SHARE * 100 < 5.0


def test_kept_lids_come_back_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wishes, bald = Wishes("alma", hair="bald"), unturned("alma")
    monkeypatch.setattr(assembly, "make_body", lambda *asked: replace(bald, version=asked[-1]))
    made, kept = (
        build_body(
            wishes,
            data_dir=DATA,
            cache_dir=tmp_path,
            gaze_m=(0.3, -0.8, 2.0),
            strand_count=1,
            map_width=512,
        )
        for _ in range(2)
    )
    for one, other in zip(made.surfaces, kept.surfaces, strict=True):
        assert np.array_equal(one.vertices, other.vertices)
    for one, other in zip(made.strands, kept.strands, strict=True):
        assert np.array_equal(one.points, other.points)
    assert len(list(tmp_path.iterdir())) == 1
    straight = replace(made, lids=())
    assert np.array_equal(
        looking_at(straight, None).surfaces[0].vertices, made.surfaces[0].vertices
    )
