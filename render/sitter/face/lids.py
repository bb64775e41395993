"""Lids: the skin round an eye follows the eye up and down and swells over the cornea."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from render.sitter.arrays import Array, smoothstep
from render.sitter.body import Follower, Lids
from render.sitter.face.eyes import CORNEA_RADIUS, IRIS_RADIUS, LID_GAP, dome_depth

if TYPE_CHECKING:  # a kept body turns its eyes without what makes bodies
    from render.sitter.shape.bust import Bust
    from render.sitter.shape.head_data import HeadData

# Share of the eye's vertical turn that the lids make. A healthy upper lid keeps to the iris when
# the eye looks down (white above it is a medical sign) and the lower lid gives a little: common
# observation, no source for the figures.
UPPER_GAIN = (0.80, 0.62)  # looking down, looking up
LOWER_GAIN = (0.42, 0.22)
# How far from the rim the skin is drawn along [deg of height seen from the eye's centre]; by eye.
_UPPER_SPAN, _LOWER_SPAN = 52.0, 46.0
_REACH = (1.45, 2.0)  # ball radii from the eye's centre between which the skin comes to rest
_CORNER = 0.6  # exponent of the lid's arch: corners stay where they are
_SWELL_DM = 0.05  # skin this far outside the ball no longer feels the cornea; set by eye


def rim_of(head: HeadData, bust: Bust, vertices: Array, side: str) -> Array:
    """The lids' rim on the bust (columns, 2, 3): from the inner corner over the upper lid round."""
    rows = np.searchsorted(np.unique(head.quads), head.lids[side])
    return np.asarray(vertices[rows])


def outer_corner(rim: Array) -> int:
    """Column of the rim's outer corner."""
    return int(np.abs(rim[:, 0, 0]).argmax())


@dataclass(frozen=True, slots=True, eq=False)
class LidField:
    """How far any point round one eye goes with the upper and with the lower lid."""

    centre: Array  # (3,) [dm]
    radius: float  # of the ball [dm]
    yaw: tuple[float, float]  # of the corners [rad], seen from the centre
    upper: Array  # (n, 2) yaw and height [rad] of the upper rim, by yaw
    lower: Array

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Share (n,) of the upper and of the lower lid's turn that points (n, 3) make."""
        yaw, height, away = _angles(points - self.centre)
        rest = smoothstep(_REACH[1], _REACH[0], away / self.radius) * (np.abs(yaw) < np.pi / 2)
        s = np.clip((yaw - self.yaw[0]) / (self.yaw[1] - self.yaw[0]), 0, 1)
        arch = np.sin(np.pi * s) ** _CORNER * rest
        up = np.interp(yaw, *self.upper.T)
        low = np.interp(yaw, *self.lower.T)
        middle = 0.5 * (up + low)
        above = smoothstep(up + np.radians(_UPPER_SPAN), up, height) * (height > middle)
        below = smoothstep(low - np.radians(_LOWER_SPAN), low, height) * (height <= middle)
        return arch * above, arch * below


def lid_field(rim: Array, centre: Array, radius: float) -> LidField:
    """The field of one eye from its open rim (columns, 2, 3) [dm]."""
    corner = outer_corner(rim)
    yaw, height, _ = _angles(rim.mean(1) - centre)
    ends = sorted((float(yaw[0]), float(yaw[corner])))
    around = np.stack([yaw, height], 1)
    upper, lower = around[: corner + 1], np.concatenate([around[corner:], around[:1]])
    by_yaw = [part[np.argsort(part[:, 0])] for part in (upper, lower)]
    return LidField(centre, radius, (ends[0], ends[1]), by_yaw[0], by_yaw[1])


def _angles(q: Array) -> tuple[Array, Array, Array]:
    """Yaw, height [rad] and distance (n,) of points about an eye's centre."""
    away = np.linalg.norm(q, axis=1)
    return np.arctan2(q[:, 0], q[:, 2]), np.arcsin(q[:, 1] / np.maximum(away, 1e-9)), away


def follower(field: LidField, part: str, points: Array, follows: bool) -> Follower:
    """The points (n, 3) [dm] of one part that the eye moves; lids that stay shut only swell."""
    upper, lower = field.weights(points)
    q = points - field.centre
    away = np.linalg.norm(q, axis=1) - field.radius
    swells = (away < LID_GAP + _SWELL_DM) & (q[:, 2] > 0)
    index = np.flatnonzero((upper + lower > 1e-4) | swells)
    share = 1.0 if follows else 0.0
    kept = [(share * weight[index]).astype(np.float32) for weight in (upper, lower)]
    return Follower(part, index.astype(np.int32), kept[0], kept[1])


def turn_of(pitch: float, upper: Array, lower: Array) -> Array:
    """How far points turn with the lids [rad] when the eye looks up by `pitch` [rad]."""
    up = int(pitch > 0)
    return np.asarray(pitch * (UPPER_GAIN[up] * upper + LOWER_GAIN[up] * lower))


def lid_turned(lids: Lids, points: Array, turn: Array) -> Array:
    """Points (n, 3) [m] turned upwards by `turn` (n,) [rad] about the eye's level axis."""
    q = (points - lids.centre_m) @ lids.frame.astype(float)
    c, s = np.cos(turn), np.sin(turn)
    q = np.stack([q[:, 0], c * q[:, 1] + s * q[:, 2], c * q[:, 2] - s * q[:, 1]], 1)
    return np.asarray(q @ lids.frame.T + lids.centre_m)


def about_eye(lids: Lids, points: Array, turn: Array, gaze: Array) -> Array:
    """Points (n, 3) [m] after the lids' turn (n,) [rad], swollen over the cornea.

    gaze : (3,) unit direction of the eye
    """
    q = lid_turned(lids, points, turn) - lids.centre_m
    away = np.linalg.norm(q, axis=1)
    cosine = (q @ gaze) / np.maximum(away, 1e-9)
    radius = lids.radius_m * 10
    outside = away * 10 - radius - LID_GAP
    felt = np.clip(1 - outside / _SWELL_DM, 0, 1)
    swell = cornea_rise(cosine, radius) * felt * 0.1
    return np.asarray(lids.centre_m + q * (1 + swell / np.maximum(away, 1e-9))[:, None])


def cornea_rise(cosine: Array, radius: float) -> Array:
    """How far the cornea stands out of the ball (n,) [dm], seen at this cosine to the eye's axis.

    radius : of the ball [dm]
    """
    depth = dome_depth(radius)
    sine2 = np.clip(1 - cosine**2, 0, 1)
    inside = np.sqrt(np.maximum(CORNEA_RADIUS**2 - depth**2 * sine2, 0))
    reach = depth * cosine + inside
    is_cornea = (cosine > 0) & (sine2 < (1.15 * IRIS_RADIUS / radius) ** 2)
    return np.where(is_cornea, np.maximum(reach - radius, 0), 0.0)
