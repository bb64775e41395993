"""Smooth skin across a small detail that no photograph should show, from the skin around it."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from render.sitter.arrays import Array, Index, Mask

_LEAST_COT = 0.05  # obtuse corners keep a little weight, so that the solution stays inside
_LEAST_SHARE = 1e-6  # smaller shares move nothing


def fill(points: Array, triangles: Index, inside: Mask) -> sp.csr_matrix:
    """Operator (n, n) that replaces the inner points by the least bent surface.

    points : (n, 3) shape on which areas and angles are measured;  triangles : (m, 3)
    inside : (n,) what is replaced; everything else stays

    Minimises the sum of squared mean curvatures (Botsch and Sorkine, IEEE Trans. Vis. Comput.
    Graph. 14 (2008) 213, section 4), with cotangent weights.
    """
    near = np.flatnonzero(inside[triangles].any(1))
    for _ in range(2):  # curvature at the rim needs two rings of neighbours
        touched = np.zeros(len(points), bool)
        touched[triangles[near]] = True
        near = np.flatnonzero(touched[triangles].any(1))
    ids, local = np.unique(triangles[near], return_inverse=True)
    bending = _bending(points[ids], local.reshape(-1, 3))
    inner = inside[ids]
    own, fixed = bending[inner][:, inner], bending[inner][:, ~inner]
    used = np.flatnonzero(np.diff(fixed.tocsc().indptr))
    block = -splu(own.tocsc()).solve(fixed[:, used].toarray())
    rows = np.repeat(ids[inner], len(used))
    columns = np.tile(ids[~inner][used], int(inner.sum()))
    block[np.abs(block) < _LEAST_SHARE] = 0
    made = sp.csr_matrix((block.ravel(), (rows, columns)), (len(points), len(points)))
    made.eliminate_zeros()
    return sp.csr_matrix(sp.diags((~inside).astype(float)) + made)


def _bending(points: Array, triangles: Index) -> sp.csr_matrix:
    """Squared mean curvature of a triangle mesh as a quadratic form (n, n)."""
    count = len(points)
    laplace: Any = sp.csr_matrix((count, count))
    area = np.zeros(count)
    for k in range(3):
        i, j, o = triangles[:, k], triangles[:, (k + 1) % 3], triangles[:, (k + 2) % 3]
        a, b = points[i] - points[o], points[j] - points[o]
        double = np.maximum(np.linalg.norm(np.cross(a, b), axis=1), 1e-12)
        cot = np.maximum((a * b).sum(1) / double, _LEAST_COT)
        half = sp.csr_matrix((0.5 * cot, (i, j)), (count, count))
        laplace = laplace + half + half.T
        np.add.at(area, o, double / 6)
    laplace = sp.diags(np.asarray(laplace.sum(1)).ravel()) - laplace
    return sp.csr_matrix(laplace @ sp.diags(1 / area) @ laplace)
