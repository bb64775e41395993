"""Lines that age draws: brow, frown, crow's feet, smile folds, lips, neck, as grooves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Rng, smoothstep
from render.sitter.skin.canvas import EYE_LINE_V, MAP_HEIGHT_MM, MAP_WIDTH_MM

# Paths are on the reference head's map: mm to the sitter's left of the middle, mm above the eyes.
# Places, depths at the highest age and widths were set by eye; depths are within what skin
# replicas show (fine lines 0.05 to 0.2 mm, folds up to about 1 mm; from memory).
_Path = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Crease:
    """One groove: its path [mm], depth at age 1 [mm], width [mm], age at which it begins."""

    path: _Path
    depth_mm: float
    width_mm: float
    from_age: float = 0.35
    sided: bool = True  # drawn on both sides of the face


def _rays() -> Iterator[Crease]:
    for angle, length in ((42, 13), (20, 19), (-3, 21), (-26, 18)):
        turn = np.radians(angle)
        reach = [5.0, 0.6 * length, float(length)]
        bend = [0.0, -0.6, -2.6]  # the rays sag outwards
        path = tuple(
            (float(43 + r * np.cos(turn)), float(-1 + r * np.sin(turn) + b))
            for r, b in zip(reach, bend, strict=True)
        )
        yield Crease(path, 0.23, 0.75, 0.30)


def _lip_lines() -> Iterator[Crease]:
    for x in (2.5, 6.0, 9.5, 13.5, 17.5):
        yield Crease(((x, -50.5), (1.08 * x, -57.0)), 0.14, 0.55, 0.55)
        yield Crease(((x, -77.0), (1.05 * x, -82.0)), 0.10, 0.55, 0.60)


def _brow_lines() -> Iterator[Crease]:
    for height, reach, depth in ((29, 34, 0.20), (37, 42, 0.28), (45, 43, 0.26), (53, 36, 0.19)):
        bow = (0.0, 1.6, 2.6, 1.4, -2.0)
        path = [(reach * t, height + b) for t, b in zip((0, 0.25, 0.5, 0.75, 1), bow, strict=True)]
        mirrored = [(-x, y) for x, y in reversed(path[1:])]
        yield Crease((*mirrored, *path), depth, 0.95, 0.25, sided=False)


CREASES = (
    *_brow_lines(),
    *_rays(),
    *_lip_lines(),
    Crease(((5.5, 7), (6.0, 14), (4.5, 23)), 0.24, 1.0, 0.35),  # frown
    Crease(((13, -9), (20, -14.5), (30, -15.5), (39, -10)), 0.18, 0.9, 0.30),  # under the eye
    Crease(((15, -15), (24, -22), (35, -22)), 0.24, 1.5, 0.40),  # foot of the tear bag
    Crease(((17, -34), (23.5, -45), (28.5, -57), (31, -69)), 0.55, 1.9, 0.15),  # smile fold
    Crease(((26, -69), (28.5, -78), (29.5, -89)), 0.30, 1.6, 0.40),  # from the mouth down
    Crease(((-11, -83), (0, -81.5), (11, -83)), 0.22, 1.6, 0.30, sided=False),  # over the chin
    Crease(((44, -30), (49, -44), (50, -58)), 0.17, 1.0, 0.65),  # cheek
    Crease(((51, -26), (57, -42), (58, -60)), 0.17, 1.0, 0.70),
    Crease(((-70, -116), (-30, -124), (0, -126), (32, -123), (72, -115)), 0.34, 1.6, 0.20, False),
    Crease(((-66, -134), (-25, -141), (0, -142), (28, -140), (64, -133)), 0.34, 1.6, 0.35, False),
)
_STEP_MM = 2.5  # paths are bent by chance at this spacing
_WANDER_MM = 0.55
_COMPANION_SHARE, _COMPANION_MM = (0.25, 0.55), 2.4


def press_creases(height_m: Array, age: float, rng: Rng) -> None:
    """Press the lines of this age (0..1) into a relief map (h, w) [m]."""
    for crease in CREASES:
        grown = float(smoothstep(crease.from_age, 1.05, age))
        for side in (1, -1) if crease.sided else (1,):
            # Both sides and every line differ; drawn even when unseen, so that age only deepens.
            depth = crease.depth_mm * rng.uniform(0.65, 1.15)
            path = _wandering(np.array(crease.path) * (side, 1), rng)
            for share, beside in ((1.0, np.zeros(2)), _companion(rng)):
                part = path if share == 1.0 else _piece(path, rng)
                strength = 1e-3 * share * depth * grown * _strength(len(part), rng)
                if grown > 0.01:
                    _press(height_m, part + beside, strength, crease.width_mm)


def _companion(rng: Rng) -> tuple[float, Array]:
    """A fainter line that runs beside each: its share of the depth, its offset (2,) [mm]."""
    share = float(rng.uniform(*_COMPANION_SHARE))
    return share, rng.choice([-1.0, 1.0], 2) * rng.uniform(0.8, _COMPANION_MM, 2)


def _piece(path: Array, rng: Rng) -> Array:
    start = int(rng.integers(0, max(1, len(path) // 2)))
    return path[start : start + max(3, int(len(path) * rng.uniform(0.45, 0.8)))]


def _wandering(path: Array, rng: Rng) -> Array:
    """The path (n, 2) with closer points, bent a little by chance."""
    steps = np.r_[0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    count = max(4, int(steps[-1] / _STEP_MM))
    along = np.linspace(0, steps[-1], count)
    fine = np.stack([np.interp(along, steps, path[:, k]) for k in (0, 1)], 1)
    fine[1:-1] = 0.25 * fine[:-2] + 0.5 * fine[1:-1] + 0.25 * fine[2:]
    walk = np.cumsum(rng.normal(0, 0.4 * _WANDER_MM, (count, 2)), 0)
    trend = np.linspace(0, 1, count)[:, None] * walk[-1]
    return np.asarray(fine + (walk - trend) + rng.normal(0, _WANDER_MM, 2))


def _strength(count: int, rng: Rng) -> Array:
    """Depth along a line: it fades at both ends and is nowhere even."""
    ends = np.sin(np.pi * np.linspace(0.03, 0.97, count)) ** 0.6
    uneven = np.convolve(rng.uniform(0.35, 1.25, count + 2), [0.25, 0.5, 0.25], "valid")
    return np.asarray(ends * uneven)


def _press(height_m: Array, path: Array, depth_m: Array, width_mm: float) -> None:
    rows, columns = height_m.shape
    texel = np.array([MAP_WIDTH_MM / columns, MAP_HEIGHT_MM / rows])
    width = max(width_mm, 1.3 * float(texel[0]))
    # Paths in texels: column to the right, row downwards.
    column = path[:, 0] / texel[0] + 0.5 * columns - 0.5
    row = (1 - EYE_LINE_V) * rows - path[:, 1] / texel[1] - 0.5
    margin = 3.5 * width / texel
    left, top = (int(max(0, v.min() - m)) for v, m in ((column, margin[0]), (row, margin[1])))
    right, foot = int(column.max() + margin[0]) + 2, int(row.max() + margin[1]) + 2
    part = height_m[top:foot, left:right]
    y, x = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]].astype(np.float32)
    best = np.full(part.shape, np.inf, np.float32)
    depth = np.zeros(part.shape, np.float32)
    for i in range(len(column) - 1):
        dx, dy = column[i + 1] - column[i], row[i + 1] - row[i]
        t = ((x - column[i]) * dx + (y - row[i]) * dy) / max(dx * dx + dy * dy, 1e-9)
        t = np.clip(t, 0, 1)
        far = np.hypot(x - column[i] - t * dx, y - row[i] - t * dy)
        nearer = far < best
        best[nearer] = far[nearer]
        depth[nearer] = (depth_m[i] + t * (depth_m[i + 1] - depth_m[i]))[nearer]
    off = best * texel[0] / width
    # The skin that is pressed out of the groove stands up beside it.
    part += depth * (0.22 * np.exp(-((off - 2.0) ** 2)) - np.exp(-(off**2)))
