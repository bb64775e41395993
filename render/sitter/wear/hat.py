"""A felt hat with a brim, fitted to the sitter's head above the ears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from render.sitter.arrays import Array, bell, smoothstep
from render.sitter.body import Cloth, Surface
from render.sitter.wear.ribbon import grid_surface
from render.sitter.wear.weaves import Colour, felt

# Lengths in decimetres from the midpoint of the eyes; brim 60 mm, crown 110 mm: usual for a
# soft felt hat, from memory.
_FRONT, _BACK = (0.58, 0.20), (0.16, -1.60)  # height and depth of the band before and behind
_EASE = 0.07  # room for hair under the crown
_WALL, _TOP_CLEAR = 0.025, 0.22  # felt; least air between skull and dented crown
_BRIM, _RIBBON = 0.60, 0.26
_DENT, _PINCH = 0.13, 0.16
_ROUND = 160


@dataclass(frozen=True, slots=True, eq=False)
class Hat:
    """The hat's own frame and the room inside it [dm]."""

    middle: Array  # (3,) centre of the band
    axes: Array  # (3, 3) rows: to the sitter's left, up out of the band, forward
    reach: Array  # (k,) inner radius of the band by azimuth, first at the back
    tall: float  # inner height over the band

    def inner(self, turn: Array, height: Array) -> Array:
        """Inner radius at azimuths [rad] and heights over the band."""
        angle = np.linspace(-np.pi, np.pi, _ROUND, endpoint=False)
        radius = np.interp(turn, angle, self.reach, period=2 * np.pi)
        return np.asarray(radius * (1 - 0.10 * np.clip(height / self.tall, 0, 1)))

    def own(self, points: Array) -> Array:
        """Points (n, 3) in the hat's frame: sideways, over the band, forward."""
        return np.asarray((points - self.middle) @ self.axes.T)

    def covered(self, points: Array) -> Array:
        """Height (n,) over the inner side of crown and brim; -inf where neither is overhead."""
        x, y, z = self.own(points).T
        turn, radius = np.arctan2(x, z), np.hypot(x, z)
        aside = radius - self.inner(turn, y)
        over = np.maximum(aside, y - (self.tall - _DENT - _WALL))
        out = (radius - self.inner(turn, 0 * y) - _WALL) / _BRIM
        below = y - (_brim_rise(turn, np.clip(out, 0, 1)) - 0.04)
        under = np.where(y < -0.02, -np.inf, over)
        return np.where((aside > 0) & (out < 1.05), np.minimum(over, below), under)


def _brim_rise(turn: Array, out: Array) -> Array:
    """Height of the brim at azimuths and shares of its width: down before and behind, up aside."""
    dip = -0.10 * np.cos(turn) ** 2 + 0.12 * np.sin(turn) ** 2 + 0.015 * np.sin(3 * turn + 1)
    return np.asarray(0.02 + dip * out**1.5)


def hat_for(vertices: Array, eye: Array) -> Hat:
    """A hat that fits a head of these skin vertices (n, 3) [dm] with its eyes at (3,)."""
    front, back = np.array([0.0, *_FRONT]), np.array([0.0, *_BACK])
    forward = (front - back) / np.linalg.norm(front - back)
    side = np.array([1.0, 0.0, 0.0])
    axes = np.stack([side, np.cross(forward, side), forward])
    head = vertices[vertices[:, 1] > eye[1] - 0.3]
    own = (head - eye - 0.5 * (front + back)) @ axes.T
    ring = own[(own[:, 1] > -0.02) & (own[:, 1] < 0.40)]
    centre = 0.5 * (ring[:, 2].min() + ring[:, 2].max())
    middle = eye + 0.5 * (front + back) + centre * forward
    flat = ring[:, [0, 2]] - np.array([0.0, centre])
    turn = np.linspace(-np.pi, np.pi, _ROUND, endpoint=False)
    ray = np.stack([np.sin(turn), np.cos(turn)], 1)
    support = (flat @ ray.T).max(0)
    facing = ray @ ray.T
    reach = (support[None] / np.where(facing > 0.2, facing, 1e-3)).min(1)
    reach = gaussian_filter1d(reach, 3, mode="wrap") + _EASE
    return Hat(middle, axes, reach, float(own[:, 1].max()) + _TOP_CLEAR + _DENT)


def hat(shape: Hat, colour: Colour) -> tuple[Surface, ...]:
    """Outside, lining and ribbon on the unturned head [dm]."""
    tall = shape.tall + _WALL
    turn = np.linspace(-np.pi, np.pi, _ROUND, endpoint=False)[:, None]
    brim = np.linspace(1, 0, 14)[None]
    wall = np.linspace(0, 1, 18)[None]
    lid = np.linspace(0, 1, 22)[None]
    band = shape.inner(turn, np.zeros_like(turn)) + _WALL
    flat = band + _BRIM * brim, _brim_rise(turn, brim)
    rounded = 0.22
    up = (tall - rounded) * wall
    side = shape.inner(turn, up) + _WALL, up + 0 * band
    arc = np.clip(lid / 0.35, 0, 1) * np.pi / 2
    last = shape.inner(turn, np.full_like(turn, tall)) + _WALL
    over = np.where(
        lid < 0.35, last - rounded * (1 - np.cos(arc)), (last - rounded) * (1 - lid) / 0.65
    )
    cap = over, tall - rounded + rounded * np.sin(arc) + 0 * band
    radius, height = (np.concatenate(k, 1) for k in zip(flat, side, cap, strict=True))
    outside = _creased(_placed(radius, height, turn), tall)
    weave = felt(colour)
    inner_r = np.concatenate([shape.inner(turn, up[:, ::-1]), flat[0][:, ::-1]], 1)
    inner_h = np.concatenate([up[:, ::-1] + 0 * band, (flat[1] - 0.02 * (1 - brim**8))[:, ::-1]], 1)
    lining = _creased(_placed(inner_r, inner_h, turn), tall, 0.0)
    tape = np.linspace(0.02, _RIBBON, 8)[None] + 0 * band
    bulge = 0.012 * np.sin(np.linspace(0.1, np.pi - 0.1, 8))[None] ** 0.3
    ribbon = _creased(_placed(shape.inner(turn, tape) + _WALL + bulge, tape, turn), tall)
    dark: Colour = (0.35 * colour[0], 0.35 * colour[1], 0.35 * colour[2])
    out = shape.axes.T @ np.array([0.0, 1.0, 0.0])
    sideways = np.concatenate([np.sin(turn), 0 * turn, np.cos(turn)], 1) @ shape.axes
    grids = (
        ("hat", outside, weave, np.tile(out, (_ROUND, 1))),
        ("hat_lining", lining, weave, -sideways),
        ("hat_ribbon", ribbon, _tape(dark), sideways),
    )
    return tuple(
        grid_surface(name, grid @ shape.axes + shape.middle, True, cloth, facing)
        for name, grid, cloth, facing in grids
    )


def _tape(colour: Colour) -> Cloth:
    """Grosgrain: fine ribs across the ribbon."""
    v = np.tile(np.sin(np.linspace(0, 2 * np.pi, 16, endpoint=False)), (4, 1))
    return Cloth(colour, 0.5, 0.2, (0.4e-4 * v).astype(np.float32), 100.0)


def _placed(radius: Array, height: Array, turn: Array) -> Array:
    radius, height = np.broadcast_arrays(radius, height)
    return np.stack([radius * np.sin(turn), height, radius * np.cos(turn)], -1)


def _creased(points: Array, tall: float, dent: float = _DENT) -> Array:
    """Centre dent and front pinch of a soft crown, in the hat's frame (..., 3)."""
    x, y, z = np.moveaxis(points, -1, 0)
    high = smoothstep(0.35 * tall, 0.95 * tall, y)
    sunk = y - dent * high * bell(x, 0.0, 0.24) * smoothstep(-1.0, -0.3, z)
    pinch = 1 - _PINCH * high * bell(z, 0.75, 0.35) * (dent > 0)
    return np.stack([x * pinch, sunk, z], -1)
