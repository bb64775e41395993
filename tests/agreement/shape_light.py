"""Light of fronts of any shape by brute force, written apart from the program's own code.

A front is a cloud of small elements. Everything is reckoned from the definitions: outline, sphere,
hot spot, beam, cells, lip, doors, head. The luminance is scaled by the cloud's own light.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from scipy.interpolate import interpn

from render.emission import (
    Ball,
    Cap,
    Cells,
    Disk,
    Front,
    Honeycomb,
    Lobe,
    Polygon,
    Tabulated,
)

FINE = 400  # elements across
DIRECTIONS = 100_000  # over the sphere, to scale a cloud by its light
ZONES = 40  # of a bowl, when it is scaled
LINES = 400  # across a hexagon, summed to find the overlap of two
STEPS = 121  # of their displacement, each way


class Cloud(NamedTuple):
    """Elements of a surface in the front's own axes."""

    at: Any  # (n, 3) [m]
    normal: Any  # (n, 3)
    area: Any  # (n,) [m²]
    bright: Any  # (n,) hot spot and deflector


def cloud(front: Front, fine: int = FINE) -> Cloud:
    """The elements of a front: midpoints of squares, or of equal zones of a sphere."""
    if isinstance(front.shape, Cap | Ball):
        return _zones(front, fine)
    grid = (np.arange(fine) + 0.5) / fine * 2 - 1
    u, v = (a.ravel() for a in np.meshgrid(grid, grid))
    at = np.stack([u * front.width_m / 2, v * front.height_m / 2, 0 * u], -1)
    area = np.full(len(u), front.width_m * front.height_m / fine**2)
    bright = 2.0 ** (-front.edge_falloff_stops * (u * u + v * v))
    if isinstance(front.shape, Disk):
        bright = (
            np.where(np.hypot(u, v) < front.shape.hole_m / front.width_m, front.shape.hole_share, 1)
            * bright
        )
    keep = _inside(front, at)
    normal = np.broadcast_to([0.0, 0.0, 1.0], at.shape)
    return Cloud(at[keep], normal[keep], area[keep], bright[keep])


def _inside(front: Front, at: Any) -> Any:
    """Whether places lie within a flat outline."""
    x, y = at[..., 0], at[..., 1]
    if isinstance(front.shape, Disk):
        return np.hypot(x, y) < front.width_m / 2
    if isinstance(front.shape, Polygon):
        n = front.shape.sides
        sides = np.pi / 2 + 2 * np.pi * np.arange(n) / n  # a flat top: one side looks up
        apothem = front.width_m / 2 * np.cos(np.pi / n)
        return np.all([x * np.cos(a) + y * np.sin(a) < apothem for a in sides], axis=0)
    return (np.abs(x) < front.width_m / 2) & (np.abs(y) < front.height_m / 2)


def _sphere(front: Front) -> tuple[float, float, float]:
    """Radius, z of the middle, and which way the pole lies."""
    if isinstance(front.shape, Ball):
        return front.width_m / 2, 0.0, 1.0
    half, depth = front.width_m / 2, front.shape.depth_m  # type: ignore[union-attr]
    radius = (half**2 + depth**2) / (2 * depth)
    if front.shape.hollow:  # type: ignore[union-attr]
        return radius, radius - depth, -1.0
    return radius, -radius, 1.0


def _zones(front: Front, fine: int) -> Cloud:
    """Equal heights of a sphere have equal areas (Archimedes)."""
    radius, middle, pole = _sphere(front)
    ball = isinstance(front.shape, Ball)
    depth = 2 * radius if ball else front.shape.depth_m  # type: ignore[union-attr]
    height = radius - depth * (np.arange(fine) + 0.5) / fine
    turn = 2 * np.pi * (np.arange(fine) + 0.5) / fine
    z, a = (m.ravel() for m in np.meshgrid(height, turn))
    rim = np.sqrt(radius**2 - z**2)
    out = np.stack([rim * np.cos(a), rim * np.sin(a), pole * z], -1) / radius
    area = np.full(len(z), 2 * np.pi * radius * depth / fine**2)
    square = (rim / (front.width_m / 2)) ** 2
    bright = np.ones(len(z)) if ball else 2.0 ** (-front.edge_falloff_stops * square)
    return Cloud(radius * out + [0, 0, middle], (1 if ball else pole) * out, area, bright)


def luminance(front: Front, parts: Cloud, way: Any) -> Any:
    """Of the elements in directions (n, 3), not yet scaled."""
    lean = (parts.normal * way).sum(-1)
    behind = 0.0
    if isinstance(front.shape, Cap) and front.shape.back_share:
        # The two sides share the light that leaves as stated; from within a sphere the part that
        # its own cloth covers, area / (4 pi R²), does not leave.
        radius, _, _ = _sphere(front)
        half, depth = front.width_m / 2, front.shape.depth_m
        leaves = 1 - (half**2 + depth**2) / (4 * radius**2)
        behind = front.shape.back_share / (1 - front.shape.back_share)
        behind *= leaves if front.shape.hollow else 1 / leaves
    found = parts.bright * np.where(lean > 0, 1.0, behind)
    found = found * _beam(front, way)
    if isinstance(front.shape, Cap):
        radius, middle, pole = _sphere(front)
        outward = parts.at - [0, 0, middle]
        along = (outward * way).sum(-1)
        again = parts.at[:, 2] - 2 * along * way[:, 2] - middle
        found = np.where((along < 0) & (pole * again > radius - front.shape.depth_m), 0, found)
    return found


def _beam(front: Front, way: Any) -> Any:
    """Of the beam and the cells, nothing behind where either is."""
    found = np.ones(len(way))
    if not isinstance(front.beam, Lobe | Tabulated) and front.cells is None:
        return found
    z = np.where(way[:, 2] > 1e-9, way[:, 2], np.nan)
    x, y = way[:, 0] / z, way[:, 1] / z
    if isinstance(front.beam, Lobe):
        # Half the intensity ahead at half the width: cos a · 2^-((tan a / slope)²) = 1/2.
        half = np.radians(front.beam.width_deg / 2)
        slope = np.tan(half) / np.sqrt(1 + np.log2(np.cos(half)))
        found = 2.0 ** -((x * x + y * y) / slope**2)
    if isinstance(front.beam, Tabulated):
        found = _table(front.beam, np.hypot(x, y), np.arctan2(y, x)) / way[:, 2]
    if isinstance(front.cells, Cells):
        for slope, size in ((x, front.cells.width_m), (y, front.cells.height_m)):
            found = found * np.clip(1 - np.abs(slope) * front.cells.depth_m / size, 0, 1)
    if isinstance(front.cells, Honeycomb):
        found = found * _hexagons(front.cells, np.nan_to_num(x), np.nan_to_num(y))
    return np.where(np.isnan(z), 0, found)


def _table(beam: Tabulated, slope: Any, turn: Any) -> Any:
    """Along gamma within every plane, then between the planes."""
    gamma = np.degrees(np.arctan(slope))
    rows = [np.interp(gamma, beam.gammas_deg, row, right=0) for row in beam.intensity]
    plane = np.degrees(turn) % 360
    found = np.zeros_like(gamma)
    for k, (low, high) in enumerate(zip(beam.planes_deg, beam.planes_deg[1:], strict=False)):
        share = (plane - low) / (high - low)
        here = (share >= 0) & (share < 1)
        found = np.where(here, (1 - share) * rows[k] + share * rows[k + 1], found)
    return found


@cache
def _overlaps() -> Any:
    """Shared part (STEPS, STEPS) of two hexagons with flats 1 apart, displaced by 0 ... 1.2 m.

    Line by line: on a line at height y a hexagon reaches 1/2 to either side where |y| is below
    half a side, and to 1 - √3·|y| beyond.
    """
    steps = np.linspace(0, 1.2, STEPS)
    top = 1 / np.sqrt(3)
    y = (np.arange(LINES) + 0.5) / LINES * 2 * top - top

    def reach(height: Any) -> Any:
        return np.minimum(0.5, 1 - np.sqrt(3) * np.abs(height))

    one, other = reach(y), reach(y - steps[:, None])  # (up, lines)
    across = steps[:, None, None]
    shared = np.minimum(one, across + other) - np.maximum(-one, across - other)
    shared = np.where((other > 0) & (one > 0), np.maximum(shared, 0), 0).sum(-1)
    return shared / shared[0, 0]


def _hexagons(cells: Honeycomb, x: Any, y: Any) -> Any:
    """Part of a hexagonal cell's opening that is seen through the other one."""
    steps = np.linspace(0, 1.2, STEPS)
    size = cells.depth_m / cells.width_m
    shift = np.stack([np.abs(x), np.abs(y)], -1) * size
    return interpn((steps, steps), _overlaps(), shift, bounds_error=False, fill_value=0.0)


def peak(front: Front, parts: Cloud) -> float:
    """Luminance that makes the cloth send one lumen second, before grid, lip, doors and head."""
    bare = replace(front, cells=None)
    # Every place of a flat front has the same beam; of a bowl one element a zone is taken, which
    # are equal in area and come first.
    bowl = isinstance(front.shape, Cap | Ball)
    some, samples = (cloud(bare, ZONES), range(ZONES)) if bowl else (parts, range(1))
    k = np.arange(DIRECTIONS) + 0.5
    height, turn = 1 - 2 * k / DIRECTIONS, np.pi * (1 + 5**0.5) * k
    rim = np.sqrt(1 - height**2)
    ways = np.stack([rim * np.cos(turn), rim * np.sin(turn), height], -1)
    sent, bright = 0.0, 0.0
    for pick in samples:
        one = Cloud(*(np.broadcast_to(a[pick], (DIRECTIONS, *a[pick].shape)) for a in some))
        lean = np.abs((one.normal * ways).sum(-1))
        sent += 4 * np.pi * float((luminance(bare, one, ways) * lean).mean())
        bright += float(some.bright[pick])
    return 1 / float((parts.bright * parts.area).sum() * sent / bright)


def lights(front: Front, positions: Any, axes: Any, receptor: str = "flat") -> Any:
    """Integral of L · response · cos / d² over the visible front, per lumen second: (m,)."""
    parts = cloud(front)
    scale = peak(front, parts)
    return np.array(
        [scale * _light(front, parts, p, a, receptor) for p, a in zip(positions, axes, strict=True)]
    )


def _light(front: Front, parts: Cloud, position: Any, axis: Any, receptor: str) -> float:
    axes = np.stack([front.right, front.up, np.cross(front.right, front.up)])
    here = axes @ (np.asarray(position, float) - front.centre_m)
    facing = axes @ np.asarray(axis, float)
    step = here - parts.at
    distance = np.linalg.norm(step, axis=-1)
    way = step / distance[:, None]
    seen = _beside_lip(front, parts.at, way, here) & ~_shaded(front, parts.at, here)
    cosine = -way @ facing
    response = np.maximum(cosine, 0) if receptor == "flat" else (1 + cosine) / 2
    lean = (parts.normal * way).sum(-1)
    lean = np.abs(lean) if isinstance(front.shape, Cap) else np.maximum(lean, 0)
    shown = luminance(front, parts, way) * seen * lean * response / distance**2 * parts.area
    return float(shown.sum())


def _beside_lip(front: Front, at: Any, way: Any, here: Any) -> Any:
    if isinstance(front.shape, Cap | Ball) or front.recess_m == 0:
        return np.ones(len(at), bool)
    if here[2] <= front.recess_m:
        return np.zeros(len(at), bool)
    return _inside(front, at + front.recess_m / way[:, 2:] * way)


def _shaded(front: Front, at: Any, here: Any) -> Any:
    """By doors, or by the head of an umbrella or ball."""
    hidden = np.zeros(len(at), bool)
    for hinge, along, out, length in _plates(front):
        normal = np.cross(along, out)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = ((hinge - at) @ normal) / ((here - at) @ normal)
            met = at + share[:, None] * (here - at) - hinge
        reach, aside = met @ out, met @ along / np.linalg.norm(along) ** 2
        hidden |= (share > 0) & (share < 1) & (reach > 0) & (reach < length) & (np.abs(aside) < 1)
    if front.head_m is None:
        return hidden
    return hidden | _behind_cylinder(front, at, here)


def _plates(front: Front) -> list[Any]:
    """Hinge, half of it as a vector, way out, length of every door."""
    found: list[Any] = []
    doors = front.doors
    if doors is None:
        return found
    half = np.array([front.width_m, front.height_m]) / 2
    lip = max(front.recess_m, 1e-3)
    for angle, way in (
        (doors.left_deg, [-1.0, 0.0]),
        (doors.right_deg, [1.0, 0.0]),
        (doors.top_deg, [0.0, 1.0]),
        (doors.bottom_deg, [0.0, -1.0]),
    ):
        if angle is None:
            continue
        side, across = np.array([*way, 0.0]), np.array([way[1], way[0], 0.0])
        a = np.radians(angle)
        out = np.sin(a) * side + np.cos(a) * np.array([0, 0, 1.0])
        hinge = side * [*half, 0] + [0, 0, lip]
        found.append((hinge, np.abs(across) * [*half, 0], out, doors.length_m))
    return found


def _behind_cylinder(front: Front, at: Any, here: Any) -> Any:
    """Whether the head, a solid cylinder about the axis, is between the elements and a place."""
    width, length = front.head_m  # type: ignore[misc]
    if isinstance(front.shape, Ball):
        low, high = -front.width_m / 2 - length, -front.width_m / 2
    else:
        gap = 0.6 * front.shape.depth_m  # type: ignore[union-attr]
        low = gap if front.shape.hollow else -front.shape.depth_m - gap - length  # type: ignore[union-attr]
        high = low + length
    step = here - at
    with np.errstate(divide="ignore", invalid="ignore"):
        first, last = (np.clip((z - at[:, 2]) / step[:, 2], 0, 1) for z in (low, high))
        nearest = -(at[:, :2] * step[:, :2]).sum(-1) / (step[:, :2] ** 2).sum(-1)
    nearest = np.clip(np.nan_to_num(nearest), np.minimum(first, last), np.maximum(first, last))
    z = at[:, 2] + nearest * step[:, 2]
    passes = at[:, :2] + nearest[:, None] * step[:, :2]
    within = (z > low - 1e-9) & (z < high + 1e-9)
    return within & (np.hypot(passes[:, 0], passes[:, 1]) < width / 2)
