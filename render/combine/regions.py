"""Where an element shows: polygons or free-hand lines with a soft edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.interpolate import CubicSpline
from scipy.ndimage import distance_transform_edt

from render.combine.colour import Pixels
from render.combine.recipe import Region

CURVE_POINTS = 24  # drawn between two points of a smooth line
LEAST_FEATHER_PX = 1.0


def shown(regions: Sequence[Region], size: tuple[int, int]) -> Pixels | None:
    """Weight (H, W) of all regions together in a look of a size [px]; None without any."""
    weights = [_weight(region, size) for region in regions]
    if not weights:
        return None
    return np.asarray(np.prod(weights, axis=0), np.float32)


def outline(region: Region) -> NDArray[np.float64]:
    """The closed line (n, 2) of a region in shares of the look."""
    points = np.array(region.points)
    if region.line == "straight":
        return points
    keep = np.linalg.norm(points - np.roll(points, 1, 0), axis=1) > 0
    points = points[keep] if keep.sum() >= 3 else points
    closed = np.vstack([points, points[:1]])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    if not (np.diff(along) > 0).all():
        return points
    spline = CubicSpline(along, closed, bc_type="periodic")
    line: NDArray[np.float64] = spline(np.linspace(0, along[-1], CURVE_POINTS * len(points) + 1))
    return line[:-1]


def _weight(region: Region, size: tuple[int, int]) -> Pixels:
    """1 on the kept side, 0 on the other, half on the line, smooth over the feather."""
    page = Image.new("1", size)
    line = [(float(x), float(y)) for x, y in outline(region) * size - 0.5]
    ImageDraw.Draw(page).polygon(line, fill=1)
    inside = np.asarray(page)
    if region.keep == "outside":
        inside = ~inside
    if inside.all() or not inside.any():
        return inside.astype(np.float32)
    # Distance to the line, half a pixel off the nearest pixel beyond it.
    far = distance_transform_edt(inside) - distance_transform_edt(~inside)
    far -= 0.5 * np.sign(far)
    wide = max(LEAST_FEATHER_PX, region.feather * size[0])
    t = np.clip(far / wide + 0.5, 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)
