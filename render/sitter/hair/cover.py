"""Hair under a hat or a scarf: pressed down where it would come through the cloth."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from render.sitter.arrays import Array, unit

# Signed height [dm] of points (k, 3) over the inner side of the cover: negative under it, and
# -inf where there is no cover overhead (below its rim).
Covered = Callable[[Array], Array]
_STEP = 0.01  # [dm] for the slope of the height
_MARGIN = 0.006  # [dm] that hair stays under the cloth
_ROUNDS = 4


def under_cover(strands: Array, radii: Array, covered: Covered) -> tuple[Array, Array]:
    """Strands (n, k, 3) and radii (n, k) [dm] that stay under a cover.

    Points above the cover's inner side are pressed under it; strands that still come through it
    are left out.
    """
    out, first = strands.copy(), 2  # the root and the point below it stay
    q = out[:, first:].reshape(-1, 3)
    for _ in range(_ROUNDS):
        height = covered(q)
        high = np.flatnonzero(height > -_MARGIN)
        if len(high) == 0:
            break
        q[high] -= _outward(q[high], covered) * (height[high] + _MARGIN)[:, None]
    out[:, first:] = q.reshape(out[:, first:].shape)
    good = (covered(out.reshape(-1, 3)).reshape(out.shape[:2])[:, 1:] <= 0).all(1)
    return out[good], radii[good]


def _outward(q: Array, covered: Covered) -> Array:
    """Unit direction (k, 3) in which the height grows fastest."""
    slope = np.zeros_like(q)
    for axis in range(3):
        shift = np.zeros(3)
        shift[axis] = _STEP
        rise = covered(q + shift) - covered(q - shift)
        slope[:, axis] = np.where(np.isfinite(rise), rise, 0.0)
    return unit(slope)
