"""The parting: a line from the forehead to the crown, and hair that lies evenly beside it."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Rng, bell, smoothstep
from render.sitter.hair.scalp import Scalp

# Lengths and heights [dm] were set by eye.
_COVER_FROM, _COVER_FULL = 0.35, 0.75  # heights over the eyes between which a cover comes to hold
_SIDES, _SIDES_FROM, _SIDES_FULL = 0.6, 0.30, 0.72  # how much thicker it is to the sides
_PART_DIP, _PART_BREADTH = 0.08, 0.07  # how much thinner at the parting, and how far aside


def denser_at_parting(scalp: Scalp, x: float, rng: Rng) -> Array:
    """Vertex weight (n,): more roots along the parting, so that no bare line shows."""
    offset, _ = parting(scalp, scalp.vertices, x, rng)
    return np.asarray(1 + 5.0 * bell(np.linalg.norm(offset, axis=1), 0.0, 0.13))


def parting(scalp: Scalp, p: Array, x: float, rng: Rng) -> tuple[Array, Array]:
    """Offset (n, 3) of roots from the parting line, and the side (n,) they are combed to."""
    nearest, t = _on_line(scalp, p, x)
    # A comb's path is not straight, and hairs near it fall to either side.
    bent = 0.012 * np.sin(7.0 * t) + 0.008 * np.sin(17.0 * t + 1.0)
    waver = bent + (0.012 + 0.040 * smoothstep(0.1, 0.5, t)) * rng.standard_normal(len(p))
    return p - nearest, np.where(p[:, 0] + waver > nearest[:, 0], 1.0, -1.0)


def pressed(scalp: Scalp, strands: Array, x: float, cover: float) -> Array:
    """Strands (n, k, 3) pressed to an even cover [dm] over the skull, thinner at the parting.

    Each keeps its place among the others, so that the head is one arch with a line in it and not
    two humps.
    """
    out = strands.copy()
    q = out[:, 2:].reshape(-1, 3)
    above = q[:, 1] - scalp.eye[1]
    top = np.flatnonzero(above > _COVER_FROM)
    height, normal = scalp.outside(q[top])
    height = np.maximum(height, 0)
    aside = np.linalg.norm(q[top] - _on_line(scalp, q[top], x)[0], axis=1)
    most = cover * (1 - _PART_DIP * bell(aside, 0.0, _PART_BREADTH))
    most = most * (1 + _SIDES * smoothstep(_SIDES_FROM, _SIDES_FULL, np.abs(q[top, 0])))
    lower = height - most * np.tanh(height / most)
    q[top] -= normal * (lower * smoothstep(_COVER_FROM, _COVER_FULL, above[top]))[:, None]
    out[:, 2:] = q.reshape(out[:, 2:].shape)
    return out


def _on_line(scalp: Scalp, p: Array, x: float) -> tuple[Array, Array]:
    """The place of the parting line nearest to points (n, 3), and how far along it is (n,) 0..1."""
    front = np.array([x, scalp.eye[1] + 0.72, scalp.eye[2] + 0.1])
    back = scalp.crown + np.array([0.7 * x, 0.02, -0.05])
    line = back - front
    t = np.clip(((p - front) @ line) / (line @ line), 0, 1)
    return front + t[:, None] * line, t
