"""The shapes of particles: spheres, thin bent plates and coiled shavings, as triangles."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Cloud

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mesh = tuple[Floats, Floats, Ints]  # vertices (n, 3) [m], normals (n, 3), triangles (m, 3)

# Halvings of an icosahedron's edges: 80 triangles a grain, 5120 a drop; 1280 for few grains, which
# are looked at one by one, and for many drops.
GRAIN_STEPS, DROP_STEPS, MANY_STEPS = 1, 4, 3
MANY_DROPS, FEW_GRAINS = 200, 600
# Chosen by eye on shavings and chips; no source.
FLAKE_WIDTH = (0.25, 0.8)  # of the length
FLAKE_BEND = (0.2, 2.2)  # angle that a flake bends through [rad]
FLAKE_TWIST = 0.8  # rad from end to end, at most
FLAKE_RAGGED = 0.25  # of half the width that an edge wanders
CURL_TURNS = (0.5, 3.8)
CURL_WIDTH = (0.2, 0.75)  # of the ribbon, by the curl's diameter
CURL_PITCH = (0.0, 2.2)  # along the axis in one turn, by the ribbon's width
CURL_INNER = (0.3, 0.85)  # radius where the coil is tightest, by the outer one
CURL_SWAY = 0.35  # of the outer radius that a coil's axis sways
CURL_RAGGED = 0.06  # of the ribbon's width that an edge wanders
FLAKE_GRID, CURL_GRID = (7, 4), (81, 4)  # vertices along and across


def cloud_mesh(cloud: Cloud) -> Mesh:
    """All particles of an element as one mesh."""
    if cloud.kind in ("grains", "drops"):
        own, triangles = sphere(_steps(cloud))
        normals = own / np.linalg.norm(own, axis=1, keepdims=True)
        places = 0.5 * cloud.sizes_m[:, None, None] * own
        facing = np.broadcast_to(normals, places.shape)
    else:
        grid = flakes(cloud) if cloud.kind == "flakes" else curls(cloud)
        places, facing, triangles = _sheets(grid)
    placed = np.einsum("nij,nkj->nki", cloud.turns, places) + cloud.centres_m[:, None]
    turned = np.einsum("nij,nkj->nki", cloud.turns, facing)
    count, each, _ = placed.shape
    first = each * np.arange(count)[:, None, None]
    return placed.reshape(-1, 3), turned.reshape(-1, 3), (triangles + first).reshape(-1, 3)


def _steps(cloud: Cloud) -> int:
    """How fine a sphere has to be."""
    if cloud.kind == "grains":
        return MANY_STEPS if len(cloud.sizes_m) <= FEW_GRAINS else GRAIN_STEPS
    return DROP_STEPS if len(cloud.sizes_m) <= MANY_DROPS else MANY_STEPS


@functools.cache
def sphere(steps: int) -> tuple[Floats, Ints]:
    """A sphere of radius 1 in triangles: vertices (n, 3) and triangles (m, 3), outwards.

    As large as hides as much as the sphere, on the mean over all sides: that of a convex body is a
    quarter of its surface (Cauchy).
    """
    g = (1 + 5**0.5) / 2
    vertices = np.array(
        [[-1, g, 0], [1, g, 0], [-1, -g, 0], [1, -g, 0], [0, -1, g], [0, 1, g]]
        + [[0, -1, -g], [0, 1, -g], [g, 0, -1], [g, 0, 1], [-g, 0, -1], [-g, 0, 1]]
    )
    around = [
        *([0, 11, 5], [0, 5, 1], [0, 1, 7], [0, 7, 10], [0, 10, 11]),
        *([1, 5, 9], [5, 11, 4], [11, 10, 2], [10, 7, 6], [7, 1, 8]),
        *([3, 9, 4], [3, 4, 2], [3, 2, 6], [3, 6, 8], [3, 8, 9]),
        *([4, 9, 5], [2, 4, 11], [6, 2, 10], [8, 6, 7], [9, 8, 1]),
    ]
    triangles = np.array(around)
    for _ in range(steps):
        vertices, triangles = _halved(vertices, triangles)
    vertices = vertices / np.linalg.norm(vertices, axis=1, keepdims=True)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    surface = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    return vertices * np.sqrt(4 * np.pi / surface), triangles


def _halved(vertices: Floats, triangles: Ints) -> tuple[Floats, Ints]:
    """Every triangle in four, by the middles of its edges on the unit sphere."""
    vertices = vertices / np.linalg.norm(vertices, axis=1, keepdims=True)
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, index = np.unique(edges, axis=0, return_inverse=True)
    middle = len(vertices) + index.reshape(-1, 3)
    a, b, c = triangles.T
    ab, bc, ca = middle.T
    parts = [[a, ab, ca], [b, bc, ab], [c, ca, bc], [ab, bc, ca]]
    found = np.stack([np.stack(part, -1) for part in parts], 1).reshape(-1, 3)
    return np.concatenate([vertices, vertices[unique].sum(1) / 2]), found


def _between(ends: tuple[float, float], share: Floats) -> Floats:
    return np.asarray(ends[0] + (ends[1] - ends[0]) * share, float)


def flakes(cloud: Cloud) -> Floats:
    """Thin plates (n, along, across, 3) [m] about their middle, bent, twisted and ragged."""
    looks = cloud.looks[:, :, None, None]
    length = cloud.sizes_m[:, None, None]
    along = np.linspace(-1, 1, FLAKE_GRID[0])[None, :, None]
    across = np.linspace(-1, 1, FLAKE_GRID[1])[None, None, :]
    bend = _between(FLAKE_BEND, looks[:, 0])
    # Narrower towards the ends, and the two long edges wander each in a way of its own.
    side = np.where(across > 0, looks[:, 2], looks[:, 3])
    wander = 1 + FLAKE_RAGGED * np.sin(2 * np.pi * (side + 1.3 * along))
    half = 0.5 * length * _between(FLAKE_WIDTH, looks[:, 1]) * wander * (1 - 0.4 * along**4)
    angle = 0.5 * bend * along
    radius = length / bend
    twist = FLAKE_TWIST * (looks[:, 4] - 0.5) * along
    aside = half * across
    x = radius * np.sin(angle) + 0 * across
    y = radius * (1 - np.cos(angle)) + aside * np.sin(twist)
    z = aside * np.cos(twist)
    return np.stack(np.broadcast_arrays(x, y, z), -1)


def curls(cloud: Cloud) -> Floats:
    """Coiled ribbons (n, along, across, 3) [m] about their middle, as a plane throws them."""
    looks = cloud.looks[:, :, None, None]
    outer = 0.5 * cloud.sizes_m[:, None, None]
    along = np.linspace(0, 1, CURL_GRID[0])[None, :, None]
    across = np.linspace(-1, 1, CURL_GRID[1])[None, None, :]
    angle = 2 * np.pi * (_between(CURL_TURNS, looks[:, 0]) * along)
    width = 2 * outer * _between(CURL_WIDTH, looks[:, 1])
    inner = _between(CURL_INNER, looks[:, 2])
    radius = outer * (inner + (1 - inner) * along ** (0.5 + 1.5 * looks[:, 3]))
    # A shaving begins and ends thin and pointed; its edges are torn a little.
    ends = np.minimum(1, 6 * np.minimum(along + 0.05, 1.05 - along)) ** 0.5
    torn = CURL_RAGGED * np.sin(2 * np.pi * (looks[:, 4] + 7 * along * (1 + across)))
    aside = width * (0.5 * ends * across + torn * across**2)
    turns = angle / (2 * np.pi)
    lift = width * _between(CURL_PITCH, looks[:, 5]) * turns
    lift = lift - 0.5 * lift[:, -1:]
    sway = CURL_SWAY * outer * np.sin(np.pi * (2 * looks[:, 7] + along * (0.5 + looks[:, 6])))
    x = radius * np.cos(angle) + sway + 0 * across
    return np.stack(np.broadcast_arrays(x, lift + aside, radius * np.sin(angle)), -1)


def _sheets(grid: Floats) -> Mesh:
    """Grids (n, along, across, 3) as vertices and normals (n, k, 3), and triangles of one."""
    count, rows, columns, _ = grid.shape
    normals = np.cross(np.gradient(grid, axis=1), np.gradient(grid, axis=2))
    normals /= np.maximum(np.linalg.norm(normals, axis=-1, keepdims=True), 1e-15)
    start = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).reshape(-1, 1, 1)
    pair = np.array([[0, columns, columns + 1], [0, columns + 1, 1]])
    triangles = (start + pair).reshape(-1, 3)
    return grid.reshape(count, -1, 3), normals.reshape(count, -1, 3), triangles
