"""Partly hidden lights against shadows worked out with plain geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from render.emission import Cells
from render.predict import Obstacles, Still, aims, direct_exposure
from render.predict.obstacles import pieces
from tests.sets import ball, front, layout, sheet

UP = np.array([0.0, 1.0, 0.0])


def random_share(a_front, place, axis, hides, count=400_000):
    """Share of a flat reading that passes and its standard error, by random ways to the front.

    hides : (starts (3,), ends (n, 3)) -> (n,) bool
    """
    rng = np.random.default_rng(11)
    across = rng.uniform(-0.5, 0.5, (count, 2)) * [a_front.width_m, a_front.height_m]
    ends = a_front.centre_m + across[:, :1] * a_front.right + across[:, 1:] * a_front.up
    way = ends - place
    d = np.linalg.norm(way, axis=1)
    weight = np.maximum(way @ axis, 0) * np.maximum(-way @ a_front.normal, 0) / d**4
    free = ~hides(place, ends)
    share = np.sum(weight * free) / np.sum(weight)
    spread = np.sqrt(np.sum((weight * (free - share)) ** 2)) / np.sum(weight)
    return share, spread


def behind_ball(centre, radius):
    """Whether a straight way passes through a ball (textbook ray and sphere)."""

    def hides(start, ends):
        way = ends - start
        along = np.clip(np.sum((centre - start) * way, 1) / np.sum(way * way, 1), 0, 1)
        nearest = start + along[:, None] * way
        return np.linalg.norm(nearest - centre, axis=1) < radius

    return hides


def read(a_layout, places, axes, receptor="flat", lift=None):
    return direct_exposure(
        a_layout, places, axes, receptor, obstacles=Obstacles.of(a_layout), lift=lift
    )


@pytest.mark.parametrize(
    "place", [(0.0, 0.0, 1.5), (0.12, 0.0, 1.5), (0.2, 0.1, 1.3), (-0.05, -0.3, 1.4)]
)
def test_ball_before_a_soft_box_hides_what_geometry_says(place):
    a_front, place = front(), np.array(place)
    axis = aims(place[None], a_front)[0]
    centre = np.array([0.05, -0.02, 0.7])
    found = read(layout(a_front, body=ball(centre, 0.12, 6)), place[None], axis[None])
    share, spread = random_share(a_front, place, axis, behind_ball(centre, 0.12))
    assert 0.05 < share < 0.95, "the case is not partly hidden"
    assert abs(found.visible_fraction[0, 0] - share) < 4 * spread
    assert abs(math.log2(found.visible_fraction[0, 0] / share)) < 0.01
    assert found.error_stops[0, 0] < 0.01


@pytest.mark.parametrize("turn_deg", [0, 15, 40, 73])
@pytest.mark.parametrize("edge", [-0.05, 0.0, 0.07])
def test_slanting_flag_hides_what_geometry_says(turn_deg, edge):
    # The flag covers a half plane midway between front and meter.
    a_front, place, axis = front(), np.array([0.1, 0.05, 1.2]), np.array([0.0, 0.0, -1.0])
    turn = math.radians(turn_deg)
    across = np.array([math.cos(turn), math.sin(turn), 0])
    along = np.array([-math.sin(turn), math.cos(turn), 0])
    flag = sheet(np.array([0, 0, 0.6]) + (edge + 1) * across, across, along, 2.0, 4.0)

    def hides(start, ends):
        middle = 0.5 * (start + ends)
        return middle @ across > edge

    found = read(layout(a_front, sheets=(flag,)), place[None], axis[None])
    share, spread = random_share(a_front, place, axis, hides)
    assert abs(found.visible_fraction[0, 0] - share) < 4 * spread
    assert abs(math.log2(found.visible_fraction[0, 0] / share)) < 0.01
    assert found.error_stops[0, 0] < 0.01


def test_two_flags_leave_the_gap_between_them():
    a_front, place, axis = front(), np.array([0.0, 0, 1.2]), np.array([0.0, 0, -1])
    flags = [sheet((s * 1.05, 0, 0.6), (1, 0, 0), (0, 1, 0), 2.0, 3.0) for s in (-1, 1)]

    def hides(start, ends):
        return np.abs(0.5 * (start + ends)[:, 0]) > 0.05

    found = read(layout(a_front, sheets=tuple(flags)), place[None], axis[None])
    share, spread = random_share(a_front, place, axis, hides)
    assert abs(found.visible_fraction[0, 0] - share) < 4 * spread


@pytest.mark.parametrize("receptor", ["flat", "dome"])
def test_half_hidden_gridded_hot_spot_keeps_its_half(receptor):
    # Mirror symmetry: a flag up to the middle line hides half of any even front seen head on.
    a_front = front(edge_falloff_stops=1.0, cells=Cells(0.05, 0.05, 0.05), recess_m=0.05)
    flag = sheet((1.0, 0, 0.5), (1, 0, 0), (0, 1, 0), 2.0, 4.0)
    place, axis = np.array([[0, 0.1, 1.0]]), np.array([[0.0, 0.3, -1]])
    found = read(layout(a_front, sheets=(flag,)), place, axis, receptor)
    assert found.visible_fraction[0, 0] == pytest.approx(0.5, abs=1e-3)


def test_mirrored_flags_hide_the_rest_of_each_other():
    # Light adds: what one half plane hides is what the other lets through.
    a_front, place, axis = front(), np.array([[0.2, 0.1, 0.9]]), np.array([[0.2, 0, -1.0]])
    shares = []
    for side in (-1, 1):
        flag = sheet((0.03 + side, 0, 0.4), (1, 0, 0), (0, 1, 0), 2.0, 4.0)
        shares.append(read(layout(a_front, sheets=(flag,)), place, axis).visible_fraction[0, 0])
    assert sum(shares) == pytest.approx(1, abs=1e-3)
    assert min(shares) > 0.05


def test_skin_does_not_shade_itself_where_it_faces_the_light():
    # A ball is convex: only its own horizon cuts the light, and the receptor's does so too.
    radius, centre = 0.1, np.array([0.0, 0, 1.0])
    around = np.random.default_rng(3).normal(size=(200, 3))
    normals = around / np.linalg.norm(around, axis=1, keepdims=True)
    a_layout = layout(front(), body=ball(centre, radius, 6))
    found = read(a_layout, centre + radius * normals, normals, lift=normals)
    lit = found.unobstructed_lx_s[:, 0] > 0.02 * found.unobstructed_lx_s.max()
    assert lit.sum() > 50
    assert np.all(np.abs(np.log2(found.visible_fraction[lit, 0])) < 0.01)


def test_far_side_of_a_ball_gets_nothing_even_on_a_dome():
    a_layout = layout(front(), body=ball((0, 0, 1.0), 0.3))
    place, axis = np.array([[0, 0, 1.3]]), np.array([[0.0, 0, 1]])
    found = read(a_layout, place, axis, "dome", lift=axis)
    assert found.unobstructed_lx_s[0, 0] > 0
    assert found.luminous_exposure_lx_s[0, 0] == 0
    assert found.visible_fraction[0, 0] == 0


def test_light_that_cannot_reach_the_meter_has_no_visible_share():
    a_layout = layout(front(), front((0, 0, -1), (0, 0, -0.5)))
    found = read(a_layout, np.array([[0, 0, 1.0]]), np.array([[0, 0, -1.0]]))
    assert found.visible_fraction[0, 0] == 1
    assert math.isnan(found.visible_fraction[0, 1])
    assert found.luminous_exposure_lx_s[0, 1] == 0


def test_walls_enclose_and_do_not_hide():
    wall = sheet((0, 0, 0.5), (1, 0, 0), (0, 1, 0), 3, 3, kind="wall")
    place, axis = np.array([[0, 0, 1.0]]), np.array([[0, 0, -1.0]])
    assert read(layout(front(), sheets=(wall,)), place, axis).visible_fraction[0, 0] == 1
    backdrop = sheet((0, 0, 0.5), (1, 0, 0), (0, 1, 0), 3, 3, kind="backdrop")
    assert read(layout(front(), sheets=(backdrop,)), place, axis).visible_fraction[0, 0] == 0


def test_backdrop_does_not_hide_its_own_light():
    backdrop = sheet((0, 0, 2.0), (-1, 0, 0), (0, 1, 0), 2, 2, kind="backdrop")
    place = np.array([[0.3, 0.4, 2.0]])
    facing = backdrop.normal[None]
    found = read(layout(front(), sheets=(backdrop,)), place, facing, lift=facing)
    assert found.luminous_exposure_lx_s[0, 0] > 0
    assert found.visible_fraction[0, 0] == 1


def test_own_housing_and_lip_are_not_counted_twice():
    deep = layout(front(recess_m=0.1))
    places = np.array([[0, 0, 1.0], [0.8, 0.3, 0.6], [0.1, 0.2, 0.15]])
    axes = np.array([[0, 0, -1.0]] * 3)
    with_shell = read(deep, places, axes)
    without = direct_exposure(deep, places, axes, "flat")
    assert np.array_equal(with_shell.luminous_exposure_lx_s, without.luminous_exposure_lx_s)
    assert np.all(without.luminous_exposure_lx_s > 0)


def test_another_light_standing_between_is_a_shadow():
    blocker = front(centre=(0, 0, 0.5), width_m=0.3, height_m=0.3)
    a_layout = layout(front(), blocker)
    place, axis = np.array([0.0, 0, 1.2]), np.array([0.0, 0, -1])
    found = read(a_layout, place[None], axis[None])

    def hides(start, ends):
        # The rim of the front, and behind it the housing that narrows: the rim hides most.
        at_lip = start + (ends - start) * ((1.2 - 0.501) / 1.2)
        return np.max(np.abs(at_lip[:, :2]), axis=1) < 0.15

    share, spread = random_share(a_layout.fronts[0], place, axis, hides)
    assert abs(found.visible_fraction[0, 0] - share) < 4 * spread + 1e-3
    assert found.visible_fraction[0, 1] == 1


def test_thin_edge_of_a_panel_owns_up_to_what_rays_may_miss():
    # A panel seen exactly from its edge hides next to nothing, but rays cannot tell how little.
    panel = sheet((0.0123, 0, 0.5), (0, 0, 1), (0, 1, 0), 0.6, 2.0)
    place, axis = np.array([[0.0123, 0, 1.2]]), np.array([[0, 0, -1.0]])
    found = read(layout(front(), sheets=(panel,)), place + np.array([[1e-6, 0, 0]]), axis)
    assert found.visible_fraction[0, 0] > 0.98
    assert found.error_stops[0, 0] < 0.02


def test_without_obstacles_nothing_is_in_the_way():
    a_layout = layout(front(), body=ball((0, 0, 0.5), 0.4))
    place, axis = np.array([[0, 0, 1.0]]), np.array([[0, 0, -1.0]])
    assert direct_exposure(a_layout, place, axis, "flat").visible_fraction[0, 0] == 1
    assert read(a_layout, place, axis).visible_fraction[0, 0] == 0


def test_a_sitter_who_turned_shades_as_one_built_there():
    # Rays are turned instead of the sitter, so single precision rounds elsewhere; the facets of
    # a ball are 15 um from round.
    a_front, axis = front(), np.array([0.0, 0.0, -1.0])
    places = np.array([[0.0, 0.0, 1.5], [0.12, 0.0, 1.5], [-0.05, -0.3, 1.4]])
    angle, shift = math.radians(35), np.array([0.03, -0.01, 0.02])
    c, s = math.cos(angle), math.sin(angle)
    rotation = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    there = layout(a_front, body=ball([0.05, -0.02, 0.7], 0.12, 5))
    # Turned and moved, then turned once more.
    centre = rotation.T @ (rotation.T @ [0.05, -0.02, 0.7] - shift)
    still = Still.of(layout(a_front, body=ball(centre, 0.12, 5)))
    still = still.turned(there.body, rotation, shift)
    still = still.turned(there.body, rotation, np.zeros(3))
    axes = np.broadcast_to(axis, places.shape)
    found = direct_exposure(
        there, places, axes, "flat", obstacles=Obstacles.of(there, Still.apart(there, still))
    )
    anew = read(there, places, axes)
    assert np.any((anew.visible_fraction > 0.05) & (anew.visible_fraction < 0.95))
    assert found.visible_fraction == pytest.approx(anew.visible_fraction, abs=1e-3)


@pytest.mark.parametrize(("vertices", "triangles"), [(0, 0), (1, 0), (40, 12), (600, 500)])
def test_a_mesh_falls_into_the_parts_that_a_graph_library_finds(
    vertices: int, triangles: int
) -> None:
    """SciPy's connected components of the graph of all sides."""
    rng = np.random.default_rng(5)
    points = rng.random((vertices, 3))
    corners = rng.integers(0, max(vertices, 1), (triangles, 3))
    sides = np.concatenate([corners[:, :2], corners[:, 1:]])
    graph = coo_array((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(vertices,) * 2)
    count, label = connected_components(graph, directed=False) if vertices else (0, [])
    found = pieces((points, corners))
    assert len(found) == count
    for part, mine in enumerate(found):
        np.testing.assert_array_equal(mine, points[label == part])
