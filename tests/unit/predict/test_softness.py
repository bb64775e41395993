"""The soft edge of a shadow and the mirror image of a light, against geometry by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from render.emission import Ball, Cap, Cells, Disk, Front, Lobe, Polygon
from render.predict import Obstacles, direct_exposure
from render.predict.softness import (
    curvature_radius_m,
    edge_width,
    mirror_image_m,
    nose_shadow,
    shining,
)
from render.sitter.body import Body, Landmark, Surface
from tests.checks import CHECKS
from tests.sets import ball, front, layout, sheet

X, Y, Z = np.eye(3)
NOSE_M, NOSE_AT = 0.012, np.array([0.0, 1.2, 0.05])


def width(light, away=1.4, across=X, gap=0.1):
    edge = np.array([0.0, 0.0, away])
    found = edge_width(shining(layout(light), 0, edge), edge, across, gap)
    assert found is not None
    return found


def test_the_whole_edge_is_that_of_similar_triangles() -> None:
    check = CHECKS["PN-1"]
    assert check.agrees(width(front()).whole_m), str(check)


@pytest.mark.parametrize(
    ("away", "size", "expected"),
    [(3.0, 0.6, 0.02), (1.5, 0.02, 0.00133)],  # checks of similar triangles: W·d/D
)
def test_farther_or_smaller_lights_draw_harder(away: float, size: float, expected: float) -> None:
    found = width(front(width_m=size), away)
    assert found.whole_m == pytest.approx(expected, rel=5e-3)


def test_the_middle_of_an_even_front_is_four_fifths_of_the_edge() -> None:
    """From 10 % to 90 % of a ramp; far away, where every part gives as much."""
    found = width(front(), 30.0)
    assert found.middle_m == pytest.approx(0.8 * found.whole_m, rel=0.01)


def test_the_middle_of_a_disk() -> None:
    """Its light grows as the area of a segment: a tenth lies beyond 0.687 of the radius
    (root of acos(x) - x·sqrt(1 - x²) = 0.1 π)."""
    found = width(front(shape=Disk(), width_m=0.6, height_m=0.6), 30.0)
    assert found.middle_m == pytest.approx(0.687 * found.whole_m, rel=0.01)


def test_the_long_side_of_a_front_draws_softer_across_it() -> None:
    light = front(width_m=0.3, height_m=0.9)
    assert width(light, across=Y).middle_m == pytest.approx(
        3 * width(light, across=X).middle_m, rel=0.1
    )


def test_a_grid_and_a_hot_middle_harden() -> None:
    plain = width(front())
    assert width(front(cells=Cells(0.03, 0.03, 0.05))).middle_m < 0.95 * plain.middle_m
    assert width(front(edge_falloff_stops=2.0)).middle_m < 0.95 * plain.middle_m


@pytest.mark.parametrize(
    "light",
    [
        front(),
        front(edge_falloff_stops=2.0),
        front(cells=Cells(0.03, 0.03, 0.05)),
        front(shape=Disk(0.2, 0.3), width_m=0.6, height_m=0.6, beam=Lobe(60.0)),
        front(shape=Polygon(8), width_m=0.9, height_m=0.9),
        front(shape=Cap(0.2, True), width_m=1.0, height_m=1.0, edge_falloff_stops=1.0),
        front(shape=Ball(), width_m=0.3, height_m=0.3),
    ],
    ids=["even", "hot", "grid", "dish", "octa", "umbrella", "ball"],
)
def test_the_middle_is_what_meters_behind_a_black_edge_read(light: Front) -> None:
    """Readings with shadow rays at places behind a knife edge rise from 10 % to 90 % over it."""
    away, gap = 1.4, 0.1
    knife = sheet([-1.0, 0, away], X, Y, 2.0, 3.0)
    set_up = layout(light, sheets=(knife,))
    across = np.linspace(-0.06, 0.06, 61)
    places = np.c_[across, 0 * across, 0 * across + away + gap]
    read = direct_exposure(
        set_up, places, np.tile(-Z, (61, 1)), "flat", obstacles=Obstacles.of(set_up)
    )
    low, high = np.interp([0.1, 0.9], read.visible_fraction[:, 0], across)
    assert width(light, away, gap=gap).middle_m == pytest.approx(high - low, rel=0.01)


def test_no_light_no_edge() -> None:
    behind = np.array([0.0, 0.0, -1.0])
    assert edge_width(shining(layout(front()), 0, behind), behind, X, 0.1) is None


def face(nose_m: float = NOSE_M) -> Body:
    """A wall with a ball in front of it, the tip of which is the tip of the nose."""
    wall = trimesh.creation.box((0.4, 0.4, 0.01))
    wall.apply_translation([0, 1.2, -0.005])
    both = ball(NOSE_AT, nose_m)
    flat = replace(
        both.surfaces[0],
        vertices=wall.vertices.astype(np.float32),
        triangles=wall.faces.astype(np.int32),
        normals=wall.vertex_normals.astype(np.float32),
        uv=np.zeros((len(wall.vertices), 2), np.float32),
    )
    tip = Landmark(
        "nose_tip", (NOSE_AT + nose_m * Z).astype(np.float32), Z.astype(np.float32), "skin"
    )
    surfaces: tuple[Surface, ...] = (both.surfaces[0], flat)
    return replace(both, surfaces=surfaces, landmarks={"nose_tip": tip})


def test_the_shadow_of_a_ball_on_a_wall() -> None:
    """Tangent to a circle: seen from the light, the ball's edge lies sqrt(D² - r²) away."""
    source = NOSE_AT + np.array([0.8, 0.0, 0.6])
    found = nose_shadow(face(), front(normal=NOSE_AT - source, centre=source))
    assert found is not None
    tangent = math.sqrt(1 - NOSE_M**2)
    turn = math.asin(NOSE_M)
    c, s = math.cos(turn), math.sin(turn)
    inward = NOSE_AT - source
    way = np.array([c * inward[0] - s * inward[2], 0.0, s * inward[0] + c * inward[2]])
    if (source + tangent * way)[2] < NOSE_AT[2]:  # the edge nearer to the wall
        way = np.array([c * inward[0] + s * inward[2], 0.0, -s * inward[0] + c * inward[2]])
    assert np.linalg.norm(found.edge_m - (source + tangent * way)) < 2e-3
    assert found.gap_m == pytest.approx(-source[2] / way[2] - tangent, abs=2e-3)
    assert abs(found.across @ way) < 1e-3
    assert abs(found.across @ Y) < 0.05


@pytest.mark.parametrize("away", [[0.05, 0.0, 1.0], [1.0, 0.0, 0.02]])
def test_a_light_ahead_or_quite_aside_throws_no_shadow_of_the_nose_on_the_face(
    away: list[float],
) -> None:
    source = NOSE_AT + np.array(away)
    assert nose_shadow(face(), front(normal=NOSE_AT - source, centre=source)) is None


def test_the_mirror_image_in_a_ball() -> None:
    """Convex mirror: an object W at a distance s has an image W·f/(s + f), f = r/2; paraxial."""
    light = front(normal=-Z, centre=[0, 0, 5.0], width_m=0.3, height_m=0.6)
    radius, place = 0.08, np.zeros(3)
    seen = shining(layout(light), 0, place)
    image = mirror_image_m(seen, place, radius, np.array([0, 0, 1e4]), X, Y)
    assert image is not None
    focal = radius / 2
    for found, size in zip(image, (0.3, 0.6), strict=True):
        assert found == pytest.approx(size * focal / (5.0 + focal), rel=0.01)


def test_the_curvature_of_a_ball_is_its_radius() -> None:
    mark = Landmark("forehead", np.float32([0, 0, 0.09]), np.float32([0, 0, 1]), "skin")
    body = replace(ball([0, 0, 0], 0.09), landmarks={"forehead": mark})
    assert curvature_radius_m(body, "forehead") == pytest.approx(0.09, rel=1e-3)
    assert curvature_radius_m(body, "chin") is None
