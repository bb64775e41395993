"""What a station sees of a flat front of any outline: its cloth inside lip and beam."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import Cells, Disk, Front, Polygon, Tabulated, beam, hot_spot
from render.emission.shapes import rim
from render.predict.rays import Rays, reach, start_within, turns_through
from render.predict.station import Picks, Stations

Floats = NDArray[np.float64]

QUARTERS = tuple(0.5 * math.pi * k for k in range(4))
TWELFTHS = tuple(math.pi / 6 * k for k in range(12))  # where a honeycomb's beam has its kinks


@dataclass(frozen=True, slots=True)
class Leaf:
    """A flat front, or the deflector in the middle of a disk, seen from m stations."""

    spots: Stations
    rays: Rays
    share: float  # of the luminance that is to be added: 1, or that of a deflector less 1

    def pick(self, which: Picks) -> Leaf:
        """The stations of an index or mask (m,)."""
        return Leaf(self.spots.pick(which), self.rays.pick(which), self.share)

    @property
    def there(self) -> NDArray[np.bool_]:
        """Which stations (m,) see anything of it."""
        return self.rays.open

    @property
    def pieces(self) -> int:
        """How many equal stretches of v have no kink inside."""
        return len(self.rays.turns.T) - 1

    def lay(self, u: Floats, v: Floats) -> tuple[Floats, Floats]:
        """Places (m, k, 3) [m], local axes, and reading per L0 and du dv (m, k), for u, v.

        u, v : (k,) or (m, k) float  0 ... 1, from the middle to the rim and around
        """
        xy, weight = self.rays.lay(u, v)
        front = _plain(self.spots.front)
        glow = hot_spot(front, xy[..., 0] / (front.width_m / 2), xy[..., 1] / (front.height_m / 2))
        slope = (self.spots.at[:, None, :2] - xy) / self.spots.at[:, 2, None, None]
        bright = self.share * glow * beam(front, slope[..., 0], slope[..., 1])
        return np.concatenate([xy, np.zeros_like(xy[..., :1])], -1), bright * weight


def leaves(spots: Stations) -> list[Leaf]:
    """The cloth, and the deflector of a disk as what it takes from the cloth behind it."""
    found = [Leaf(spots, flat_rays(spots), 1.0)]
    shape = spots.front.shape
    if isinstance(shape, Disk) and shape.hole_m > 0 and shape.hole_share != 1:
        hole = flat_rays(spots, 0.5 * shape.hole_m)
        found.append(Leaf(spots, hole, shape.hole_share - 1))
    return found


def _plain(front: Front) -> Front:
    """The front without a deflector."""
    return replace(front, shape=Disk()) if isinstance(front.shape, Disk) else front


def flat_rays(spots: Stations, radius_m: float | None = None) -> Rays:
    """Rays across a flat front, or a disk of another radius in its middle, as the lip shows it."""
    front, m = spots.front, len(spots.at)
    whole, sides = _outline(front)
    part = whole if radius_m is None else np.array([[0.0, 0.0, radius_m]])
    circles, lines = (np.broadcast_to(x, (m, *x.shape)) for x in (part, sides))
    inside, open_ = np.zeros((m, 2)), spots.at[:, 2] > front.recess_m
    kinks = np.broadcast_to(_corners(front), (m, *_corners(front).shape))
    if front.recess_m > 0:
        shift, grown = lip_shift(front, spots.at)
        inside, meet = _inside_both((circles, lines), (whole, sides), shift, grown)
        open_ &= meet
        if isinstance(front.shape, Disk):
            kinks = _crossings(part[0, 2], 0.5 * front.width_m * grown, shift)
        else:
            kinks = np.concatenate([kinks, shift[:, None] + grown[:, None, None] * kinks], 1)
        circles, lines = _with_opening((circles, lines), (whole, sides), shift, grown)
    middle = start_within(spots.at, inside, circles, lines)
    strips, angles, ends = _strips(spots)
    turns = turns_through(middle, np.concatenate([kinks, ends], 1), angles)
    spot = np.full(m, np.inf)
    if isinstance(front.beam, Tabulated) and front.beam.gammas_deg[-1] < 90:
        spot = spots.at[:, 2] * math.tan(math.radians(front.beam.gammas_deg[-1]))
    shape = (middle, circles, lines, strips, spot, turns, open_)
    return Rays(spots.receptor, spots.at, spots.axis, *shape)


def lip_shift(front: Front, at: Floats) -> tuple[Floats, Floats]:
    """Where the lip's opening falls on the emitting plane: shift (m, 2) [m], enlargement (m,)."""
    z = at[:, 2]
    grown = z / np.where(z > front.recess_m, z - front.recess_m, np.inf)
    return (1 - grown)[:, None] * at[:, :2], grown


def _outline(front: Front) -> tuple[Floats, Floats]:
    """Circles (c, 3) and lines (s, 3) that bound a flat front."""
    if isinstance(front.shape, Disk):
        return np.array([[0.0, 0.0, 0.5 * front.width_m]]), np.zeros((0, 3))
    corners = _corners(front)
    along = np.roll(corners, -1, axis=0) - corners
    normal = np.stack([along[:, 1], -along[:, 0]], -1)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    distance = np.sum(normal * corners, -1, keepdims=True)
    return np.zeros((0, 3)), np.concatenate([normal, distance], -1)


def _corners(front: Front) -> Floats:
    """Corners (c, 2) [m] of the outline, none of a disk."""
    if isinstance(front.shape, Disk):
        return np.zeros((0, 2))
    return rim(front.shape, front.width_m, front.height_m)


def _with_opening(
    part: tuple[Floats, Floats], whole: tuple[Floats, Floats], shift: Floats, grown: Floats
) -> tuple[Floats, Floats]:
    """Circles (m, c, 3) and lines (m, s, 3) of the cloth and of the lip's opening."""
    (circles, lines), (discs, sides) = part, whole
    opening = np.broadcast_to(discs, (len(shift), *discs.shape)) * grown[:, None, None]
    opening[..., :2] += shift[:, None, :]
    edges = np.broadcast_to(sides, (len(shift), *sides.shape)).copy()
    edges[..., 2] = edges[..., 2] * grown[:, None] + np.sum(edges[..., :2] * shift[:, None], -1)
    return np.concatenate([circles, opening], 1), np.concatenate([lines, edges], 1)


def _inside_both(
    part: tuple[Floats, Floats], whole: tuple[Floats, Floats], shift: Floats, grown: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """A point (m, 2) in the cloth and in the lip's opening, half way along their common stretch.

    returns also (m,) bool  whether there is one
    Both are seen about one centre of likeness on the line through their middles: if they are
    symmetrical and meet at all, they meet on that line.
    """
    m = len(shift)
    length = np.linalg.norm(shift, axis=1)
    unit = np.where(length[:, None] > 0, shift / np.maximum(length, 1e-300)[:, None], [1.0, 0.0])
    both = (np.stack([unit[:, 0], -unit[:, 0]], 1), np.stack([unit[:, 1], -unit[:, 1]], 1))
    origin = np.zeros((m, 2))
    ahead, back = reach(*part, origin, both).T
    discs, sides = (np.broadcast_to(x, (m, *x.shape)) for x in whole)
    on, off = (reach(discs, sides, origin, both) * grown[:, None]).T
    low, high = np.maximum(-back, length - off), np.minimum(ahead, length + on)
    return (0.5 * (low + high))[:, None] * unit, high > low


def _crossings(radius: float, opening: Floats, shift: Floats) -> Floats:
    """Where (m, 2, 2) the circle about the middle meets that of the lip's opening."""
    length = np.linalg.norm(shift, axis=1)
    safe = np.maximum(length, 1e-300)
    along = np.clip((length**2 + radius**2 - opening**2) / (2 * safe), -radius, radius)
    across = np.sqrt(np.maximum(radius**2 - along**2, 0.0))
    unit = shift / safe[:, None]
    aside = np.stack([-unit[:, 1], unit[:, 0]], -1)
    base = along[:, None] * unit
    return np.stack([base + across[:, None] * aside, base - across[:, None] * aside], 1)


def _strips(spots: Stations) -> tuple[Floats, tuple[float, ...], Floats]:
    """Where a grid is open for a station, the angles of its kinks, corners of the open part."""
    cells, m = spots.front.cells, len(spots.at)
    if cells is None:
        angles = () if isinstance(spots.front.shape, Polygon) else QUARTERS
        return np.zeros((m, 0, 3)), angles, np.zeros((m, 0, 2))
    z = spots.at[:, 2]
    if isinstance(cells, Cells):
        normals, slopes, angles = np.eye(2), np.array(cells.slopes), QUARTERS
        corners = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]) * slopes
        ends = spots.at[:, None, :2] + z[:, None, None] * corners
    else:
        turn = np.array([0.0, math.pi / 3, 2 * math.pi / 3])
        normals, slopes = np.stack([np.cos(turn), np.sin(turn)], -1), np.full(3, cells.slopes[0])
        angles, ends = TWELFTHS, np.zeros((m, 0, 2))
    spread = np.broadcast_to(normals, (m, *normals.shape))
    return np.concatenate([spread, (z[:, None] * slopes)[..., None]], -1), angles, ends
