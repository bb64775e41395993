"""A photographer's own head: read in any unit and axes, found again, painted, and made sound."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh

from render.errors import SceneError
from render.photometry.srgb import luminance, srgb_decode
from render.sitter import Body, Skin, Surface
from render.sitter.own import UNITS_M, OwnMesh, own_body
from render.sitter.own.parts import Part
from render.sitter.own.soundness import sound
from render.sitter.own.template import template
from render.sitter.shape.head_data import data_version
from tests.unit.sitter.own_heads import DATA, Scan, misses_m, picture, read, scan_of, sphere_uv

WITHIN_M = 0.005  # a meter's receptor is 40 mm wide, common practice, no source


@pytest.fixture(scope="module")
def alma() -> Scan:
    return scan_of("alma")


def write(file: Path, vertices: np.ndarray, triangles: np.ndarray, **more: object) -> Path:
    trimesh.Trimesh(vertices, triangles, process=False, **more).export(file)
    return file


def welded(surface: Surface) -> trimesh.Trimesh:
    points, inverse = np.unique(surface.vertices, axis=0, return_inverse=True)
    return trimesh.Trimesh(points, inverse.ravel()[surface.triangles], process=False)


LEFT, RIGHT = (200, 140, 110), (120, 80, 60)  # sRGB codes of the two halves of a painted face
KINDS = {  # unit, axis that points up, axis that the face looks along
    "obj": ("cm", "y", "z"),
    "ply": ("mm", "z", "-y"),
    "glb": (None, "y", "z"),
    "stl": ("in", "-x", "y"),
}


def halves(kind: str, alma: Scan) -> object:
    """Paint of each kind of file: the sitter's left half in one colour, the right in another."""
    if kind == "ply":
        codes = np.where(alma.vertices[:, :1] > 0, LEFT, RIGHT).astype(np.uint8)
        return trimesh.visual.ColorVisuals(vertex_colors=codes)
    codes = np.empty((64, 128, 3))
    codes[:, 64:], codes[:, :64] = LEFT, RIGHT
    codes[:8] = 255  # the crown, v = 1, is the top row
    kinds = {"obj": trimesh.visual.material.SimpleMaterial(image=_image(codes))}
    kinds["glb"] = trimesh.visual.material.PBRMaterial(baseColorTexture=_image(codes))
    return trimesh.visual.TextureVisuals(sphere_uv(alma.vertices), material=kinds[kind])


@pytest.fixture(scope="module")
def body_of(alma: Scan, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Body]:
    """The scan from each kind of file, painted but for STL, which faces inward instead."""
    axes = {"x": [1, 0, 0], "y": [0, 1, 0], "z": [0, 0, 1], "-x": [-1, 0, 0], "-y": [0, -1, 0]}

    @cache
    def made(kind: str) -> Body:
        unit, up, faces = KINDS[kind]
        y, z = np.array(axes[up]), np.array(axes[faces])
        file_from_ours = np.stack([np.cross(y, z), y, z], 1)
        vertices = (alma.vertices + [0.3, 1.4, -0.2]) @ file_from_ours.T / UNITS_M[unit or "m"]
        file = tmp_path_factory.mktemp(kind) / f"head.{kind}"
        if kind == "stl":
            return read(write(file, vertices, alma.triangles[:, ::-1]), unit, up, faces)
        painted = halves(kind, alma)
        return read(write(file, vertices, alma.triangles, visual=painted), unit, up, faces)

    return made


@pytest.mark.parametrize("kind", KINDS)
def test_landmarks_are_found_in_any_file_unit_and_axes(
    body_of: Callable[[str], Body], alma: Scan, kind: str
) -> None:
    """The scan is a sitter of ours whose landmarks are known; the template is not that sitter."""
    body = body_of(kind)
    off = misses_m(body, alma.marks)
    assert len(off) > 15
    assert max(off.values()) < WITHIN_M, off
    assert set(body.landmarks) == set(alma.marks)


def test_another_head_larger_and_turned_aside(tmp_path: Path) -> None:
    scan = scan_of("bram")
    angle = np.radians(15)
    turn = np.array(
        [[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]]
    )
    file = write(tmp_path / "head.ply", 1.05 * scan.vertices @ turn.T, scan.triangles)
    body = read(file)
    off = misses_m(body, {name: 1.05 * place @ turn.T for name, place in scan.marks.items()})
    assert max(off.values()) < WITHIN_M, off
    assert "the head itself is turned +15" in " ".join(body.notes)


def test_given_landmarks_find_a_face_that_is_not_found_by_itself(
    tmp_path: Path, alma: Scan
) -> None:
    """A board half a metre above the head, where the head itself is looked for."""
    board = trimesh.creation.box((0.8, 0.02, 0.8))
    whole = trimesh.util.concatenate(
        [
            trimesh.Trimesh(alma.vertices, alma.triangles, process=False),
            board.apply_translation([0, 0.6, 0]).subdivide().subdivide(),
        ]
    )
    file = write(tmp_path / "head.ply", 1000 * whole.vertices, whole.faces)
    with pytest.raises(SceneError, match=r"no face found .* \[sitter.landmarks\]"):
        read(file, "mm")
    names = ("nose_tip", "chin", "eye_sitter_left")
    places = {**alma.marks, "eye_sitter_left": alma.eye_left}
    given = tuple((name, tuple(1000 * places[name].astype(float))) for name in names)
    off = misses_m(read(file, "mm", landmarks=given), alma.marks)
    assert max(off.values()) < WITHIN_M, off


def test_landmarks_off_the_mesh_or_too_few_are_refused(tmp_path: Path, alma: Scan) -> None:
    file = write(tmp_path / "head.ply", 1000 * alma.vertices, alma.triangles)
    given = tuple((n, tuple(1000 * alma.marks[n].astype(float))) for n in ("nose_tip", "chin"))
    far = (*given, ("forehead", (0.0, 300.0, 0.0)))
    with pytest.raises(SceneError, match=r"sitter\.landmarks\.forehead: .* mm away from the mesh"):
        read(file, "mm", landmarks=far)
    with pytest.raises(SceneError, match="at least 3 of nose_tip"):
        read(file, "mm", landmarks=given)


def test_a_scan_open_at_the_neck_is_closed(body_of: Callable[[str], Body], alma: Scan) -> None:
    mesh = trimesh.Trimesh(alma.vertices, alma.triangles, process=False)
    assert not mesh.is_watertight
    body = body_of("glb")
    closed = welded(body.surfaces[0])
    low = closed.vertices[:, 1] < -0.15
    edges, count = np.unique(np.sort(closed.edges, 1), axis=0, return_counts=True)
    assert not low[edges[count == 1]].any()
    assert any("openings closed" in note for note in body.notes)


def test_normals_point_outward_whatever_the_file_says(body_of: Callable[[str], Body]) -> None:
    body = body_of("stl")
    assert any("faced inward" in note for note in body.notes)
    assert body.landmarks["nose_tip"].normal[2] > 0.7
    assert body.landmarks["cheek_sitter_left"].normal[0] > 0.3
    assert body.landmarks["cheek_sitter_right"].normal[0] < -0.3


def test_worthless_triangles_are_left_out_and_mixed_winding_is_mended() -> None:
    """A ball of 320 triangles: known volume; some triangles turned, doubled or without area."""
    ball = trimesh.creation.icosphere(subdivisions=2)
    faces = ball.faces.copy()
    faces[::3] = faces[::3, ::-1]
    extra = np.array([[0, 0, 1], [5, 9, 5], *faces[:4]])
    whole = sound([Part(ball.vertices, np.concatenate([faces, extra]))], "ball.ply")
    made = trimesh.Trimesh(whole.vertices, whole.triangles, process=False)
    assert len(made.faces) == 320
    assert made.is_winding_consistent
    assert made.volume == pytest.approx(ball.volume)
    assert [note.split()[0] for note in whole.notes[:2]] == ["2", "4"]


def skin_colour(body, name: str) -> np.ndarray:
    """Colour of the skin map at a landmark, looked up by the nearest triangle's corners."""
    skin = body.surfaces[0]
    middles = skin.vertices[skin.triangles].mean(1)
    near = np.linalg.norm(middles - body.landmarks[name].position_m, axis=1).argmin()
    u, v = skin.uv[skin.triangles[near]].mean(0)
    high, wide = skin.material.albedo.shape[:2]
    return skin.material.albedo[int((1 - v) * high) % high, int(u * wide) % wide]


@pytest.mark.parametrize("kind", ["glb", "obj", "ply"])
def test_a_texture_comes_back_in_linear_light(body_of: Callable[[str], Body], kind: str) -> None:
    """The colours of `halves` at the landmarks; IEC 61966-2-1 decodes."""
    body = body_of(kind)
    for side, code in (("left", LEFT), ("right", RIGHT)):
        truth = srgb_decode(np.array(code) / 255)
        found = skin_colour(body, f"cheek_sitter_{side}")
        # Colours are kept in 8 bits: half a code at worst.
        assert found == pytest.approx(truth, abs=0.004)
    if kind != "ply":
        assert skin_colour(body, "crown") == pytest.approx(0.95, abs=0.01)  # the most a map holds


def _image(codes: np.ndarray):
    import io

    from PIL import Image

    return Image.open(io.BytesIO(picture(codes)))


def test_an_asked_reflectance_is_that_of_the_face(tmp_path: Path, alma: Scan) -> None:
    colours = np.tile(np.array(LEFT, np.uint8), (len(alma.vertices), 1))
    visual = trimesh.visual.ColorVisuals(vertex_colors=colours)
    file = write(tmp_path / "head.ply", alma.vertices, alma.triangles, visual=visual)
    for painted in (file, write(tmp_path / "plain.ply", alma.vertices, alma.triangles)):
        body = read(painted, skin_reflectance=0.12)
        skin = body.surfaces[0].material
        assert isinstance(skin, Skin)
        found = float(luminance(skin_colour(body, "forehead").astype(float)))
        assert found == pytest.approx(0.12, rel=0.03)  # the bound that our own skin is held to


@pytest.mark.parametrize(("said", "true"), [("cm", "mm"), ("m", "in")])
def test_a_wrong_unit_is_told_with_the_right_one(
    tmp_path: Path, alma: Scan, said: str, true: str
) -> None:
    file = write(tmp_path / "head.ply", alma.vertices / UNITS_M[true], alma.triangles)
    with pytest.raises(SceneError, match=f'sitter.mesh_unit: .* fits mesh_unit = "{true}"'):
        read(file, said)


def test_wrong_axes_are_told_with_the_right_ones(tmp_path: Path, alma: Scan) -> None:
    file = write(
        tmp_path / "head.ply", alma.vertices @ [[1, 0, 0], [0, 0, 1], [0, -1, 0]], alma.triangles
    )
    with pytest.raises(SceneError, match='it fits mesh_up = "z", mesh_faces = "-y"'):
        read(file)


def test_what_is_no_head_is_refused_in_one_sentence(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=4, radius=0.11)
    with pytest.raises(SceneError, match=r"no face found .* at least three of nose_tip"):
        read(write(tmp_path / "ball.ply", ball.vertices, ball.faces))


def test_a_body_is_kept_and_made_anew_when_the_texture_changes(tmp_path: Path, alma: Scan) -> None:
    painted = trimesh.visual.material.SimpleMaterial(image=_image(np.full((8, 8, 3), 128)))
    visual = trimesh.visual.TextureVisuals(sphere_uv(alma.vertices), material=painted)
    file = write(tmp_path / "head.obj", alma.vertices, alma.triangles, visual=visual)
    wish = OwnMesh(file, tmp_path / "set.toml", "m")
    first = own_body(wish, data_dir=DATA, cache_dir=tmp_path / "kept")
    again = own_body(wish, data_dir=DATA, cache_dir=tmp_path / "kept")
    assert len(list((tmp_path / "kept").iterdir())) == 1
    assert again.notes == first.notes
    assert np.array_equal(again.surfaces[0].vertices, first.surfaces[0].vertices)
    texture = next(tmp_path.glob("*.png"))
    texture.write_bytes(picture(np.full((8, 8, 3), 60)))
    assert own_body(wish, data_dir=DATA).version != first.version


@pytest.mark.parametrize("away_m", [1e3, 1e7])
def test_the_eyes_of_a_scan_far_from_the_origin_of_its_file(away_m: float) -> None:
    """Moving a face moves its eyes as far, to what double precision holds there."""
    held = template(DATA, data_version(DATA))
    moved = held.eyes(held.rows + away_m) - away_m
    assert np.abs(moved - held.eyes(held.rows)).max() < 1e-5
