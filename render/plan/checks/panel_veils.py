"""Panels mirrored in glasses: how much of a lens, and how bright a veil beside the skin behind."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.photometry.srgb import luminance
from render.photometry.stops import stops
from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.mirrored import reflected
from render.plan.checks.panels_mirrored import panels_met
from render.plan.checks.spectacles import Lens, covered
from render.sitter.body import Skin, Surface

Floats = NDArray[np.float64]

LIFT_M = 1e-3
USUAL_SKIN = 0.35  # luminous reflectance of fair skin, for a mesh without skin of its own
MAP_STEP = 16  # pixels of the skin's map between those that are read
VEIL_STOPS = 4.0  # a veil fainter than that under lit skin is lost; common practice, no source


def panel_veils(context: Context, lenses: list[Lens]) -> list[Finding]:
    """One finding for each panel that shows in a lens, its veil against the skin behind."""
    view, body = context.layout.view, context.layout.body
    assert view is not None
    assert body is not None
    most: dict[str, tuple[float, float]] = {}
    for lens in lenses:
        ways = unit(lens.places - view.position_m)
        facing_it = -np.sum(ways * lens.normals, axis=1)
        seen = (facing_it > 0) & context.obstacles.clear_sight(view.position_m, lens.places)
        weight = np.where(seen, lens.area * np.maximum(facing_it, 0.0), 0.0)
        met = panels_met(
            context, lens.places + LIFT_M * lens.normals, reflected(ways, lens.normals)
        )
        for name, light in met.items():
            share = covered(weight, light > 0)
            bright = lens.mirror_share * float((light * (weight > 0)).max(initial=0.0))
            if share > most.get(name, (0.0, 0.0))[0]:
                most[name] = (share, bright)
    behind = float(context.face.along_skin_lx_s.sum(axis=1).max(initial=0.0))
    skin = behind * _skin_share(body.surfaces[0]) / np.pi
    return [_veiled(name, share, bright, skin) for name, (share, bright) in most.items()]


def _skin_share(part: Surface) -> float:
    """What skin gives back of light, its gloss left out."""
    if not isinstance(part.material, Skin):
        return USUAL_SKIN
    return float(np.median(luminance(part.material.albedo[::MAP_STEP, ::MAP_STEP].astype(float))))


def _veiled(name: str, share: float, bright: float, skin: float) -> Finding:
    """A panel's image in a lens; it only counts where it is bright beside the skin."""
    under = float(stops(skin / bright)) if skin > 0 and bright > 0 else np.inf
    words = f"panel.{name} is mirrored by {100 * share:.0f} % of a lens of the glasses"
    if np.isfinite(under):
        words += f", a veil {under:.1f} stops under lit skin"
    shows = under < VEIL_STOPS
    words += f"; above {-VEIL_STOPS:g} it shows: turn or lower it." if shows else "."
    verdict: Verdict = "look" if shows else "fine"
    return Finding("glasses", f"panel.{name}", verdict, 100 * share, "% of the lens", 0.0, words)
