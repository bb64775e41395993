"""Places in a mesh against the plain geometry of balls and of a solid with a line through it."""

import numpy as np
import trimesh

from render.layout.inside import inside


def test_places_in_two_balls_that_overlap_are_those_nearer_than_a_radius():
    # Faces of the fine ball lie within 0.2 % of its radius.
    one = trimesh.creation.icosphere(subdivisions=4, radius=1.0)
    vertices = np.concatenate([one.vertices, one.vertices + [0.8, 0.1, 0.0]])
    triangles = np.concatenate([one.faces, one.faces + len(one.vertices)])
    places = np.random.default_rng(5).uniform(-1.2, 2.2, (800, 3))
    away = np.minimum(
        np.linalg.norm(places, axis=1), np.linalg.norm(places - [0.8, 0.1, 0], axis=1)
    )
    sure = np.abs(away - 1.0) > 0.003
    found = inside(vertices, triangles, places)
    assert np.array_equal(found[sure], away[sure] < 1.0)
    assert np.sum(np.linalg.norm(places[found] - [0.4, 0.05, 0], axis=1) < 0.5) > 3  # in both


def test_lines_through_edges_and_corners_count_once():
    # An octahedron: |x| + |y| + |z| < 1; all these lines pass through edges or corners.
    corners = np.array([[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1.0]])
    hull = trimesh.convex.convex_hull(corners)
    places = np.array(
        [[x, y, z] for x in (-1.0, -0.5, 0, 0.25, 1) for y in (-1.5, -0.25, 0.1, 2) for z in (0, 0)]
        + [[0, y, z] for y in (-0.6, -0.1, 0.3) for z in (-1.0, -0.5, 0.25)]
    )
    want = np.abs(places).sum(axis=1) < 1
    assert np.array_equal(inside(hull.vertices, hull.faces, places), want)


def test_turning_the_triangles_inside_out_changes_nothing():
    one = trimesh.creation.icosphere(subdivisions=2, radius=1.0)
    places = np.random.default_rng(1).uniform(-1.2, 1.2, (100, 3))
    there = inside(one.vertices, one.faces, places)
    assert np.array_equal(inside(one.vertices, one.faces[:, ::-1], places), there)
    assert 0 < there.sum() < 100
