"""Readings of the small patches of skin, cloth and paper that a spot meter takes in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Layout, MeterPoint
from render.predict.direct import DirectExposure, direct_exposure
from render.predict.obstacles import Obstacles

Floats = NDArray[np.float64]


def spot_exposure(
    layout: Layout, points: list[MeterPoint], *, obstacles: Obstacles | None = None
) -> DirectExposure:
    """Mean luminous exposure of each point's patch, flat along the patch's own normals.

    This is what a matte surface sends back: its luminance is reflectance / pi times this.

    points    : the places; one without a patch stands for itself, along its normal
    obstacles : as for `direct_exposure`
    returns   : (points, lights) arrays; visible share of the whole patch's reading, and an
                error estimate that takes the errors within a patch as all of one sign
    """
    patches = [_patch(point) for point in points]
    if not patches:
        nothing = np.zeros((0, len(layout.fronts)))
        return DirectExposure(nothing, nothing, nothing, nothing)
    places = np.concatenate([place for place, _ in patches])
    normals = np.concatenate([normal for _, normal in patches])
    each = direct_exposure(layout, places, normals, "flat", obstacles=obstacles, lift=normals)
    firsts = np.cumsum([0, *(len(place) for place, _ in patches[:-1])])
    sizes = np.array([len(place) for place, _ in patches])[:, None]

    def mean(values: Floats) -> Floats:
        averaged: Floats = np.add.reduceat(values, firsts, axis=0) / sizes
        return averaged

    light, clear = mean(each.luminous_exposure_lx_s), mean(each.unobstructed_lx_s)
    with np.errstate(invalid="ignore", divide="ignore"):
        off = each.luminous_exposure_lx_s * (np.exp2(each.error_stops) - 1.0)
        # Places where nothing arrives though a coarser look saw something cannot be weighed.
        error = np.log2(1.0 + mean(np.where(np.isfinite(off), off, 0.0)) / light)
        visible = light / clear
    lost = (light == 0.0) & (mean(each.error_stops) > 0.0)
    error = np.where(light > 0.0, error, np.where(lost, np.inf, 0.0))
    return DirectExposure(light, clear, visible, error)


def _patch(point: MeterPoint) -> tuple[Floats, Floats]:
    """Places (k, 3) [m] and normals (k, 3) of a point, k at least 1."""
    if len(point.patch_m):
        return np.asarray(point.patch_m, float), np.asarray(point.patch_normals, float)
    return np.asarray(point.position_m, float)[None], np.asarray(point.normal, float)[None]
