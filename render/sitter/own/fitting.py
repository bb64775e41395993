"""Lay the template on a scan: move, turn and shape it until its face lies on the scan's face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from render.sitter.arrays import Array, Index, unit
from render.sitter.own.template import SIZES, Template
from render.sitter.shape.surfaces import smooth_normals

NEAR_M = 0.005  # a face point this close to the scan counts as found
_WORST_M = 0.010  # distances count up to here in the residual, so that one ear decides nothing
_ALONG = 0.03  # weight of a move along the surface against one through it
_FACING = 0.5  # cosine: a point may only lie on skin that faces its way
_NOISE_M = 0.002  # how well a shaped template can follow a face
_INDEPENDENT = 150.0  # face points that tell something of their own; neighbours agree
_MARK_WEIGHT = 30.0  # face points that a given landmark outweighs


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """Points spread evenly over a scan [m], in sitter axes."""

    points: Array  # (n, 3)
    normals: Array  # (n, 3) unit
    tree: cKDTree


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Where the template came to lie: place = rotation @ shaped + shift."""

    rotation: Array  # (3, 3)
    shift: Array  # (3,)
    amounts: Array  # (k,) of the modes
    residual_m: float  # root mean square distance of the face
    found: float  # share of the face that lies on the scan

    def placed(self, template: Template) -> Array:
        """All rows of the template (n, 3) where they lie on the scan [m]."""
        return np.asarray(template.shaped(self.amounts) @ self.rotation.T + self.shift)


Marks = tuple[Index, Array]  # template rows (m,) and where they must come to lie (m, 3)
NO_MARKS: Marks = (np.zeros(0, int), np.zeros((0, 3)))


def spread(vertices: Array, triangles: Index, count: int, seed: int = 0) -> Cloud:
    """A cloud of points on a mesh, uniform by area."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    area = np.linalg.norm(across, axis=1)
    rng = np.random.default_rng(seed)
    pick = np.searchsorted(np.cumsum(area), rng.random(count) * area.sum())
    pick = np.minimum(pick, len(area) - 1)
    u, v = np.sqrt(rng.random((count, 1))), rng.random((count, 1))
    points = (1 - u) * a[pick] + u * (1 - v) * b[pick] + u * v * c[pick]
    smooth = smooth_normals(vertices, triangles)[triangles[pick]]
    normals = (1 - u) * smooth[:, 0] + u * (1 - v) * smooth[:, 1] + u * v * smooth[:, 2]
    return Cloud(points, unit(normals), cKDTree(points))


def start_at(template: Template, rotation: Array, shift: Array) -> Fit:
    """The plain template at a first guess."""
    return Fit(rotation, shift, np.zeros(len(template.modes)), np.inf, 0.0)


def from_marks(template: Template, marks: Marks) -> Fit:
    """Best rotation and shift of the plain template onto three or more given places.

    Source: Kabsch, Acta Crystallographica A32 (1976) 922.
    """
    source, target = template.rows[marks[0]], marks[1]
    middle, goal = source.mean(0), target.mean(0)
    u, _, vt = np.linalg.svd((target - goal).T @ (source - middle))
    rotation = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return start_at(template, rotation, goal - rotation @ middle)


def fitted(
    template: Template,
    cloud: Cloud,
    start: Fit,
    widths_m: tuple[float, ...],
    *,
    every: int = 1,
    modes: int | None = None,
    marks: Marks = NO_MARKS,
) -> Fit:
    """The template laid on the scan by iterated closest points, each pass with its own reach.

    widths_m : distance at which a pair of points counts a quarter, one for each pass [m]
    every    : take every n-th point only
    modes    : number of modes that may vary (None: all)
    """
    fit, free = start, len(template.modes) if modes is None else modes
    rows, weight = template.fitted[::every], template.weight[::every]
    for width in widths_m:
        arms = template.shaped(fit.amounts, rows, free) @ fit.rotation.T
        normals = _normals(template, fit, free)[rows] @ fit.rotation.T
        placed = arms + fit.shift
        distance, nearest = cloud.tree.query(placed)
        alike = (normals * cloud.normals[nearest]).sum(1) > _FACING
        trust = weight * alike / (1 + (distance / width) ** 2) ** 2
        step = _step(
            template, fit, (rows, arms, placed, trust), (cloud, np.asarray(nearest)), free, marks
        )
        turn = Rotation.from_rotvec(step[:3]).as_matrix()
        amounts = fit.amounts.copy()
        amounts[:free] += step[6:]
        fit = Fit(turn @ fit.rotation, fit.shift + step[3:6], amounts, np.inf, 0.0)
    return _judged(template, cloud, fit)


def _normals(template: Template, fit: Fit, free: int) -> Array:
    """Normals of the skin points before the turn; sizes alone change them little."""
    if free <= SIZES:
        return template.normals
    return smooth_normals(template.shaped(fit.amounts), template.quads)[: template.skin]


def _step(
    template: Template,
    fit: Fit,
    pairs: tuple[Index, Array, Array, Array],
    target: tuple[Cloud, Index],
    free: int,
    marks: Marks,
) -> Array:
    """Turn, shift and change of amounts (6 + free,) that bring the pairs together."""
    rows, arms, placed, trust = pairs
    cloud, nearest = target
    gap = placed - cloud.points[nearest]
    normal = cloud.normals[nearest]
    slopes = _slopes(template, fit, rows, arms, free)
    through = np.einsum("pd,pdj->pj", normal, slopes)
    share = _INDEPENDENT / max(float(trust.sum()), 1e-9) / _NOISE_M**2
    system = share * (through.T * trust) @ through
    right = share * (through.T * trust) @ (gap * normal).sum(1)
    flat, ahead = slopes.reshape(-1, slopes.shape[2]), gap.ravel()
    along = _ALONG * share * np.repeat(trust, 3)
    system += (flat.T * along) @ flat
    right += (flat.T * along) @ ahead
    if len(marks[0]):
        arms = template.shaped(fit.amounts, marks[0], free) @ fit.rotation.T
        flat = _slopes(template, fit, marks[0], arms, free).reshape(-1, slopes.shape[2])
        heavy = _MARK_WEIGHT / _NOISE_M**2
        system += heavy * flat.T @ flat
        right += heavy * flat.T @ (arms + fit.shift - marks[1]).ravel()
    # Typical amounts are 1: unusual faces must be earned.
    prior = np.r_[np.full(6, 1e-9), np.ones(free)]
    right[6:] += fit.amounts[:free]
    return -np.linalg.solve(system + np.diag(prior), right)


def _slopes(template: Template, fit: Fit, rows: Index, arms: Array, free: int) -> Array:
    """How rows move (p, 3, 6 + free) with turn, shift and amounts."""
    slopes = np.empty((len(rows), 3, 6 + free))
    for axis, vector in enumerate(np.eye(3)):
        slopes[:, :, axis] = np.cross(vector, arms)
        slopes[:, :, 3 + axis] = vector
    slopes[:, :, 6:] = np.einsum("ij,kpj->pik", fit.rotation, template.modes[:free, rows])
    return slopes


def _judged(template: Template, cloud: Cloud, fit: Fit) -> Fit:
    """The fit with its residual, over the face alone."""
    face = template.fitted[template.weight > 0.5]
    free = SIZES if not fit.amounts[SIZES:].any() else len(fit.amounts)
    normals = _normals(template, fit, free)[face] @ fit.rotation.T
    distance, nearest = cloud.tree.query(fit.placed(template)[face])
    alike = (normals * cloud.normals[nearest]).sum(1) > _FACING
    distance = np.where(alike, distance, _WORST_M)
    residual = float(np.sqrt(np.mean(np.minimum(distance, _WORST_M) ** 2)))
    return Fit(fit.rotation, fit.shift, fit.amounts, residual, float((distance < NEAR_M).mean()))
