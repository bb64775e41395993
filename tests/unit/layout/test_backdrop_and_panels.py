"""Where papers bend, walls are painted, panels stand, and what does not fit."""

from pathlib import Path

import numpy as np
import pytest
import trimesh

from render.errors import SceneError
from render.layout import Layout, place
from render.layout.placed import Bend, Sheet
from render.layout.sweep import meet, sheet_mesh
from render.photometry.srgb import luminance
from render.predict import Obstacles, direct_exposure, enclosure_estimate
from render.scenefile import load_scene
from tests.sets import sheet

ROOM = """
title = "spare room"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
walls = 0.7
[backdrop]
kind = "paper"
gap_m = 1.4
width_m = 2.0
[camera]
distance_m = 2.0
height_m = 1.2
focal_length_mm = 24
[light.key]
luminous_energy_lm_s = 100
size_cm = [60, 90]
azimuth_deg = -45
elevation_deg = 30
distance_m = 1.2
"""
KEY_M = 1.2 * np.array([-np.sqrt(0.375), 0.5, np.sqrt(0.375)]) + [0, 1.2, 0]


def placed(folder: Path, text: str = ROOM) -> Layout:
    file = folder / "room.toml"
    file.write_text(text)
    return place(load_scene(file))


def paper(radius: float = 0.4, floor: float = 1.0) -> Sheet:
    """A paper 2 m wide whose upright part stands on the plane z = -1.4."""
    return sheet([0.1, 1.3, -1.4], [1, 0, 0], [0, 1, 0], 2.0, 1.8, bend=Bend(radius, floor))


def test_a_paper_has_the_length_and_the_directions_of_its_bend() -> None:
    """Truth: plane geometry of a quarter circle between two straight parts."""
    vertices, normals, triangles = sheet_mesh(paper())
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    assert paper().area_m2 == pytest.approx(2.0 * (1.8 + 0.2 * np.pi + 1.0))
    assert mesh.area == pytest.approx(paper().area_m2, rel=1e-4)
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-12)
    low, high = mesh.bounds
    np.testing.assert_allclose(low, [-0.9, 0.0, -1.4], atol=1e-12)
    np.testing.assert_allclose(high, [1.1, 2.2, 0.0], atol=1e-12)
    # Every corner on the bend is a radius from its middle, every facet faces up or forwards.
    bend = (vertices[:, 1] < 0.4) & (vertices[:, 2] < -1.0)
    away = np.linalg.norm(vertices[bend][:, 1:] - [0.4, -1.0], axis=1)
    np.testing.assert_allclose(away, 0.4, atol=1e-12)
    assert np.all(np.sum(mesh.face_normals * normals[triangles[:, 0]], 1) > 0.999)


def test_where_a_ray_meets_a_paper_is_where_it_meets_the_mesh() -> None:
    """Truth: an independent ray caster on the mesh; its chords lie 0.03 mm off the arc."""
    rng = np.random.default_rng(3)
    starts = rng.uniform([-1, 0.1, -0.9], [1, 2.0, 2.0], (2000, 3))
    ways = rng.uniform([-1, 0, -1.4], [1, 2.0, 0], (2000, 3)) - starts
    shares, normals = meet(paper(), starts, ways)
    vertices, _, triangles = sheet_mesh(paper())
    mesh = trimesh.Trimesh(vertices, triangles, process=False)
    truth = np.full(len(starts), np.inf)
    hits, rays, _ = mesh.ray.intersects_location(starts, ways, multiple_hits=False)
    truth[rays] = np.linalg.norm(hits - starts[rays], axis=1) / np.linalg.norm(ways[rays], axis=1)
    both = np.isfinite(shares) & np.isfinite(truth)
    assert both.sum() > 500
    assert (np.isfinite(shares) != np.isfinite(truth)).sum() < 10  # rays along an edge
    gap = np.abs(shares[both] - truth[both]) * np.linalg.norm(ways[both], axis=1)
    assert np.quantile(gap, 0.98) < 1e-4
    np.testing.assert_allclose(np.linalg.norm(normals, axis=1), 1, atol=1e-9)


@pytest.mark.parametrize("focal_length_mm", [28, 40])
def test_frame_corners_of_a_paper_lie_on_its_floor_or_bend(
    focal_length_mm: int, tmp_path: Path
) -> None:
    """Truth: on the floor part facing up, or a radius from the middle of the bend facing it."""
    text = ROOM.replace("length_mm = 24", f"length_mm = {focal_length_mm}") + "\n".join(
        f'[point.{name}]\nlandmark = "backdrop_{name}"'
        for name in ("centre", "bottom_left", "bottom_right")
    )
    points = {point.name: point for point in placed(tmp_path, text).points}
    np.testing.assert_allclose(points["centre"].position_m, [0, 1.2, -1.4], atol=1e-9)
    np.testing.assert_allclose(points["centre"].normal, [0, 0, 1], atol=1e-9)
    low = points["bottom_left"]
    assert low.position_m[0] == pytest.approx(-points["bottom_right"].position_m[0])
    if focal_length_mm == 28:
        assert low.position_m[1] == pytest.approx(0.002)
        np.testing.assert_allclose(low.normal, [0, 1, 0], atol=1e-9)
    else:
        inward = np.array([0.402, -1.0]) - low.position_m[1:]
        assert np.linalg.norm(inward) == pytest.approx(0.4)
        np.testing.assert_allclose(low.normal[1:], inward / 0.4, atol=1e-9)


def test_the_upright_part_reads_what_a_hanging_cloth_reads(tmp_path: Path) -> None:
    """Truth: the same plane under the same light; the bend hides nothing of itself."""
    found = {}
    for kind in ("paper", "cloth"):
        made = placed(tmp_path, ROOM.replace("paper", kind))
        centre = made.points[0]
        found[kind] = direct_exposure(
            made,
            (centre.position_m + 0.002 * centre.normal)[None],
            centre.normal[None],
            "flat",
            obstacles=Obstacles.of(made),
        )
    assert found["paper"].luminous_exposure_lx_s == found["cloth"].luminous_exposure_lx_s
    assert found["paper"].visible_fraction[0, 0] == 1


def test_a_paper_on_the_floor_hides_what_lies_under_it(tmp_path: Path) -> None:
    """A place below the floor part gets no light of the key; one beside the roll does."""
    made = placed(tmp_path)
    places = np.array([[0.0, 0.001, -0.5], [1.2, 0.001, -0.5]])
    up = np.tile([0.0, 1.0, 0.0], (2, 1))
    found = direct_exposure(made, places, up, "flat", obstacles=Obstacles.of(made))
    assert found.visible_fraction[0, 0] == 0
    assert found.visible_fraction[1, 0] > 0


def test_walls_take_colours_and_names_each_for_itself(tmp_path: Path) -> None:
    """Truth: the numbers of the scene and of the kit."""
    room = 'camera_right_wall = "black-velvet"\nback_wall = [0.6, 0.1, 0.1]\nfloor = "birch-floor"'
    made = placed(tmp_path, ROOM.replace("walls = 0.7", "walls = 0.7\n" + room))
    rgb = {each.name: np.array(each.reflectance) for each in made.sheets}
    np.testing.assert_allclose(rgb["camera-left wall"], 0.7)
    np.testing.assert_allclose(rgb["camera-right wall"], 0.01)
    np.testing.assert_allclose(rgb["back wall"], [0.6, 0.1, 0.1])
    assert luminance(rgb["floor"]) == pytest.approx(0.60)
    assert rgb["floor"][0] > rgb["floor"][1] > rgb["floor"][2]


def test_reflectance_scales_the_colour_of_a_backdrop(tmp_path: Path) -> None:
    """Truth: luminous reflectance is the weighted mean of the channels."""
    for colour in ('"red-paper"', "[0.4, 0.1, 0.1]"):
        text = ROOM.replace("gap_m", f"colour = {colour}\nreflectance = 0.05\ngap_m")
        rgb = np.array(placed(tmp_path, text).sheets[-1].reflectance)
        assert luminance(rgb) == pytest.approx(0.05)
        assert rgb[0] > 3 * rgb[1]


def test_a_painted_wall_is_the_backdrop_and_stays_one_wall(tmp_path: Path) -> None:
    """Six faces close the room; the back one is where the gap says, in the backdrop's colour, and
    counts as one surface in the first estimate of the bounce."""
    wall = 'kind = "wall"\nreflectance = 0.3'
    text = ROOM.replace('kind = "paper"', wall).replace("width_m = 2.0\n", "")
    made = placed(tmp_path, text)
    assert len(made.sheets) == 6
    back = made.sheets[-1]
    assert (back.name, back.kind, back.reflectance) == ("back wall", "backdrop", (0.3,) * 3)
    assert back.centre_m[2] == pytest.approx(-1.4)
    np.testing.assert_allclose(made.points[0].position_m, [0, 1.2, -1.4], atol=1e-9)
    bare = ROOM.partition("[backdrop]")[0] + "[camera]" + ROOM.partition("[camera]")[2]
    bare = bare.replace("walls", "back_wall = 0.3\nback_wall_m = 1.4\nwalls")
    bare += "[point.here]\nposition_m = [0, 1, 0]\n"
    np.testing.assert_allclose(enclosure_estimate(made), enclosure_estimate(placed(tmp_path, bare)))


PANEL = "[panel.board]\nsize_cm = [60, 90]\n"


def board(folder: Path, keys: str) -> list[Sheet]:
    sheets = placed(folder, ROOM + PANEL + keys).sheets
    return [each for each in sheets if each.kind == "panel"]


def test_a_reflector_under_the_chin_stands_round_its_point(tmp_path: Path) -> None:
    """Truth: 0.4 m from the eyes, 50 degrees down; it faces them."""
    keys = 'kind = "silver"\nazimuth_deg = 0\nelevation_deg = -50\ndistance_m = 0.4'
    (made,) = board(tmp_path, keys)
    down = np.radians(50)
    away = np.array([0, -np.sin(down), np.cos(down)])
    np.testing.assert_allclose(made.centre_m, [0, 1.2, 0] + 0.4 * away, atol=1e-12)
    np.testing.assert_allclose(made.normal, -away, atol=1e-12)
    assert made.reflectance == (0.85,) * 3
    assert made.roughness == made.back_roughness > 0


def test_a_flag_stands_in_the_light_it_guards_from(tmp_path: Path) -> None:
    """Truth: on the straight line from the key to the paper, square to it."""
    guards = 'guards = { light = "key", point = "backdrop_centre", distance_m = 0.5 }'
    (made,) = board(tmp_path, f'kind = "black"\n{guards}')
    way = np.array([0, 1.2, -1.4]) - KEY_M
    way /= np.linalg.norm(way)
    np.testing.assert_allclose(made.centre_m, KEY_M + 0.5 * way, atol=1e-9)
    np.testing.assert_allclose(made.normal, -way, atol=1e-9)


def test_a_flag_takes_a_hair_light_off_the_lens(tmp_path: Path) -> None:
    """A board larger than the strip, 0.3 m before it: no direct light on the lens."""
    hair = [0.6, 1.9, -0.8]
    light = f"[light.hair]\nluminous_energy_lm_s = 10\nsize_cm = [20, 60]\nposition_m = {hair}\n"
    guards = 'guards = { light = "hair", point = "camera", distance_m = 0.3 }\nkind = "black"'
    shares = {}
    for name, keys in (("bare", ""), ("flagged", PANEL.replace("[60, 90]", "[60, 100]") + guards)):
        made = placed(tmp_path, ROOM + light + keys)
        lens = made.view.position_m[None]
        towards = (np.array(hair) - lens) / np.linalg.norm(np.array(hair) - lens)
        found = direct_exposure(made, lens, towards, "flat", obstacles=Obstacles.of(made))
        shares[name] = found.visible_fraction[0, 1]
    assert shares == {"bare": 1, "flagged": 0}


@pytest.mark.parametrize("opening", [60.0, 90.0, 180.0])
def test_leaves_of_a_v_flat_share_their_hinge_and_open_to_what_they_face(
    opening: float, tmp_path: Path
) -> None:
    """Truth: the angle between the leaves, their common edge, upright whatever they face."""
    keys = f'kind = "black"\nback = "white"\nopening_deg = {opening}\nposition_m = [1.0, 0.5, 0.2]'
    one, other = board(tmp_path, keys)
    hinge = np.array([1.0, 0.5, 0.2])
    arms = [(leaf.centre_m - hinge) / 0.3 for leaf in (one, other)]
    assert np.degrees(np.arccos(np.clip(arms[0] @ arms[1], -1, 1))) == pytest.approx(opening)
    for leaf, arm in zip((one, other), arms, strict=True):
        assert np.linalg.norm(arm) == pytest.approx(1)
        np.testing.assert_allclose(leaf.up, [0, 1, 0], atol=1e-12)
        assert leaf.normal @ (np.array([0.0, 0.5, 0.0]) - hinge) > 0  # hollow side to the eyes
        assert (leaf.reflectance[0], leaf.back_reflectance[0]) == (0.05, 0.65)


@pytest.mark.parametrize(
    ("old", "new", "key", "accepted"),
    [
        ("width_m = 2.0", "width_m = 3.5", "backdrop.width_m", "at most 3.20 m"),
        ("gap_m", "sweep_floor_m = 4.5\ngap_m", "backdrop.sweep_floor_m", "at most 4.00 m"),
        ("gap_m", "sweep_radius_m = 2.1\ngap_m", "backdrop.sweep_radius_m", "below 2 m"),
        ('"paper"', '"cloth"\nsweep_radius_m = 0.3', "backdrop.sweep_radius_m", "paper"),
        ('"paper"', '"wall"', "backdrop.width_m", "size of the room"),
        ("gap_m", 'colour = "mauve-paper"\ngap_m', "backdrop.colour", "black-velvet"),
        ("gap_m", 'colour = "red-paper"\nreflectance = 0.8\ngap_m', "backdrop.colour", "at most"),
        ("gap_m", "colour = [0, 0, 0]\nreflectance = 0.8\ngap_m", "backdrop", "some light"),
        ("walls = 0.7", "walls = 1.7", "room.walls", "three numbers"),
        ("walls = 0.7", 'walls = "pink"', "room.walls", "cream-paint"),
        ("walls = 0.7", 'camera_wall = "pink"', "room.camera_wall", "cream-paint"),
    ],
)
def test_what_does_not_fit_is_named(
    old: str, new: str, key: str, accepted: str, tmp_path: Path
) -> None:
    """Each mistake is refused with its key and what would be accepted."""
    assert old in ROOM
    with pytest.raises(SceneError) as refused:
        placed(tmp_path, ROOM.replace(old, new, 1))
    assert key in str(refused.value)
    assert accepted in str(refused.value)


@pytest.mark.parametrize(
    ("keys", "key", "accepted"),
    [
        ("", "panel.board", "guards"),
        ("position_m = [1, 1, 0]\nazimuth_deg = 10\ndistance_m = 1", "panel.board", "one of"),
        ("azimuth_deg = 10", "panel.board.distance_m", "azimuth_deg with distance_m"),
        (
            'guards = { light = "sun", point = "camera", distance_m = 1 }',
            "panel.board.guards.light",
            "key",
        ),
        (
            'guards = { light = "key", point = "moon", distance_m = 1 }',
            "panel.board.guards.point",
            "backdrop_centre",
        ),
        (
            'guards = { light = "key", point = "eyes", distance_m = 3 }',
            "panel.board.guards.distance_m",
            "below 1.20",
        ),
        (
            f"position_m = {(KEY_M + [-0.05, 0.05, 0.05]).tolist()}\nfacing = [0, 1.8, 3]",
            "panel.board",
            "in front of the light",
        ),
        ("opening_deg = 90\nposition_m = [0, 0.6, 0]", "panel.board.facing", "to one side"),
        ("opening_deg = 90\nposition_m = [1.2, 0.4, 0.5]", "panel.board", "inside the room"),
    ],
)
def test_a_panel_that_cannot_stand_is_named(
    keys: str, key: str, accepted: str, tmp_path: Path
) -> None:
    """Each mistake is refused with its key and what would be accepted."""
    with pytest.raises(SceneError) as refused:
        board(tmp_path, keys)
    assert key in str(refused.value)
    assert accepted in str(refused.value)


def test_a_panel_does_not_cut_into_the_sitter(tmp_path: Path) -> None:
    sitter = "[sitter]\n[panel.board]\nsize_cm = [60, 60]\nposition_m = [0.0, 1.15, -0.05]\n"
    with pytest.raises(SceneError, match=r"panel\.board: the panel cuts into the sitter"):
        placed(tmp_path, ROOM + sitter + "facing = [0, 1.15, 1]")


def test_the_kit_lists_surfaces_within_their_own_ranges() -> None:
    """Trade figures of typical reflectances; from memory and one lamp maker's table."""
    kit = load_scene("empty-room").kit.surface
    typical = {"white-paper": 0.85, "grey-paper": 0.18, "black-paper": 0.045, "black-velvet": 0.01}
    for name, rho in typical.items():
        assert kit[name].reflectance == rho
    for name, surface in kit.items():
        low, high = surface.reflectance_range or (0, 1)
        assert low <= surface.reflectance <= high, name
        assert surface.source, name
