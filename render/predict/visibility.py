"""How much of a light's reading arrives when something hides part of the front."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from render.emission import room_from_local
from render.predict.obstacles import Obstacles
from render.predict.rays import LEAST
from render.predict.refine import change_in_stops
from render.predict.station import Picks, Stations
from render.predict.views import View, bounds, even_views, is_round

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

LEVELS = (16, 32, 64, 128)  # cells along each side of a view, coarse to fine
ENOUGH_STOPS = 0.002  # two levels that agree so well need no finer one
HALVINGS = 14  # of a cell's edge, to find where the shadow crosses it
MAX_CORNERS = 1_500_000  # of cells, worked on at once


@dataclass(frozen=True, slots=True)
class Mesh:
    """A unit square cut into n x n cells of two triangles each."""

    corners: Floats  # (c, 2)
    edges: Ints  # (e, 2) corner numbers
    triangles: Ints  # (t, 3) corner numbers
    sides: Ints  # (t, 3) number of the edge from corner j to corner j + 1


@lru_cache(maxsize=len(LEVELS))
def square_mesh(n: int) -> Mesh:
    """The mesh of n x n cells."""
    number = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    triangles = np.concatenate([np.stack(t, -1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    pairs = np.stack([triangles, np.roll(triangles, -1, axis=1)], -1).reshape(-1, 2)
    edges, sides = np.unique(np.sort(pairs, axis=1), axis=0, return_inverse=True)
    corners = np.stack(np.meshgrid(*[np.linspace(0, 1, n + 1)] * 2, indexing="ij"), -1)
    return Mesh(corners.reshape(-1, 2), edges, triangles, sides.reshape(-1, 3))


@dataclass(frozen=True, slots=True)
class Sight:
    """Stations that see something of one front, and what may stand between."""

    spots: Stations  # of m places
    index: int  # number of the front in the layout
    starts: Floats  # (m, 3) where the rays start, room [m]
    obstacles: Obstacles

    def pick(self, which: Picks) -> Sight:
        """The part of an index or mask (m,)."""
        return Sight(self.spots.pick(which), self.index, self.starts[which], self.obstacles)


@dataclass(frozen=True, slots=True)
class Look:
    """One view of a front as it is seen past the obstacles."""

    view: View
    sight: Sight

    def pick(self, which: Picks) -> Look:
        """The part of an index or mask (m,)."""
        return Look(self.view.pick(which), self.sight.pick(which))

    def lay(self, uv: Floats) -> tuple[Floats, Floats]:
        """Places (m, k, 3), local axes [m], and reading per L0 and du dv, at uv (m, k, 2), (k, 2).

        Views that run from a middle to a rim are mapped from the square so that cells stay compact.
        """
        if not is_round(self.view):
            return self.view.lay(uv[..., 0], uv[..., 1])
        s, t = concentric(uv)
        places, density = self.view.lay(s, t)
        return places, density * (0.5 / np.maximum(s, LEAST))

    def free(self, uv: Floats) -> Bools:
        """Whether places at uv (m, k, 2) or (k, 2) can be seen from their start, (m, k)."""
        places = self.lay(uv)[0]
        targets = room_from_local(self.sight.spots.front, places)
        origins = np.repeat(self.sight.starts, uv.shape[-2], axis=0)
        obstacles = self.sight.obstacles
        hit = obstacles.blocked(self.sight.index, origins, targets.reshape(-1, 3))
        return ~hit.reshape(places.shape[:2])


def concentric(uv: Floats) -> tuple[Floats, Floats]:
    """Polar s, t (...) in 0 ... 1 of places (..., 2) on a unit square: squares become rings.

    ds dt = du dv / (2 s). Source: Shirley and Chiu, Journal of Graphics Tools 2(3), 1997.
    """
    a, b = 2 * uv[..., 0] - 1, 2 * uv[..., 1] - 1
    wide = np.abs(a) >= np.abs(b)
    s = np.maximum(np.where(wide, np.abs(a), np.abs(b)), LEAST)
    aside = np.where(wide, np.sign(a) * b, -np.sign(b) * a) / s
    start = np.where(wide, np.where(a < 0, 4, 0), np.where(b < 0, 6, 2))
    return s, np.mod((start + aside) / 8, 1.0)


def visible_share(sight: Sight) -> tuple[Floats, Floats]:
    """Share of the unobstructed reading of a front that arrives.

    returns : (m,) float    share [-], 0 ... 1
              (m,) float    error estimate [stops]: change from the next coarser level; inf where
                            nothing arrives at the finest level but something did before
    """
    m = len(sight.starts)
    share, error = np.ones(m), np.zeros(m)
    corners, near = bounds(sight.spots)
    in_room = room_from_local(sight.spots.front, corners)
    doubtful, thin = sight.obstacles.may_block(sight.index, sight.starts, in_room)
    pick = np.flatnonzero(doubtful | near)
    for level, n in enumerate(LEVELS):
        if not len(pick):
            break
        finer = _in_chunks(sight.pick(pick), n)
        if level:
            error[pick] = change_in_stops(share[pick], finer)
        share[pick] = finer
        # A sheet seen from its edge may slip between the rays: look as finely as we can.
        slips = thin[pick] & (finer == 1.0)
        if n == LEVELS[-1]:
            error[pick[slips]] = -np.log2(1.0 - 1.0 / n)
        if level:
            pick = pick[slips | (error[pick] > ENOUGH_STOPS)]
    return share, error


def _in_chunks(sight: Sight, n: int) -> Floats:
    """`_share` (m,) for many stations."""
    m, step = len(sight.starts), max(1, MAX_CORNERS // (6 * n * n))
    parts = [np.arange(i, min(i + step, m)) for i in range(0, m, step)]
    return np.concatenate([_share(sight.pick(part), n) for part in parts])


def _share(sight: Sight, n: int) -> Floats:
    """Visible share (m,) with n x n cells in every view of the front."""
    visible, whole, free, count = np.zeros((4, len(sight.starts)))
    for view in even_views(sight.spots):
        live = np.flatnonzero(view.there)
        if len(live):
            seen, full, passes = _seen_and_whole(Look(view, sight).pick(live), n)
            visible[live] += seen
            whole[live] += full
            free[live] += passes
            count[live] += 1
    dark = whole <= 0.0  # only slivers of the reading lie between the nodes
    share: Floats = np.where(
        dark, free / np.maximum(count, 1), visible / np.where(dark, 1.0, whole)
    )
    return np.clip(share, 0.0, 1.0)


def _seen_and_whole(look: Look, n: int) -> tuple[Floats, Floats, Floats]:
    """Visible and whole reading (m,) of a view per L0, and the share of rays that pass (m,).

    Triangles count as a whole where all corners are seen; others are cut along the shadow's edge.
    """
    mesh = square_mesh(n)
    free = look.free(mesh.corners)

    # Every triangle by the rule of its three edge middles, exact for a quadratic.
    density = look.lay(mesh.corners[mesh.edges].mean(axis=1))[1]
    weight = density[:, mesh.sides].sum(axis=-1) / (6.0 * n * n)  # (m, t)
    count = free[:, mesh.triangles].sum(axis=-1)
    visible = np.where(count == 3, weight, 0.0).sum(axis=1)

    # The shadow's edge runs straight through a triangle and cuts off its odd corner.
    who, which = np.nonzero((count == 1) | (count == 2))
    if len(who):
        crossing = _shadow_edges(look, mesh, free)
        tip = _tips(look, mesh, free, crossing, (who, which))
        lit = np.where(count[who, which] == 1, tip, weight[who, which] - tip)
        np.add.at(visible, who, lit)
    return visible, weight.sum(axis=1), free.mean(axis=1)


def _shadow_edges(look: Look, mesh: Mesh, free: Bools) -> Floats:
    """Where the shadow crosses the mesh's edges: share (m, e) of the way, 0.5 if it does not."""
    who, which = np.nonzero(free[:, mesh.edges[:, 0]] != free[:, mesh.edges[:, 1]])
    ends = mesh.corners[mesh.edges[which]]  # (k, 2, 2)
    first_free = free[who, mesh.edges[which, 0]]
    low, high = np.zeros(len(who)), np.ones(len(who))
    crossed = look.pick(who)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        uv = ends[:, 0] + middle[:, None] * (ends[:, 1] - ends[:, 0])
        like_first = crossed.free(uv[:, None, :])[:, 0] == first_free
        low, high = np.where(like_first, middle, low), np.where(like_first, high, middle)
    crossing = np.full(free.shape[:1] + mesh.edges.shape[:1], 0.5)
    crossing[who, which] = 0.5 * (low + high)
    return crossing


def _tips(look: Look, mesh: Mesh, free: Bools, crossing: Floats, cut: tuple[Ints, Ints]) -> Floats:
    """Weight (k,) of the corner that the shadow's edge cuts off each cut triangle."""
    who, which = cut
    corners, sides = mesh.triangles[which], mesh.sides[which]
    flags = free[who[:, None], corners]
    odd = np.argmax(flags != (flags.sum(axis=1) == 2)[:, None], axis=1)
    rows = np.arange(len(who))
    tip, onward, back = (corners[rows, (odd + k) % 3] for k in range(3))
    reach = []
    for side in (sides[rows, odd], sides[rows, (odd + 2) % 3]):
        along = crossing[who, side]
        reach.append(np.where(mesh.edges[side, 0] == tip, along, 1.0 - along)[:, None])

    # The tip is a triangle of its own, weighed by its three edge middles.
    at = mesh.corners[tip]
    p, q = reach[0] * (mesh.corners[onward] - at), reach[1] * (mesh.corners[back] - at)
    middles = np.stack([at + 0.5 * p, at + 0.5 * q, at + 0.5 * (p + q)], axis=1)
    area = 0.5 * np.abs(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])
    result: Floats = look.pick(who).lay(middles)[1].mean(axis=1) * area
    return result
