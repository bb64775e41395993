"""Means over a patch of skin, and the first estimate of the room's share."""

from __future__ import annotations

import math

import numpy as np
import pytest

from render.emission import Cells, grid_transmission
from render.photometry.formfactors import polygon_view_factor
from render.predict import Obstacles, direct_exposure, enclosure_estimate, spot_exposure
from tests.sets import ball, front, layout, point, room_a, room_b, sheet

AHEAD = np.array([0, 0, -1.0])


def disc(centre, count=12, radius=0.02):
    """Places round a spot that faces a front at the origin, all normals ahead."""
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = radius * np.stack([np.cos(turn), np.sin(turn), 0 * turn], -1)
    return np.asarray(centre) + ring, np.tile(AHEAD, (count, 1))


def test_spot_reads_the_mean_over_its_patch():
    # Lambert's closed form for every place of the patch, meaned here.
    places, normals = disc([0.3, 0.2, 0.8])
    normals[::2] = np.array([0.6, 0, -0.8])
    corners = np.array([[-0.3, -0.45, 0], [0.3, -0.45, 0], [0.3, 0.45, 0], [-0.3, 0.45, 0]])
    each = [polygon_view_factor(corners - p, n) for p, n in zip(places, normals, strict=True)]
    spot = point([0.3, 0.2, 0.8], AHEAD, places, normals)
    found = spot_exposure(layout(front()), [spot])
    assert found.luminous_exposure_lx_s[0, 0] == pytest.approx(math.pi * np.mean(each), rel=1e-10)


def test_place_without_a_patch_stands_for_itself():
    a_layout = layout(front(), front((-1, 0, 1), (0.8, 0, 0)))
    at = [0.1, 0.2, 1.0]
    spots = [point(at, AHEAD), point([0, 0, 2.0], AHEAD, *disc([0, 0, 2.0])), point(at, AHEAD)]
    found = spot_exposure(a_layout, spots)
    alone = direct_exposure(a_layout, np.array([at]), AHEAD[None], "flat")
    for row in (0, 2):
        assert np.allclose(found.luminous_exposure_lx_s[row], alone.luminous_exposure_lx_s[0])
    assert found.luminous_exposure_lx_s.shape == (3, 2)


def test_share_of_a_patch_is_that_of_its_light():
    # Half of the places, far off and dim, see nothing; the bright half loses nothing.
    near, normals = disc([-0.2, 0, 0.8], 6)
    far, _ = disc([0.9, 0, 1.6], 6)
    spot = point([0, 0, 1.0], AHEAD, np.r_[near, far], np.r_[normals, normals])
    flag = sheet((1.0, 0, 1.5), (1, 0, 0), (0, 1, 0), 1.0, 3.0)
    a_layout = layout(front(), sheets=(flag,))
    found = spot_exposure(a_layout, [spot], obstacles=Obstacles.of(a_layout))
    alone = [
        spot_exposure(layout(front()), [point(half[0], AHEAD, half, normals)])
        for half in (near, far)
    ]
    bright, dim = (float(half.luminous_exposure_lx_s[0, 0]) for half in alone)
    assert bright > 3 * dim
    assert found.luminous_exposure_lx_s[0, 0] == pytest.approx(bright / 2)
    assert found.visible_fraction[0, 0] == pytest.approx(bright / (bright + dim))


def test_patch_wholly_in_shadow_reads_nothing():
    a_layout = layout(front(), body=ball((0, 0, 0.6), 0.5))
    spot = point([0, 0, 1.5], AHEAD, *disc([0, 0, 1.5]))
    found = spot_exposure(a_layout, [spot], obstacles=Obstacles.of(a_layout))
    assert found.luminous_exposure_lx_s[0, 0] == 0
    assert found.visible_fraction[0, 0] == 0
    assert found.error_stops[0, 0] == 0


def test_no_spots_make_no_readings():
    assert spot_exposure(layout(front()), []).luminous_exposure_lx_s.shape == (0, 1)


def test_bounce_estimate_of_room_a_lies_near_the_true_mean():
    # True mean of room A at reflectance 0.5: 38.924 lx in all (Galerkin radiosity, computed),
    # of which Q/S = 1696.46 / 86.8 is direct.
    true_bounce = 38.924 - 1696.460 / 86.8
    found = enclosure_estimate(room_a(0.5))[0]
    assert abs(math.log2(found / true_bounce)) < 0.06


@pytest.mark.parametrize("bounced", [219.74 - 202.5278, 26.39, 109.755 - 90.9428, 57.956 - 36.5747])
def test_bounce_estimate_of_room_b_lies_within_a_stop_of_every_place(bounced):
    # Total less direct at S (facing the camera, shadow side), floor, back wall, reflectance 0.5:
    # means of two independent renderers.
    assert abs(math.log2(enclosure_estimate(room_b(0.5))[0] / bounced)) < 1


def test_bounce_estimate_knows_grids_black_rooms_and_domes():
    rooms = room_b(0.5).sheets
    plain = enclosure_estimate(layout(front(), sheets=rooms))
    cells = Cells(0.05, 0.05, 0.05)
    gridded = enclosure_estimate(layout(front(cells=cells), sheets=rooms))
    assert gridded / plain == pytest.approx(grid_transmission(front(cells=cells)))
    # An even field gives a dome 2 pi L and a flat receptor pi L.
    dome = enclosure_estimate(layout(front(), sheets=rooms), "dome")
    assert dome == pytest.approx(2 * plain)
    assert enclosure_estimate(room_b(0.0))[0] == 0
    assert enclosure_estimate(layout(front()))[0] == 0


def test_black_panel_takes_bounce_away_and_a_white_one_gives_some_back():
    # common practice, no source: negative fill.
    room = room_b(0.5)
    black = sheet((0.5, 1, 0), (0, 0, 1), (0, 1, 0), 1, 2)
    white = sheet(
        (0.5, 1, 0), (0, 0, 1), (0, 1, 0), 1, 2, reflectance=(0.9,) * 3, back_reflectance=(0.9,) * 3
    )
    bounce = [
        enclosure_estimate(layout(*room.fronts, sheets=(*room.sheets, panel)))[0]
        for panel in (black, white)
    ]
    assert bounce[0] < enclosure_estimate(room)[0] < bounce[1]
