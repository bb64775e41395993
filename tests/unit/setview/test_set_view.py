"""The drawn set: corners on the right pixels, colours where they must be; one error without GL."""

import os
from dataclasses import replace

import numpy as np
import pytest

from render.errors import ViewError
from render.layout.geometry import unit
from render.layout.lens import view
from render.layout.placed import Layout
from render.setview import Holder, SetView, gl, gl_verdict, library, set_view
from render.setview.holders import column, flash_head, legs
from render.setview.seen import seen_in_frame
from render.setview.solids import set_solids
from render.studio.camera import Camera
from tests import sets

EYES = np.array([0.0, 1.2, 0.0])
SIZE = (480, 360)
WHITE, BLACK = (0.9, 0.9, 0.9), (0.04, 0.04, 0.04)
BESIDE_PX = 4  # from a corner to where its inside and its outside are looked at


@pytest.fixture(autouse=True)
def needs_gl(request) -> None:
    if "without" not in request.node.name and not gl_verdict().usable:
        pytest.skip(gl_verdict().why)


def pinhole(drawn: SetView, place) -> np.ndarray:
    """Pixel of a place by similar triangles: slope over the slope of the frame's edge."""
    eye = drawn.eye
    ahead = np.cross(eye.up, eye.right)
    offset = np.asarray(place, float) - eye.position_m
    slopes = np.array([offset @ eye.right, -(offset @ eye.up)]) / (offset @ ahead)
    return (slopes / [eye.half_width, eye.half_height] + 1) * np.array(SIZE) / 2


def colour(drawn: SetView, at) -> np.ndarray:
    """sRGB 0 to 255 of the pixel at a place of the picture."""
    x, y = np.floor(np.asarray(at)).astype(int)
    return drawn.picture[y, x].astype(float)


def room(*fronts, sheets=(), body=None) -> Layout:
    """A pale room 4 x 5 x 2.6 m with some things in it."""
    return Layout(tuple(fronts), (*sets.walls(0.7), *sheets), body, None, (), 0)


def panel(centre, reflectance, **more):
    """A board of 0.8 x 0.6 m that faces the camera's side."""
    return sets.sheet(
        centre, [1, 0, 0], [0, 1, 0], 0.8, 0.6,
        reflectance=reflectance, back_reflectance=reflectance, **more,
    )  # fmt: skip


def test_the_corners_of_a_panel_fall_on_the_pixels_of_the_pinhole_formula() -> None:
    board = panel([0.3, 1.4, -0.5], BLACK)
    drawn = set_view(room(sheets=(board,)), SIZE, azimuth_deg=30.0)
    middle = pinhole(drawn, board.centre_m)
    assert np.allclose(middle, drawn.places_px["panel.sheet"], atol=1e-6)
    for corner in board.corners_m:
        at = pinhole(drawn, corner)
        inwards = unit(middle - at)
        assert colour(drawn, at + BESIDE_PX * inwards).max() < 90  # black board
        assert colour(drawn, at - BESIDE_PX * inwards).min() > 180  # pale wall


def test_the_whole_room_is_in_the_picture_and_fills_it_one_way() -> None:
    layout = room()
    drawn = set_view(layout, SIZE, azimuth_deg=-40.0)
    corners = np.concatenate([sheet.corners_m for sheet in layout.sheets])
    at = np.array([pinhole(drawn, corner) for corner in corners]) / SIZE
    assert at.min() > 0
    assert at.max() < 1
    assert max(np.ptp(at, axis=0)) > 0.9


def test_a_front_is_pale_and_warm_from_ahead_and_its_housing_dark_from_behind() -> None:
    for facing in (1.0, -1.0):
        front = sets.front([0.3 * facing, 0.3 * facing, facing], EYES)
        drawn = set_view(room(front), SIZE, azimuth_deg=20.0)
        seen = colour(drawn, drawn.places_px["light.key"])
        if facing > 0:
            assert seen.min() > 180
            assert seen[0] > seen[2]
        else:
            assert seen.max() < 100


def test_a_light_that_is_off_is_grey_and_a_gelled_one_has_its_hue() -> None:
    front = sets.front([0.3, 0.3, 1], EYES)
    off = set_view(room(replace(front, luminous_energy_lm_s=0.0)), SIZE, azimuth_deg=20.0)
    blue = set_view(room(replace(front, colour=(0.5, 0.9, 2.5))), SIZE, azimuth_deg=20.0)
    assert np.ptp(colour(off, off.places_px["light.key"])) < 15
    seen = colour(blue, blue.places_px["light.key"])
    assert seen[2] > seen[0]


def test_kinds_of_panels_are_told_apart_by_lightness_alone() -> None:
    """So that they are for the colour-blind and on a grey copy; 15 of 255 are seen side by side."""
    boards = [
        panel([-1.2, 1.0, 0], WHITE, name="white"),
        panel([0.0, 1.0, 0], WHITE, name="silver", roughness=0.25),
        panel([1.2, 1.0, 0], BLACK, name="black"),
    ]
    drawn = set_view(room(sheets=tuple(boards)), SIZE, azimuth_deg=20.0)
    grey = {
        board.name: colour(drawn, drawn.places_px[f"panel.{board.name}"]) @ [0.299, 0.587, 0.114]
        for board in boards
    }
    assert grey["white"] - 15 > grey["silver"] > grey["black"] + 100


def test_walls_in_the_way_are_left_out_and_the_sitter_shows_on_a_floor_with_lines() -> None:
    drawn = set_view(room(body=sets.ball(EYES, 0.12, 3)), SIZE, azimuth_deg=35.0)
    head = colour(drawn, pinhole(drawn, EYES))
    assert head[0] > head[2] + 20  # skin, not a wall
    on, beside = (
        np.array([colour(drawn, pinhole(drawn, [x, 0, z])) for z in (1.05, 1.2, 1.35, 1.7)])
        for x in (1.0, 1.25)
    )
    assert np.all(on.sum(1) < beside.sum(1))


@pytest.mark.skipif("CI" not in os.environ, reason="a machine of one's own may have no GL")
def test_without_gl_ci_does_not_pass() -> None:
    """README's test command installs what drawing needs."""
    assert gl_verdict().usable, gl_verdict().why


def test_a_set_of_no_room_stands_on_a_floor() -> None:
    front = sets.front([0, 0, -1], [0, 1.6, 1.0])
    drawn = set_view(sets.layout(front), SIZE)
    below = colour(drawn, pinhole(drawn, [0.6, 0, 0.8]))
    assert below.min() < 245
    assert colour(drawn, (2, 2)).min() == 255  # paper


def test_the_view_is_taken_from_where_a_panel_does_not_hide_the_head() -> None:
    head = sets.ball(EYES, 0.12, 3)
    for side in (-1.0, 1.0):
        flag = sets.sheet([side * 0.6, 1.3, 0.5], [0, 0, -side], [0, 1, 0], 1.2, 1.6)
        layout = room(sheets=(flag,), body=head)
        drawn, hidden = set_view(layout, SIZE), set_view(layout, SIZE, azimuth_deg=side * 52)
        for view_of, warm in ((drawn, True), (hidden, False)):
            seen = colour(view_of, pinhole(view_of, EYES))
            assert (seen[0] > seen[2] + 20) == warm  # skin, or the flag before it


HELD = Holder(
    light="key",
    kind="stand",
    mount_m=np.array([0.0, 1.2, -0.475]),
    foot_m=np.array([0.0, 0.0, -0.475]),
    tail_m=np.array([0.0, 1.2, -0.475]),
    leg_radius_m=0.5,
    head_m=(0.13, 0.25),
)


def test_a_head_stands_behind_the_housing_and_a_stand_reaches_from_floor_to_mount() -> None:
    front = sets.front([0, 0, 1], [0, 1.2, -0.1], shell_depth_m=0.25)
    head = flash_head(front, HELD)[0]
    assert head[:, 2].min() == pytest.approx(-0.1 - 0.25 - 0.25)
    assert head[:, 2].max() == pytest.approx(-0.1 - 0.25)
    assert column(HELD)[0][:, 1].max() == pytest.approx(1.2)
    feet = legs(HELD)[0]
    assert feet[:, 1].min() == pytest.approx(0.0, abs=0.01)
    assert np.hypot(feet[:, 0], feet[:, 2] + 0.475).max() == pytest.approx(0.5, abs=0.02)
    names = {(solid.name, solid.part) for solid in set_solids(sets.layout(front), [HELD])}
    assert names == {("light.key", p) for p in ("front", "housing", "head", "column", "legs")}


def test_what_is_seen_has_its_pixel_box_and_what_is_hidden_is_not_seen() -> None:
    """Box: half the board's size times focal length over distance, in pixels of the frame."""
    camera = Camera(distance_m=2.0, height_m=1.2, aim_height_m=1.2, focal_length_mm=50, crop="1:1")
    lens = view(camera, EYES, EYES)
    near = panel([0.0, 1.2, 0.0], WHITE, name="near")
    far = replace(panel([0.0, 1.2, -0.5], WHITE, name="far"), width_m=0.2, height_m=0.2)
    (found,) = seen_in_frame(set_solids(sets.layout(sheets=(near, far))), lens, 500)
    assert (found.name, found.size_px) == ("panel.near", (500, 500))
    per_m = 500 * lens.image_m / 2.0 / lens.frame_width_m
    half = np.array([0.4, 0.3]) * per_m
    box = [*(250 - half), *(250 + half)]
    assert np.allclose(found.box_px, box, atol=1.0)
    assert found.share == pytest.approx(4 * half[0] * half[1] / 500**2, rel=0.01)


@pytest.fixture
def own_verdicts(monkeypatch, tmp_path):
    """Verdicts of this test alone."""
    monkeypatch.setenv("TENTHSTOP_CACHE", str(tmp_path))
    for each in (gl._remembered, gl.drawing_library):
        each.cache_clear()
    yield
    for each in (gl._remembered, gl.drawing_library):
        each.cache_clear()


def test_without_gl_there_is_one_sentence_with_the_cure(own_verdicts, monkeypatch, tmp_path):
    """A driver that takes its process down is no more than a verdict."""
    crash = tmp_path / "crash.py"
    crash.write_text("import os; os.abort()")
    monkeypatch.setattr(library, "__file__", str(crash))
    with pytest.raises(ViewError, match=r"^the set cannot be drawn here: .+\(.+\)$"):
        set_view(room(), SIZE)


def test_a_verdict_is_remembered_without_another_trial_until_it_is_asked_anew(
    own_verdicts, monkeypatch
) -> None:
    tried = []

    def trial() -> gl.GlVerdict:
        tried.append(1)
        return gl.GlVerdict(len(tried) > 1, "tried")

    monkeypatch.setattr(gl, "_trial", trial)
    assert not gl_verdict().usable
    gl._remembered.cache_clear()  # as in another process
    assert not gl_verdict().usable
    assert len(tried) == 1
    assert gl_verdict(anew=True).usable
    assert gl_verdict().usable
    assert len(tried) == 2
