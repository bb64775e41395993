"""What vertex values become on a changed mesh: subdivided, averaged, cut along a line."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp

from render.sitter.arrays import Array, Index


def _edges(quads: Index) -> tuple[Index, Index, Index]:
    """Unique edges (e, 2), edge of every quad side (m, 4), number of quads on every edge (e,)."""
    sides = np.sort(np.stack([quads, np.roll(quads, -1, 1)], -1).reshape(-1, 2), axis=1)
    edges, inverse, count = np.unique(sides, axis=0, return_inverse=True, return_counts=True)
    return edges, inverse.reshape(len(quads), 4), count


def _split_quads(quads: Index, side_edge: Index, count: int, edges: int) -> Index:
    """The four children of every quad; new vertices are numbered: old, edges, faces."""
    centre = np.repeat((count + edges + np.arange(len(quads)))[:, None], 4, 1)
    children = np.stack([quads, count + side_edge, centre, count + np.roll(side_edge, 1, 1)], -1)
    return children.reshape(-1, 4)


def _ones(rows: Index, columns: Index, shape: tuple[int, int], value: float) -> sp.csr_matrix:
    return sp.csr_matrix((np.full(rows.size, value), (rows.ravel(), columns.ravel())), shape)


def catmull_clark(quads: Index, count: int) -> tuple[sp.csr_matrix, Index]:
    """One subdivision level as a matrix (new, old) on vertices and the new quads.

    Source: Catmull and Clark, Computer-Aided Design 10 (1978) 350; open edges keep their line.
    """
    edges, side_edge, on_edge = _edges(quads)
    m, e = len(quads), len(edges)
    face = np.repeat(np.arange(m), 4)
    to_face = _ones(face, quads, (m, count), 0.25)
    edge_face = _ones(side_edge, face, (e, m), 1.0)
    edge_mid = _ones(np.repeat(np.arange(e), 2), edges, (e, count), 0.5)
    is_open = on_edge == 1
    inner = sp.diags(np.where(is_open, 1.0, 0.5)) @ edge_mid
    new_edge = inner + sp.diags(np.where(is_open, 0.0, 0.25)) @ edge_face @ to_face

    vertex_face = _ones(quads, face, (count, m), 1.0)
    vertex_edge = _ones(edges, np.repeat(np.arange(e), 2), (count, e), 1.0)
    valence = np.maximum(np.asarray(vertex_face.sum(1)).ravel(), 1)
    degree = np.maximum(np.asarray(vertex_edge.sum(1)).ravel(), 1)
    around = sp.diags(2 / valence / degree) @ vertex_edge @ edge_mid
    new_inner = sp.diags(1 / valence**2) @ vertex_face @ to_face + around
    new_inner = new_inner + sp.diags((valence - 3) / valence)
    new_open = 0.5 * sp.identity(count) + 0.25 * vertex_edge[:, is_open] @ edge_mid[is_open]
    on_rim = np.zeros(count, bool)
    on_rim[edges[is_open].ravel()] = True
    moved = (
        sp.diags((~on_rim).astype(float)) @ new_inner + sp.diags(on_rim.astype(float)) @ new_open
    )
    matrix = sp.csr_matrix(sp.vstack([moved, new_edge, to_face]))
    return matrix, _split_quads(quads, side_edge, count, e)


def split_linear(quads: Index, values: Array) -> tuple[Array, Index]:
    """The same split for values (n, k) that must stay straight, such as uv."""
    edges, side_edge, _ = _edges(quads)
    grown = np.concatenate([values, values[edges].mean(1), values[quads].mean(1)])
    return grown, _split_quads(quads, side_edge, len(values), len(edges))


def neighbour_mean(triangles: Index, count: int) -> sp.csr_matrix:
    """Matrix (n, n) that replaces a vertex value by the mean of its neighbours."""
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    linked = _ones(sides[:, 0], sides[:, 1], (count, count), 1.0)
    linked = sp.csr_matrix(((linked + linked.T) > 0).astype(float))
    degree = np.maximum(np.asarray(linked.sum(1)).ravel(), 1)
    return sp.csr_matrix(sp.diags(1 / degree) @ linked)


def cut_below(
    vertices: Array, triangles: Index, field: Array
) -> tuple[sp.csr_matrix, Index, Index]:
    """Keep the part of a triangle mesh where `field` (n,) is negative, cut exactly at zero.

    Returns the matrix (new, old) that carries any vertex values over, the new triangles and the
    directed edges (k, 2) along the cut.
    """
    inside = field < 0
    kept = inside[triangles].sum(1)
    crossing: dict[tuple[int, int], int] = {}
    count = len(vertices)

    def cross(a: int, b: int) -> int:
        return crossing.setdefault((min(a, b), max(a, b)), count + len(crossing))

    added: list[list[int]] = []
    rim: list[list[int]] = []
    for triangle in triangles[(kept == 1) | (kept == 2)]:
        is_in = inside[triangle]
        one_in = is_in.sum() == 1
        k = int(np.flatnonzero(is_in if one_in else ~is_in)[0])
        a, b, c = (int(triangle[(k + j) % 3]) for j in range(3))
        ab, ac = cross(a, b), cross(a, c)
        added += [[a, ab, ac]] if one_in else [[ab, b, c], [ab, c, ac]]
        rim.append([ab, ac] if one_in else [ac, ab])
    pairs = np.array(list(crossing), dtype=np.int64).reshape(-1, 2)
    t = field[pairs[:, 0]] / (field[pairs[:, 0]] - field[pairs[:, 1]])
    rows = np.repeat(np.arange(len(pairs)), 2)
    weights = np.stack([1 - t, t], 1).ravel()
    mixed = sp.csr_matrix((weights, (rows, pairs.ravel())), (len(pairs), count))
    faces = np.concatenate([triangles[kept == 3], np.array(added, np.int64).reshape(-1, 3)])
    used, inverse = np.unique(faces, return_inverse=True)
    carry = sp.csr_matrix(sp.vstack([sp.identity(count), mixed]))[used]
    renumber = np.full(count + len(pairs), -1)
    renumber[used] = np.arange(len(used))
    return carry, inverse.reshape(-1, 3), renumber[np.array(rim, np.int64).reshape(-1, 2)]
