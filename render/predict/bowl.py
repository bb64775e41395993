"""What a station sees of an umbrella or a ball: the inside through the rim, and the outside."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from render.emission import Ball, Cap, Front, radiance_share, side_shares
from render.predict.leaf import QUARTERS
from render.predict.rays import LEAST, Rays, start_within, turns_through
from render.predict.station import (
    Picks,
    Stations,
    before_rim,
    is_hollow,
    respond,
    rim_level,
    sphere,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Hollow:
    """The inside of a cap, seen from m stations through its rim."""

    spots: Stations
    rays: Rays  # across the plane of the rim, its z towards the stations

    def pick(self, which: Picks) -> Hollow:
        """The stations of an index or mask (m,)."""
        return Hollow(self.spots.pick(which), self.rays.pick(which))

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

        u, v : (k,) or (m, k) float  0 ... 1, from the middle of the opening to its rim and around
        """
        front, at = self.spots.front, self.spots.at[:, None, :]
        xy, weight = self.rays.lay(u, v)
        through = np.concatenate([xy, np.full_like(xy[..., :1], rim_level(front))], -1)
        way = _unit(through - at)
        # On from the opening to the far side of the sphere.
        radius, middle = sphere(front)
        from_middle = at - middle
        along = dot(way, from_middle)
        root = along * along - dot(from_middle, from_middle) + radius * radius
        places = at + (np.sqrt(np.maximum(root, 0.0)) - along)[..., None] * way
        inward = (middle - places) / radius
        normal = inward if is_hollow(front) else -inward
        return places, weight * radiance_share(front, places, normal, -way)


@dataclass(frozen=True, slots=True)
class Bulge:
    """The outside of a cap or ball: rings about the direction from its middle to m stations.

    Whole rings, or those that the rim of the cap cuts.
    """

    spots: Stations
    cut: bool  # whether the rim cuts the rings
    toward: Floats  # (m, 3) unit, from the sphere's middle to the station
    aside: Floats  # (m, 3) unit, at right angles to it, towards the pole of the cap
    first: Floats  # (m,) angle between `toward` and the first ring [rad]
    last: Floats  # (m,) the last one: where the sphere turns away, or the cap ends
    lean: Floats  # (m,) angle between `toward` and the pole [rad]
    most: Floats  # (m,) angle between the pole and the cap's rim [rad]

    def pick(self, which: Picks) -> Bulge:
        """The stations of an index or mask (m,)."""
        arrays = [getattr(self, field.name)[which] for field in fields(self)[2:]]
        return Bulge(self.spots.pick(which), self.cut, *arrays)

    @property
    def there(self) -> NDArray[np.bool_]:
        """Which stations (m,) see anything of it."""
        return self.last > self.first

    @property
    def pieces(self) -> int:
        """How many equal stretches of v are worth their own nodes."""
        return len(QUARTERS)

    def lay(self, u: Floats, v: Floats) -> tuple[Floats, Floats]:
        """Places (m, k, 3) [m], local axes, and reading per L0 and du dv (m, k), for u, v.

        u, v : (k,) or (m, k) float  0 ... 1, from the nearest ring outwards and around
        """
        front = self.spots.front
        radius, middle = sphere(front)
        span = (self.last - self.first)[:, None]
        if self.cut:  # smooth the roots with which cut rings begin and end
            u, slope = 0.5 * (1 - np.cos(math.pi * u)), 0.5 * math.pi * np.sin(math.pi * u)
        else:
            slope = np.ones_like(u)
        ring, per_u = self.first[:, None] + span * u, span * slope
        half = self._half_turn(ring)
        turn = half * (2 * v - 1)
        sine = np.sin(ring)
        mixed = np.stack([np.cos(ring), sine * np.cos(turn), sine * np.sin(turn)], -1)
        across = np.cross(self.toward, self.aside)
        outward = mixed @ np.stack([self.toward, self.aside, across], 1)
        places = middle + radius * outward
        way = self.spots.at[:, None, :] - places
        distance = np.sqrt(dot(way, way))
        way = way / distance[..., None]
        area = radius * radius * sine * per_u * 2 * half
        lean = np.maximum(dot(outward, way), 0.0)
        cosine = -dot(way, self.spots.axis[:, None, :])
        normal = -outward if is_hollow(front) else outward
        bright = radiance_share(front, places, normal, way) * respond(self.spots.receptor, cosine)
        return places, bright * lean * area / distance**2

    def _half_turn(self, ring: Floats) -> Floats:
        """Half of the part (m, k) [rad] of rings (m, k) [rad] that belongs to the cap."""
        if not self.cut:
            return np.full(ring.shape, math.pi)
        lean, most = self.lean[:, None], self.most[:, None]
        sides = np.maximum(np.sin(ring) * np.sin(lean), LEAST)
        cosine = (np.cos(most) - np.cos(ring) * np.cos(lean)) / sides
        half: Floats = np.arccos(np.clip(cosine, -1.0, 1.0))
        return half


def bowls(spots: Stations) -> list[Hollow | Bulge]:
    """The sides of a cap that shine, or the ball."""
    front = spots.front
    if isinstance(front.shape, Ball):
        return [_whole_rings(spots, np.full(len(spots.at), math.pi))]
    ahead, behind = side_shares(front)
    inside, outside = (ahead, behind) if is_hollow(front) else (behind, ahead)
    found: list[Hollow | Bulge] = []
    if inside > 0:
        found.append(Hollow(spots, _opening(spots)))
    if outside > 0:
        most = np.full(len(spots.at), _rim_angle(front))
        found += [_whole_rings(spots, most), _cut_rings(spots, most)]
    return found


def _rim_angle(front: Front) -> float:
    """Angle between the pole of a cap and its rim, seen from the sphere's middle [rad]."""
    assert isinstance(front.shape, Cap)
    return math.acos(1 - front.shape.depth_m / sphere(front)[0])


def _opening(spots: Stations) -> Rays:
    """Rays across the opening of a cap, in axes of its rim; mirrored where it looks back."""
    front, m = spots.front, len(spots.at)
    flip = np.array([1.0, 1.0, 1.0 if is_hollow(front) else -1.0])
    before = before_rim(front, spots.at)
    at = np.c_[spots.at[:, :2], before]
    circles = np.broadcast_to(np.array([[0.0, 0.0, 0.5 * front.width_m]]), (m, 1, 3))
    none, endless = np.zeros((m, 0, 3)), np.full(m, np.inf)
    middle = start_within(at, np.zeros((m, 2)), circles, none)
    turns = turns_through(middle, np.zeros((m, 0, 2)), QUARTERS)
    axis = spots.axis * flip
    return Rays(spots.receptor, at, axis, middle, circles, none, none, endless, turns, before > 0)


def _toward(spots: Stations) -> tuple[Floats, Floats, Floats, Floats]:
    """Unit (m, 3) to the stations, towards the pole aside from it, both angles (m,) [rad].

    The angles are those between station and pole, and to where the sphere turns away.
    """
    radius, middle = sphere(spots.front)
    way = spots.at - middle
    distance = np.linalg.norm(way, axis=1)
    toward = way / distance[:, None]
    pole = np.array([0.0, 0.0, -1.0 if is_hollow(spots.front) else 1.0])
    cosine = toward @ pole
    aside = pole - cosine[:, None] * toward
    straight = np.linalg.norm(aside, axis=1, keepdims=True) < LEAST
    aside = _unit(np.where(straight, [1.0, 0.0, 0.0], aside))
    horizon = np.arccos(np.minimum(radius / distance, 1.0))
    return toward, aside, np.arccos(np.clip(cosine, -1.0, 1.0)), horizon


def _whole_rings(spots: Stations, most: Floats) -> Bulge:
    """Rings about the nearest place, as far as they lie wholly on the cloth."""
    toward, aside, lean, horizon = _toward(spots)
    ball = isinstance(spots.front.shape, Ball)
    last = horizon if ball else np.clip(most - lean, 0.0, horizon)
    return Bulge(spots, False, toward, aside, 0 * last, last, lean, most)


def _cut_rings(spots: Stations, most: Floats) -> Bulge:
    """Rings that the rim cuts."""
    toward, aside, lean, horizon = _toward(spots)
    first = np.minimum(np.abs(most - lean), horizon)
    last = np.maximum(np.minimum(horizon, most + lean), first)
    return Bulge(spots, True, toward, aside, first, last, lean, most)


def dot(a: Floats, b: Floats) -> Floats:
    """Scalar products (...) of vectors (..., 3); much faster than a sum over so short an axis."""
    product: Floats = np.einsum("...i,...i->...", a, b)
    return product


def _unit(vectors: Floats) -> Floats:
    unit: Floats = vectors / np.sqrt(dot(vectors, vectors))[..., None]
    return unit
