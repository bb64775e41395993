"""Where a top is cut open: necklines as level lines on the cloth, and their edges as paths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Index, unit
from render.sitter.body import Cloth, Surface
from render.sitter.shape.carried import cut_below
from render.sitter.wear.ribbon import Ground, even_path, rim_chain
from render.sitter.wear.shell import Shell
from render.sitter.wear.trim import cloth_surface, restitched


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    """A top after the cut."""

    cloth: Array  # (n, 3)
    normals: Array  # (n, 3)
    triangles: Index  # (m, 3)
    uv: Array  # (n, 2)
    reference: Array  # (n, 3)
    rim: Index  # (k,) vertices round the opening


def neckline_height(reference: Array) -> Array:
    """Height (n,) of a crew neck at points of the reference head (n, 3) [dm]."""
    x, _, z = reference.T
    return np.asarray(5.58 + 0.25 * (0.78 - z) + 0.95 * np.abs(x) ** 2.2)


def surface_distance(shell: Shell, field: Array) -> Array:
    """Distance (n,) along the cloth to the zero line of a field, negative where it is."""
    t, q = shell.triangles, shell.cloth
    e1, e2 = q[t[:, 1]] - q[t[:, 0]], q[t[:, 2]] - q[t[:, 0]]
    d1, d2 = field[t[:, 1]] - field[t[:, 0]], field[t[:, 2]] - field[t[:, 0]]
    a, b, c = (e1 * e1).sum(1), (e1 * e2).sum(1), (e2 * e2).sum(1)
    slope = (d1 * d1 * c - 2 * d1 * d2 * b + d2 * d2 * a) / np.maximum(a * c - b * b, 1e-12)
    slope = np.sqrt(np.maximum(slope, 0))
    total = np.bincount(t.ravel(), np.repeat(slope, 3), len(q))
    steep = total / np.maximum(np.bincount(t.ravel(), minlength=len(q)), 1)
    for _ in range(10):
        steep = 0.3 * steep + 0.7 * (shell.mean @ steep)
    return np.asarray(field / np.maximum(steep, 0.25))


def opened(shell: Shell, field: Array) -> Opened:
    """Keep the cloth where the field (n,) is negative."""
    carry, faces, edges = cut_below(shell.cloth, shell.triangles, field)
    return Opened(
        carry @ shell.cloth,
        unit(carry @ shell.normals),
        faces,
        carry @ shell.uv,
        carry @ shell.reference,
        rim_chain(edges),
    )


def sheet(name: str, top: Opened, cloth: Cloth) -> Surface:
    """The body of a top as a surface."""
    flat = cloth_surface(name, top.cloth, top.triangles, top.uv, cloth, top.normals)
    return restitched(flat)


def round_edge(top: Opened, base: Ground, count: int) -> tuple[Array, Array, Array]:
    """A closed rim as an even path (count, 3), the cloth's normals (count, 3) there and the way
    (count, 3) away from the hole."""
    path = even_path(top.cloth[top.rim], count, True)
    return path, *_frame(path, base)


def _frame(path: Array, base: Ground) -> tuple[Array, Array]:
    normal = base.plane(path)[1]
    ahead = unit(np.roll(path, -1, 0) - np.roll(path, 1, 0))
    away = unit(np.cross(ahead, normal))
    middle = path.mean(0)
    if ((path - middle) * away).sum() < 0:
        away = -away
    return normal, away
