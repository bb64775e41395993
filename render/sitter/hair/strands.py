"""How strands grow over the skin, and how they are cut and cleaned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Mask, dot, length, smoothstep, unit
from render.sitter.hair.roots import Outside

Field = Callable[[Array, Array, float], Array]  # points, surface normals, share grown -> heading
Clearance = Callable[[float], Array]  # share grown -> wanted height over the skin (n,)
_ROOT_DEPTH = 0.012  # [dm] that a strand starts below the skin, so that no gap shows
HAIR_CLEAR_DM = 0.006  # hair keeps this far off skin and cloth
_MOST_LEAN = 0.5  # of a strand's length sideways, each time
MIN_SEGMENT = 2e-4  # [dm] shorter pieces are useless and upset curve intersection


@dataclass(frozen=True, slots=True, eq=False)
class Comb:
    """What shapes a strand while it grows."""

    field: Field
    clearance: Clearance
    stiffness: float  # share of the wanted heading that each step takes on
    hold: float  # how strongly strands are drawn to their wanted height over the skin
    wander: Array  # (n, 3) personal bias of every strand's heading
    loose_below: float = -1e3  # height [dm] under which hair hangs free of the skin's pull


def grow(
    outside: Outside, start: tuple[Array, Array, Array], length: Array, steps: int, comb: Comb
) -> Array:
    """Strands (n, steps + 2, 3): buried root, root, then `steps` points.

    start  : roots, surface normals and first headings, each (n, 3)
    length : (n,) [dm]
    """
    here, root_normal, heading = start[0].copy(), start[1], unit(start[2])
    # Hair leaves the skin aslant: a root straight down would be smoothed away as a cusp.
    points = [here - unit(root_normal + heading) * _ROOT_DEPTH, here.copy()]
    step = (length / steps)[:, None]
    height, normal = outside(here)
    for k in range(steps):
        share = (k + 1) / steps
        wanted = comb.clearance(share)
        close = smoothstep(0.6, 0.1, height - wanted)
        close = close * smoothstep(comb.loose_below - 0.2, comb.loose_below + 0.2, here[:, 1])
        pull = np.clip(comb.hold * np.clip(height - wanted, -1, 1) / 0.1, -0.6, 0.6) * close
        target = comb.field(here, normal, share) - normal * pull[:, None]
        wanted_heading = unit(unit(target) + comb.wander)
        heading = unit(heading * (1 - comb.stiffness) + wanted_heading * comb.stiffness)
        here = here + heading * step
        height, normal = outside(here)
        lack = np.maximum(wanted - height, 0)
        here = here + normal * (lack * np.where(height < 0.02, 1.0, 0.35))[:, None]
        into = np.minimum((heading * normal).sum(1, keepdims=True), 0)
        heading = unit(np.where((lack > 0)[:, None], heading - into * normal, heading))
        points.append(here.copy())
    return np.stack(points, 1)


def resampled(strands: Array, end: Array, points: int, crowd: float = 1.0) -> Array:
    """Strands (n, points, 3) cut at point number `end` (n,); the buried root stays.

    crowd : above 1, points lie closer near the root, where strands follow the skull's curve
    """
    n, k, _ = strands.shape
    u = np.linspace(0, 1, points - 1)[None] ** crowd * (end - 1)[:, None] + 1
    i = np.minimum(u.astype(int), k - 2)
    f = (u - i)[..., None]
    row = np.arange(n)[:, None]
    body = strands[row, i] * (1 - f) + strands[row, i + 1] * f
    return np.concatenate([strands[:, :1], body], 1)


def cut_at(strands: Array, height: Array, points: int, crowd: float = 1.5) -> Array:
    """Strands cut where they first fall below a height (n,) [dm]."""
    y = strands[..., 1]
    below = y < height[:, None]
    below[:, :3] = False
    last = strands.shape[1] - 1
    end = np.full(len(strands), float(last))
    i = np.flatnonzero(below.any(1))
    first = below[i].argmax(1)
    upper, lower = y[i, first - 1], y[i, first]
    end[i] = first - 1 + np.clip((upper - height[i]) / np.maximum(upper - lower, 1e-6), 0, 1)
    return resampled(strands, end, points, crowd)


def pushed_out(outside: Outside, strands: Array, height: float, first: int = 2) -> Array:
    """Strands whose points from number `first` on keep this height [dm] over the skin."""
    out = strands.copy()
    q = out[:, first:].reshape(-1, 3)
    close = np.flatnonzero(outside.near(q, height))
    for _ in range(4):
        h, normal = outside(q[close])
        low = h < height - 1e-4
        close = close[low]
        if len(close) == 0:
            break
        q[close] += normal[low] * (height - h[low])[:, None]
    out[:, first:] = q.reshape(out[:, first:].shape)
    return out


def leant_out(outside: Outside, strands: Array, height: float) -> Array:
    """Straight short strands leant over their root until their outer half clears the skin."""
    out = strands.copy()
    middle = out.shape[1] // 2
    run = np.linalg.norm(np.diff(out[:, 1:], axis=1), axis=2).cumsum(1)
    run = np.concatenate([np.zeros((len(out), 1)), run], 1)
    row = np.arange(len(out))
    for _ in range(3):
        q = out[:, middle:]
        h, normal = outside(q.reshape(-1, 3))
        lack = np.maximum(height - h.reshape(q.shape[:2]), 0) / run[:, middle - 1 :]
        lack = np.minimum(lack, _MOST_LEAN)
        worst = lack.argmax(1)
        lean = normal.reshape(q.shape)[row, worst] * lack[row, worst, None]
        out[:, 1:] += lean[:, None] * run[..., None]
    buried = np.linalg.norm(strands[:, 1] - strands[:, 0], axis=1, keepdims=True)
    out[:, 0] = out[:, 1] - unit(out[:, 2] - out[:, 1]) * buried
    return out


def cusped(strands: Array) -> Mask:
    """Strands (n,) that somewhere turn by more than a right angle."""
    pieces = np.diff(strands, axis=1)
    return np.asarray((dot(pieces[:, 1:], pieces[:, :-1]) < 0).any(1))


def taut(outside: Outside, strands: Array, rounds: int, height: float) -> Array:
    """Strands pulled straight by their weight: they bridge hollows and rest on what stands out."""
    out = strands.copy()
    for k in range(rounds):
        out[:, 3:-1] = 0.5 * out[:, 3:-1] + 0.25 * (out[:, 2:-2] + out[:, 4:])
        if k % 7 == 6:
            out = pushed_out(outside, out, height)
    return out


def smoothed(strands: Array, radii: Array, tightest: float = 0.30) -> tuple[Array, Mask]:
    """Strands without cusps and a mask (n,) of those good enough to keep.

    tightest : largest allowed curvature times radius; tight cusps upset curve intersection.
    """
    out = strands.copy()
    out[:, 2:-1] = 0.5 * out[:, 2:-1] + 0.25 * (out[:, 1:-2] + out[:, 3:])
    sharp = _sharp(out, radii, tightest)
    for _ in range(40):
        if not sharp.any():
            break
        q = out[sharp]
        q[:, 2:-1] = 0.34 * q[:, 2:-1] + 0.33 * (q[:, 1:-2] + q[:, 3:])
        out[sharp] = q
        sharp = _sharp(out, radii, tightest)
    shortest = length(np.diff(out, axis=1)).min(1)
    return out, ~sharp & (shortest > MIN_SEGMENT) & np.isfinite(out).all((1, 2))


def _sharp(strands: Array, radii: Array, tightest: float) -> Mask:
    a, b = strands[:, 1:-1] - strands[:, :-2], strands[:, 2:] - strands[:, 1:-1]
    la, lb = length(a), length(b)
    cosine = dot(a, b) / np.maximum(la * lb, 1e-12)
    chord = 2 * np.sqrt(np.clip((1 - cosine) / 2, 0, 1))
    bend = chord / np.maximum(np.minimum(la, lb), 1e-9) * radii[:, 1:-1]
    return np.asarray(((bend > tightest) | (cosine < 0.2)).any(1))
