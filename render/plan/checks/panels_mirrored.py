"""Panels as a mirror shows them: how bright each is where a ray meets it, by the light it gets."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import cloth, housing, peak_luminance_time
from render.layout.placed import Sheet
from render.layout.sweep import meet
from render.photometry.srgb import luminance
from render.plan.checks.finding import Context
from render.plan.checks.mirrored import luminance_met, reflected
from render.predict import direct_exposure
from render.predict.touch import distances, ray_scene

Floats = NDArray[np.float64]

ACROSS = 4  # places along each side of a panel where its light is read
FACETS = 32  # of silver cloth, in whose directions its light is looked for
LIFT_M = 1e-3
REACHED_M = 2e-3  # a ray that ends so near a panel has met it
GOLDEN = np.pi * (3 - np.sqrt(5))


def panels_met(context: Context, starts: Floats, ways: Floats) -> dict[str, Floats]:
    """Luminance·time (n,) [cd·s/m²] of each panel where rays from (n, 3) [m] along units meet it.

    0 where a ray misses it or meets something before. White gives back evenly what all lights send
    it straight; silver what its facets show (Beckmann's, without their shadows). Not the room's.
    """
    layout = context.layout
    panels = [sheet for sheet in layout.sheets if sheet.kind == "panel"]
    if not panels:
        return {}
    fronts = [solid(front) for front in layout.fronts for solid in (housing, cloth)]
    nearest = distances(context.obstacles.shared, starts, ways)
    nearest = np.minimum(nearest, distances(ray_scene(fronts), starts, ways))
    found: dict[str, Floats] = {}
    for sheet in panels:
        far, _ = meet(sheet, starts, ways)
        met = np.isfinite(far) & (far < nearest + REACHED_M)
        light = np.zeros(len(ways))
        for side in (1.0, -1.0):
            here = met & (side * (ways @ sheet.normal) < 0)
            if here.any():
                at = starts[here] + far[here, None] * ways[here]
                light[here] = _luminance(context, sheet, side, at, ways[here])
        found[sheet.name] = np.maximum(found.get(sheet.name, 0.0), light)
    return found


def _luminance(context: Context, sheet: Sheet, side: float, at: Floats, ways: Floats) -> Floats:
    """Luminance·time (n,) of places (n, 3) of one side of a panel against rays along (n, 3)."""
    front = side > 0
    colour = sheet.reflectance if front else sheet.back_reflectance
    share = float(luminance(np.array(colour)))
    rough = sheet.roughness if front else sheet.back_roughness
    if rough:
        return share * _silver(context, side * sheet.normal, rough, at, ways)
    steps = (np.arange(ACROSS) + 0.5) / ACROSS - 0.5
    x, y = (each.ravel() for each in np.meshgrid(steps, steps))
    normal = side * sheet.normal
    places = sheet.centre_m + LIFT_M * normal
    places = places + np.outer(x * sheet.width_m, sheet.right)
    places = places + np.outer(y * sheet.height_m, sheet.up)
    axes = np.broadcast_to(normal, places.shape)
    read = direct_exposure(context.layout, places, axes, "flat", obstacles=context.obstacles)
    even = share / np.pi * read.luminous_exposure_lx_s.sum(axis=1)
    gap = np.linalg.norm(at[:, None] - places[None], axis=-1)
    shown: Floats = even[np.argmin(gap, axis=1)]
    return shown


def _silver(context: Context, normal: Floats, rough: float, at: Floats, ways: Floats) -> Floats:
    """Mean luminance·time (n,) that facets about a normal show along rays (n, 3)."""
    layout, total = context.layout, np.zeros(len(at))
    across = np.cross(normal, [0.0, 1.0, 0.0] if abs(normal[1]) < 0.9 else [1.0, 0.0, 0.0])
    across /= np.linalg.norm(across)
    beside = np.cross(normal, across)
    starts = at + LIFT_M * normal
    for k in range(FACETS):
        slope = rough * np.sqrt(-np.log1p(-(k + 0.5) / FACETS))
        facet = normal + slope * (np.cos(k * GOLDEN) * across + np.sin(k * GOLDEN) * beside)
        facet = np.broadcast_to(facet / np.linalg.norm(facet), ways.shape)
        shown = reflected(ways, facet)
        out = shown @ normal > 0
        for i, front in enumerate(layout.fronts):
            if front.luminous_energy_lm_s > 0 and out.any():
                met = luminance_met(front, i, context.obstacles, starts[out], shown[out])
                total[out] += peak_luminance_time(front) * met
    return total / FACETS
