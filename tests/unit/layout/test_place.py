"""Lights, camera and points stand where the scene's words put them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.emission.output import axial_exposure
from render.errors import KitError, SceneError
from render.layout import place
from render.layout.geometry import direction, facing, turn
from render.layout.lens import frame_m, project, ray_through, view
from render.photometry.exposure import C_FLAT, f_number
from render.photometry.formfactors import polygon_view_factor
from render.predict import direct_exposure
from render.scenefile import load_scene
from render.studio.camera import Camera

BARE = """
title = "bare"
[light.key]
luminous_energy_lm_s = 100
size_cm = [60, 90]
azimuth_deg = -45
elevation_deg = 30
distance_m = 1.2
[point.eyes_here]
position_m = [0, 1.2, 0]
facing = "key"
"""


def bare(folder: Path, text: str = BARE):
    file = folder / "bare.toml"
    file.write_text(text)
    return load_scene(file)


def test_negative_azimuth_is_camera_left_and_zero_is_towards_the_camera() -> None:
    """Axes of the design: +x camera right, +y up, +z towards the camera."""
    np.testing.assert_allclose(direction(0, 0), [0, 0, 1], atol=1e-15)
    np.testing.assert_allclose(direction(-90, 0), [-1, 0, 0], atol=1e-15)
    np.testing.assert_allclose(direction(30, 90), [0, 1, 0], atol=1e-15)
    np.testing.assert_allclose(turn(40) @ [0, 0, 1], direction(40, 0), atol=1e-15)


def test_a_light_stands_at_its_distance_and_faces_its_aim(tmp_path: Path) -> None:
    front = place(bare(tmp_path)).fronts[0]
    away = front.centre_m - [0, 1.2, 0]
    assert np.linalg.norm(away) == pytest.approx(1.2)
    assert away[0] < 0
    assert away[1] == pytest.approx(0.6)  # 1.2 m · sin 30°
    np.testing.assert_allclose(front.normal, -away / 1.2, atol=1e-12)


@pytest.mark.parametrize("roll", [0.0, 25.0, 90.0])
def test_a_front_keeps_right_handed_axes_whatever_its_roll(roll: float) -> None:
    for normal in ([0, 0, 1.0], [0.6, -0.8, 0], [0, -1.0, 0], [0, 1.0, 0]):
        right, up = facing(np.array(normal), roll)
        np.testing.assert_allclose(np.cross(right, up), normal, atol=1e-12)
        assert abs(right @ up) < 1e-12


def test_a_person_fills_the_frame_by_similar_triangles() -> None:
    """Upright 24x36 mm at 85 mm and 2 m sees 36/85 · 2 m less one focal length of focus."""
    eyes = np.array([0.0, 1.2, 0.0])
    camera = Camera(distance_m=2.0, height_m=1.2, aim_height_m=1.2, focal_length_mm=85, crop="2:3")
    lens = view(camera, eyes, eyes)
    half = 0.5 * 0.036 * (2.0 - 0.085) / 0.085
    np.testing.assert_allclose(project(lens, eyes + [0, half, 0]), [0.5, 0.0], atol=1e-9)
    np.testing.assert_allclose(project(lens, eyes + [half * 24 / 36, 0, 0]), [1.0, 0.5], atol=1e-9)


def test_camera_left_is_the_left_of_the_picture() -> None:
    lens = view(Camera(), np.array([0.0, 1.2, 0.0]), np.array([0.0, 1.2, 0.0]))
    assert project(lens, np.array([-0.1, 1.1, 0.0]))[0] < 0.5
    assert project(lens, np.array([0.0, 1.3, 0.0]))[1] < project(lens, np.array([0.0, 1.0, 0]))[1]
    ray = ray_through(lens, project(lens, np.array([0.2, 1.0, -0.7])))
    there = np.array([0.2, 1.0, -0.7]) - lens.position_m
    np.testing.assert_allclose(ray, there / np.linalg.norm(there), atol=1e-12)


def test_a_crop_is_cut_from_the_sensor() -> None:
    assert frame_m(Camera(crop="4:5")) == pytest.approx((0.024, 0.030))
    assert frame_m(Camera(crop="1:2")) == pytest.approx((0.018, 0.036))
    assert frame_m(Camera(crop="2:3", frame="level")) == pytest.approx((0.036, 0.024))


def test_the_near_eye_is_in_focus() -> None:
    """A sitter turned to camera left has the other eye nearer to the lens."""
    left, straight = (place(_turned(degrees)).view for degrees in (-30.0, 0.0))
    assert left is not None
    assert straight is not None
    gain = 0.031 * np.sin(np.radians(30))  # half the eye spacing, turned towards the lens
    assert straight.focus_m - left.focus_m == pytest.approx(gain, abs=5e-4)


def _turned(turn_deg: float):
    setup = load_scene("violin-two-lights")
    assert setup.scene.sitter is not None
    sitter = setup.scene.sitter.model_copy(update={"turn_deg": turn_deg, "head_turn_deg": 0})
    return replace(setup, scene=setup.scene.model_copy(update={"sitter": sitter}))


def test_a_stated_energy_gives_the_exposure_of_the_lambert_front(tmp_path: Path) -> None:
    """H = Q/(pi A) · pi F; Lambert 1760, by polygon formula."""
    layout = place(bare(tmp_path))
    front = layout.fronts[0]
    corners = np.array([[-0.3, -0.45, 1.2], [0.3, -0.45, 1.2], [0.3, 0.45, 1.2], [-0.3, 0.45, 1.2]])
    factor = polygon_view_factor(corners, np.array([0.0, 0.0, 1.0]))
    truth = 100 / front.area_m2 * factor
    point = layout.points[0]
    found = direct_exposure(layout, point.position_m[None], point.normal[None], "flat")
    assert found.luminous_exposure_lx_s[0, 0] == pytest.approx(float(truth), rel=1e-8)
    assert axial_exposure(front, 1.2, "flat") == pytest.approx(float(truth), rel=1e-8)


KIT = """
[flash.mine]
stored_energy_ws = 250
[modifier.box]
kind = "softbox"
size_cm = [60, 90]
edge_falloff_stops = 0.7
recess_cm = 5
[[reading]]
flash = "mine"
modifier = "box"
power = "1/4"
distance_m = 1.3
f_number = 8
date = 2026-03-01
"""


def with_kit(folder: Path, kit: str):
    (folder / "mine.toml").write_text(kit)
    text = BARE.replace(
        "luminous_energy_lm_s = 100\nsize_cm = [60, 90]",
        'flash = "mine"\nmodifier = "box"\npower = "1/8"',
    ).replace('title = "bare"', 'title = "bare"\nkit = ["mine.toml"]')
    return bare(folder, text)


def test_a_real_reading_overrides_efficacy_and_comes_back(tmp_path: Path) -> None:
    """f/8 at 1.3 m and 1/4 power; at 1/8 the same place reads one stop less, f/5.66."""
    setup = with_kit(tmp_path, KIT)
    layout = place(setup)
    front = layout.fronts[0]
    spot = front.centre_m + 1.3 * front.normal
    found = direct_exposure(layout, spot[None], -front.normal[None], "flat")
    reading = f_number(found.luminous_exposure_lx_s[0, 0], 100, C_FLAT)
    assert reading == pytest.approx(8 / np.sqrt(2), rel=1e-4)
    words = "metered on 2026-03-01, ±0.1 stop (walls may have added up to 0.3)"
    assert layout.calibrations == (words,)


def test_a_real_reading_comes_back_on_a_meter_of_another_constant(tmp_path: Path) -> None:
    """The meter that read f/8 is the meter of the scene, whatever its constant."""
    setup = with_kit(tmp_path, KIT)
    text = setup.file.read_text() + "[meter]\nc_flat = 330\n"
    setup.file.write_text(text)
    layout = place(load_scene(setup.file))
    front = layout.fronts[0]
    spot = front.centre_m + 1.3 * front.normal
    found = direct_exposure(layout, spot[None], -front.normal[None], "flat")
    reading = f_number(found.luminous_exposure_lx_s[0, 0], 100, 330)
    assert reading == pytest.approx(8 / np.sqrt(2), rel=1e-4)


def test_a_panel_faces_the_place_that_it_names(tmp_path: Path) -> None:
    """facing = x, y, z is a place in metres, as on the key page."""
    panel = "[panel.p]\nposition_m = [1, 1.5, 0]\nsize_cm = [50, 50]\nfacing = [1, 1.5, 2]\n"
    setup = bare(tmp_path, BARE + panel)
    assert place(setup).sheets[-1].normal == pytest.approx([0, 0, 1])


def test_ratios_refer_to_a_light_that_is_on(tmp_path: Path) -> None:
    lamp = "luminous_energy_lm_s = 9\nsize_cm = [60, 90]\nazimuth_deg = 30\ndistance_m = 1\n"
    text = 'title = "two"\n[point.a]\nposition_m = [0, 1.2, 0]\nfacing = [0, 0, 1]\n'
    text += f"[light.key]\non = false\n{lamp}[light.fill]\n{lamp}"
    layout = place(bare(tmp_path, text))
    assert layout.fronts[layout.key].name == "fill"


def test_contradicting_readings_are_named(tmp_path: Path) -> None:
    second = KIT[KIT.index("[[reading]]") :].replace("f_number = 8", "f_number = 11")
    with pytest.raises(KitError, match=r"mine\.toml: reading\[1\]: says 1\.0 stops more"):
        place(with_kit(tmp_path, KIT + second))


TWO = (Path(__file__).parents[2] / "data" / "evening.toml").read_text()
IMPOSSIBLE = [
    ("distance_m = 1.2", "distance_m = 3.5", "light.key", "through"),
    ("azimuth_deg = -45\n", "", "light.key.azimuth_deg", "missing"),
    ('power = "1/8"', 'power = "1/512"', "light.hair.power", "from 1/64 to 1"),
    ('around = "crown"', 'around = "crwon"', "light.hair.around", "crown"),
    ("gap_m = 1.35", "gap_m = 5", "backdrop.gap_m", "below"),
    ("width_m = 1.35", "width_m = 4.5", "backdrop.width_m", "at most 3.20 m"),
    ("eyes_height_m = 1.20", "eyes_height_m = 2.2", "light.key", "floor or ceiling"),
    ("height_m = 2.4", "height_m = 1.8\n# low", "backdrop.height_m", "at most 1.8 m"),
    ("distance_m = 2.0", "distance_m = 5", "camera", "outside the room"),
    ('flash = "monobloc-400"\n', "", "light.key", "no source of light"),
    ('model = "alma"', 'model = "anna"', "sitter.model", "alma, bram"),
    ("turn_deg = -12", 'hair = "mohawk"', "sitter.hair", "bob"),
    ("turn_deg = -12", 'hair_colour = "blue"', "sitter.hair_colour", "dark brown"),
    ('point = "crown"', 'point = "crest"', "wanted.hair.point", "crown"),
    (
        "distance_m = 1.0\nroll_deg = 90",
        "position_m = [0, 1.18, -0.05]",
        "light.hair",
        "either position_m",
    ),
    ("[light.hair]", "[light.all]", "light.all", "another name"),
    (
        "distance_m = 2.0\nheight_m = 1.22\naim_height_m = 1.11\nfocal_length_mm = 85",
        "distance_m = 0.5\nfocal_length_mm = 600",
        "camera.focal_length_mm",
        "cannot focus",
    ),
    (
        "[wanted]",
        "[panel.p]\nposition_m = [1, 1.2, 0]\nsize_cm = [80, 300]\n[wanted]",
        "panel.p",
        "through floor or ceiling",
    ),
    (
        "[wanted]",
        "[panel.p]\nposition_m = [1, 1, 0]\nfacing = [1, 1, 0]\nsize_cm = [80, 80]\n[wanted]",
        "panel.p.facing",
        "stands there",
    ),
    (
        "[wanted]",
        "[point.a]\nposition_m = [0, 1.22, 2]\n[wanted]",
        "point.a.position_m",
        "the camera is there",
    ),
    ("[wanted]", "[point.a]\nposition_m = [2, 1, 1]\n[wanted]", "point.a", "side wall"),
    (
        "[wanted]",
        '[point.a]\nlandmark = "chin"\nfacing = [0, 0, 1]\n[wanted]',
        "point.a.facing",
        "its own direction",
    ),
    (
        "azimuth_deg = 150\nelevation_deg = 28\ndistance_m = 1.0",
        "position_m = [0.0, 1.21, -0.1]\naim = [0, 1, 2]",
        "light.hair",
        "inside the sitter",
    ),
]


@pytest.mark.parametrize(("right", "wrong", "key", "words"), IMPOSSIBLE)
def test_what_cannot_stand_is_one_sentence(
    tmp_path: Path, right: str, wrong: str, key: str, words: str
) -> None:
    assert right in TWO
    file = tmp_path / "evening.toml"
    file.write_text(TWO.replace(right, wrong, 1))
    with pytest.raises(SceneError) as caught:
        place(load_scene(file))
    said = str(caught.value)
    assert said.startswith(f"evening.toml: {key}: ")
    assert words in said


def test_key_cheek_is_the_cheek_on_the_keys_side() -> None:
    points = {point.name: point for point in place(load_scene("violin-two-lights")).points}
    assert points["key_cheek"].position_m[0] < points["shadow_cheek"].position_m[0]


def test_patches_lie_on_their_surface() -> None:
    """A spot takes in a few millimetres round its landmark, facing the same way."""
    for point in place(load_scene("violin-two-lights")).points:
        if point.on in ("skin", "cloth", "backdrop"):
            gaps = np.linalg.norm(point.patch_m - point.position_m, axis=1)
            assert 0.001 < gaps.max() < 0.0045
            assert (point.patch_normals @ point.normal > 0.5).all()
