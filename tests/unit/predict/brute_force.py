"""Readings by random places on a front, its geometry written out anew from the definitions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from render.emission import (
    Ball,
    Cap,
    Cells,
    Disk,
    Front,
    Honeycomb,
    Lobe,
    Matte,
    Polygon,
    Rectangle,
    Tabulated,
)

COUNT = 200_000


def random_places(front: Front, rng: np.random.Generator, count: int = COUNT) -> tuple[Any, ...]:
    """Places (n, 3), outward normals (n, 3), distance from the axis as a share of the rim, area."""
    shape, half = front.shape, front.width_m / 2
    ahead = np.tile([0.0, 0.0, 1.0], (count, 1))
    if isinstance(shape, Rectangle):
        xy = rng.uniform(-0.5, 0.5, (count, 2)) * [front.width_m, front.height_m]
        share = np.hypot(xy[:, 0] / half, xy[:, 1] / (front.height_m / 2))
        return np.c_[xy, np.zeros(count)], ahead, share, front.width_m * front.height_m
    if isinstance(shape, Disk):
        r, turn = half * np.sqrt(rng.uniform(size=count)), rng.uniform(0, 2 * np.pi, count)
        at = np.c_[r * np.cos(turn), r * np.sin(turn), np.zeros(count)]
        return at, ahead, r / half, math.pi * half**2
    if isinstance(shape, Polygon):
        # A triangle between the middle and one side, turned: the middle of a side points up.
        n, inner = shape.sides, half * math.cos(math.pi / shape.sides)
        out = inner * np.sqrt(rng.uniform(size=count))
        aside = out * math.tan(math.pi / n) * rng.uniform(-1, 1, count)
        turn = math.pi / 2 + 2 * math.pi / n * rng.integers(n, size=count)
        x = out * np.cos(turn) - aside * np.sin(turn)
        y = out * np.sin(turn) + aside * np.cos(turn)
        at = np.c_[x, y, np.zeros(count)]
        return at, ahead, np.hypot(x, y) / half, n * inner**2 * math.tan(math.pi / n)
    # Archimedes: slices of a sphere of equal thickness have equal area.
    radius = half if isinstance(shape, Ball) else (half**2 + shape.depth_m**2) / 2 / shape.depth_m
    thick = 2 * half if isinstance(shape, Ball) else shape.depth_m
    level = radius - thick * rng.uniform(size=count)  # along the pole
    turn = rng.uniform(0, 2 * np.pi, count)
    r = np.sqrt(radius**2 - level**2)
    normal = np.c_[r * np.cos(turn), r * np.sin(turn), level] / radius
    at = radius * normal
    if isinstance(shape, Cap):
        at[:, 2] -= radius  # pole at the origin, bulging ahead
        if shape.hollow:  # turned over, rim at the origin
            at[:, 2], normal[:, 2] = -at[:, 2] - thick, -normal[:, 2]
    return at, normal, r / half, 2 * math.pi * radius * thick


def seen_through_cap(front: Front, at: Any, end: Any) -> Any:
    """Whether the straight way from places (n, 3) on a cap to an end (3,) meets the cap again."""
    cap = front.shape
    assert isinstance(cap, Cap)
    half = front.width_m / 2
    radius = (half**2 + cap.depth_m**2) / 2 / cap.depth_m
    middle = np.array([0, 0, radius - cap.depth_m if cap.hollow else -radius])
    way = end - at
    # |at + s way - middle| = radius has the roots 0 and s.
    s = -2 * np.sum(way * (at - middle), 1) / np.sum(way * way, 1)
    meets = at + s[:, None] * way
    on_cap = meets[:, 2] < 0 if cap.hollow else meets[:, 2] > -cap.depth_m
    return (s > 1e-9) & (s < 1) & on_cap


def hexagon_share(cells: Honeycomb, tx: Any, ty: Any, rng: np.random.Generator) -> Any:
    """Share of random ways through one hexagon that leave it again: in and out by one cell."""
    a = cells.width_m / 2
    turn = np.radians([0, 60, 120])
    normals = np.stack([np.cos(turn), np.sin(turn)], -1)
    # Uniform in the hexagon by drawing from the square around it until all are inside.
    start = np.empty((len(tx), 2))
    todo = np.arange(len(tx))
    while len(todo):
        start[todo] = rng.uniform(-1, 1, (len(todo), 2)) * [a, 2 * a / math.sqrt(3)]
        todo = todo[np.any(np.abs(start[todo] @ normals.T) > a, axis=1)]
    leaves = start + cells.depth_m * np.stack([tx, ty], -1)
    return np.all(np.abs(leaves @ normals.T) < a, axis=1)


def direction_factor(front: Front, way: Any, rng: np.random.Generator) -> Any:
    """Luminance of random ways (n, 3) relative to that ahead, 0 for those a grid stops."""
    with np.errstate(divide="ignore", invalid="ignore"):
        tx, ty = way[:, 0] / way[:, 2], way[:, 1] / way[:, 2]
        theta = np.arccos(way[:, 2])
    factor = np.ones(len(way))
    if isinstance(front.beam, Lobe):
        # Half the intensity at half the width, and a Gaussian in tan: cos a · 2^-(tan a / t)² = 1/2
        a = math.radians(front.beam.width_deg / 2)
        k = (1 + math.log2(math.cos(a))) / math.tan(a) ** 2
        factor = 0.5 ** (k * np.tan(theta) ** 2)
    if isinstance(front.beam, Tabulated):
        b = front.beam
        turn = np.degrees(np.arctan2(way[:, 1], way[:, 0])) % 360
        table = RegularGridInterpolator((b.planes_deg, b.gammas_deg), b.intensity)
        gamma = np.minimum(np.degrees(theta), b.gammas_deg[-1])
        shines = np.degrees(theta) <= b.gammas_deg[-1]
        factor = np.where(shines, table(np.stack([turn, gamma], -1)) / way[:, 2], 0.0)
    if isinstance(front.cells, Cells):
        c = front.cells
        x, y = rng.uniform(size=(2, len(way)))
        in_x = np.floor(x + tx * c.depth_m / c.width_m) == 0
        factor = factor * (in_x & (np.floor(y + ty * c.depth_m / c.height_m) == 0))
    if isinstance(front.cells, Honeycomb):
        factor = factor * hexagon_share(front.cells, tx, ty, rng)
    plain = front.cells is None and isinstance(front.beam, Matte)
    return factor if plain else np.where(way[:, 2] > 0, factor, 0.0)


def brute_force(
    front: Front,
    place: Any,
    axis: Any,
    sides: tuple[float, float] = (1.0, 0.0),
    hides: Any = None,
) -> dict[str, tuple[float, float]]:
    """Mean and standard error of each receptor's reading per L0 [sr], place in the front's axes.

    sides : luminance of the pole's or front's side and of the other, relative to L0
    hides : (places (n, 3)) -> (n,) bool  what else is in the way
    """
    rng = np.random.default_rng(3)
    at, normal, share, area = random_places(front, rng)
    way = np.asarray(place) - at
    d = np.linalg.norm(way, axis=1)
    way = way / d[:, None]
    lean = np.sum(way * normal, 1)
    if isinstance(front.shape, Cap) and front.shape.hollow:
        lean = -lean  # the inside comes first
    bright = np.where(lean > 0, *sides) * direction_factor(front, way, rng)
    if not isinstance(front.shape, Ball):
        bright = bright * 0.5 ** (front.edge_falloff_stops * share**2)
    if isinstance(front.shape, Disk) and front.shape.hole_m:
        hole = share * front.width_m < front.shape.hole_m
        bright = bright * np.where(hole, front.shape.hole_share, 1)
    if isinstance(front.shape, Cap):
        bright = np.where(seen_through_cap(front, at, np.asarray(place)), 0, bright)
    if front.recess_m:
        bright = bright * _inside_lip(front, at, way)
    if hides is not None:
        bright = np.where(hides(at), 0, bright)
    each = bright * np.abs(lean) / d**2 * area
    cosine = -way @ (np.asarray(axis) / np.linalg.norm(axis))
    found = {}
    for receptor, response in (("flat", np.maximum(cosine, 0)), ("dome", (1 + cosine) / 2)):
        light = each * response
        found[receptor] = float(light.mean()), float(light.std() / math.sqrt(len(light)))
    return found


def _inside_lip(front: Front, at: Any, way: Any) -> Any:
    """Whether the ways pass the opening at the end of the lip, an outline like the front's."""
    with np.errstate(divide="ignore", invalid="ignore"):
        out = at[:, :2] + front.recess_m * way[:, :2] / way[:, 2:]
    ahead = way[:, 2] > 0
    if isinstance(front.shape, Rectangle):
        return ahead & np.all(np.abs(out) < [front.width_m / 2, front.height_m / 2], axis=1)
    if isinstance(front.shape, Disk):
        return ahead & (np.hypot(out[:, 0], out[:, 1]) < front.width_m / 2)
    assert isinstance(front.shape, Polygon)
    n = front.shape.sides
    turn = math.pi / 2 + 2 * math.pi / n * np.arange(n)
    heights = out @ np.stack([np.cos(turn), np.sin(turn)])
    return ahead & (heights.max(1) < front.width_m / 2 * math.cos(math.pi / n))
