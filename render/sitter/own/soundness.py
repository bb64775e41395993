"""Make a scan sound: no worthless triangles, outward normals, large openings closed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import breadth_first_order, connected_components

from render.sitter.arrays import Array, Index, Mask
from render.sitter.own.parts import Part
from render.sitter.own.wish import MeshFault

_WELD = 1e-6  # of the mesh's size: vertices this close are one
_LEAST_AREA = 1e-18  # of the square of the mesh's size: a triangle without area
_FEWEST = 100  # triangles; below, there is no head to light
_MOST_LOOP = 100_000  # edges of one opening


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """All parts of a mesh as one list of vertices, sewn together for every test."""

    vertices: Array  # (n, 3)
    triangles: Index  # (m, 3) wound outward
    seam: Index  # (n,) number of the place: equal where vertices of several parts meet
    part: Index  # (m,) which part a triangle belongs to
    first: Index  # (p + 1,) first vertex of each part
    notes: tuple[str, ...]

    def places(self) -> Index:
        """Triangles (m, 3) by place: what hangs together shares numbers."""
        places: Index = self.seam[self.triangles]
        return places

    def sewn(self) -> Array:
        """Vertices (k, 3) by place."""
        return np.asarray(self.vertices[np.unique(self.seam, return_index=True)[1]])


def sound(parts: list[Part], name: str) -> Sound:
    """The parts put together and cleaned; raises MeshFault when too little is left."""
    first = np.cumsum([0, *(len(part.vertices) for part in parts)])
    vertices = np.concatenate([part.vertices for part in parts])
    triangles = np.concatenate(
        [part.triangles + at for part, at in zip(parts, first, strict=False)]
    )
    owner = np.repeat(np.arange(len(parts)), [len(part.triangles) for part in parts])
    seam = _seams(vertices)
    whole = Sound(vertices, triangles, seam, owner, first, ())
    whole = _cleaned(whole, name)
    return _outward(whole)


def _seams(vertices: Array) -> Index:
    """One number (n,) for all vertices at the same place."""
    size = max(float(np.ptp(vertices, axis=0).max()), 1e-300)
    steps = np.round((vertices - vertices.min(0)) / (size * _WELD)).astype(np.int64)
    # Three 21-bit steps in one number sort much faster than rows.
    key = (steps[:, 0] << 42) | (steps[:, 1] << 21) | steps[:, 2]
    return np.unique(key, return_inverse=True)[1].ravel()


def _cleaned(whole: Sound, name: str) -> Sound:
    """Without triangles that have no area or are there twice."""
    places = whole.places()
    size = max(float(np.ptp(whole.vertices, axis=0).max()), 1e-300)
    a, b, c = (whole.vertices[whole.triangles[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    flat = (places[:, 0] == places[:, 1]) | (places[:, 1] == places[:, 2])
    flat |= (places[:, 2] == places[:, 0]) | (area <= _LEAST_AREA * size**2)
    low, middle, high = np.sort(places, 1).T
    order = np.lexsort((high, middle, low))
    same = np.zeros(len(places), bool)
    ahead, behind = order[1:], order[:-1]
    same[ahead] = (
        (low[ahead] == low[behind])
        & (middle[ahead] == middle[behind])
        & (high[ahead] == high[behind])
    )
    same &= ~flat
    kept = ~flat & ~same
    if kept.sum() < _FEWEST:
        found = f"{name} has {int(kept.sum())} usable triangles"
        raise MeshFault(found, f"at least {_FEWEST}: a head")
    notes = []
    if flat.any():
        notes.append(f"{int(flat.sum()):,} triangles without area left out")
    if same.any():
        notes.append(f"{int(same.sum()):,} triangles that are there twice left out")
    triangles, part = whole.triangles[kept], whole.part[kept]
    return replace(whole, triangles=triangles, part=part, notes=tuple(notes))


def _sides(places: Index) -> tuple[Index, Index, Mask]:
    """Edges (3m,) as one number, the triangle of each, and whether it runs upwards."""
    start, end = places.ravel(), np.roll(places, -1, 1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    return low * (int(places.max()) + 1) + high, np.repeat(np.arange(len(places)), 3), start < end


def _outward(whole: Sound) -> Sound:
    """Each piece wound the same way all over, and outward."""
    places = whole.places()
    edge, owner, up = _sides(places)
    order = np.argsort(edge, kind="stable")
    edge, owner, up = edge[order], owner[order], up[order]
    _, start, count = np.unique(edge, return_index=True, return_counts=True)
    pairs = start[count == 2]
    a, b, against = owner[pairs], owner[pairs + 1], up[pairs] == up[pairs + 1]
    links = sp.coo_matrix((np.ones(len(a)), (a, b)), (len(places),) * 2).tocsr()
    pieces, piece = connected_components(links, directed=False)
    flip = np.zeros(len(places), bool)
    if against.any():
        flip = _one_way(links, piece, pieces, (a, b, against))
    triangles = np.where(flip[:, None], whole.triangles[:, ::-1], whole.triangles)
    inward = _inward(whole.vertices, triangles, piece, pieces)
    flip ^= inward[piece]
    notes = list(whole.notes)
    if flip.any():
        share = 100 * flip.mean()
        notes.append(f"{share:.0f} % of the triangles faced inward: turned outward")
    triangles = np.where(flip[:, None], whole.triangles[:, ::-1], whole.triangles)
    return replace(whole, triangles=triangles, notes=tuple(notes))


def _one_way(
    links: sp.csr_matrix, piece: Index, pieces: int, pairs: tuple[Index, Index, Mask]
) -> Mask:
    """Triangles (m,) to turn so that neighbours agree, from the first of each piece outward."""
    a, b, against = pairs
    count = len(piece)
    low, high = np.minimum(a, b), np.maximum(a, b)
    clash = set((low * count + high)[against].tolist())
    flip = np.zeros(count, bool)
    bad = np.unique(piece[a[against]])
    both = links + links.T
    for k in bad:
        begin = int(np.flatnonzero(piece == k)[0])
        order, before = breadth_first_order(both, begin, directed=False)
        for here in order[1:].tolist():
            last = int(before[here])
            key = min(here, last) * count + max(here, last)
            flip[here] = flip[last] ^ (key in clash)
    return flip


def _inward(vertices: Array, triangles: Index, piece: Index, pieces: int) -> Mask:
    """Pieces (p,) whose volume about their own middle is negative."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    middle = (a + b + c) / 3
    number = np.maximum(np.bincount(piece, minlength=pieces), 1)
    centre = np.stack([np.bincount(piece, middle[:, k], pieces) / number for k in range(3)], 1)
    volume = (np.cross(b - a, c - a) * (middle - centre[piece])).sum(1)
    return np.asarray(np.bincount(piece, volume, pieces) < 0)


def largest(whole: Sound) -> Mask:
    """Triangles (m,) of the largest connected piece, by area."""
    places = whole.places()
    links = sp.coo_matrix(
        (np.ones(2 * len(places)), (places[:, :2].ravel(), places[:, 1:].ravel())),
        (int(whole.seam.max()) + 1,) * 2,
    )
    _, piece = connected_components(links, directed=False)
    mine = piece[places[:, 0]]
    a, b, c = (whole.vertices[whole.triangles[:, k]] for k in range(3))
    area = np.bincount(mine, np.linalg.norm(np.cross(b - a, c - a), axis=1))
    return np.asarray(mine == int(area.argmax()))


def openings(triangles: Index) -> list[Index]:
    """Closed chains of places round the holes of a mesh (m, 3), against the triangles' way."""
    edge, _, _ = _sides(triangles)
    start, end = triangles.ravel(), np.roll(triangles, -1, 1).ravel()
    _, first, count = np.unique(edge, return_index=True, return_counts=True)
    rim = first[count == 1]
    following: dict[int, int] = dict(zip(start[rim].tolist(), end[rim].tolist(), strict=True))
    loops = []
    while following:
        begin, here = following.popitem()
        loop = [begin]
        while here != begin and here in following and len(loop) < _MOST_LOOP:
            loop.append(here)
            here = following.pop(here)
        if here == begin and len(loop) > 2:
            loops.append(np.array(loop))
    return loops
