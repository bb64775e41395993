"""First estimate of what the room gives back, without tracing a ray."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import grid_transmission
from render.layout.placed import Layout, Sheet
from render.layout.walls import BACK_WALL
from render.photometry.enclosure import all_bounces
from render.photometry.receptors import Receptor
from render.photometry.srgb import LUMINANCE_SHARES

Floats = NDArray[np.float64]

# A dome takes in all of an even field (2·pi·L), a flat receptor its front half (pi·L).
EVEN_FIELD = {"flat": 1.0, "dome": 2.0}


def enclosure_estimate(layout: Layout, receptor: Receptor = "flat") -> Floats:
    """Room bounce of each light alone if the room's light were the same everywhere.

    returns : (lights,) float  Q·rho / (S·(1 - rho)) [lx·s], doubled for a dome; 0 without walls
    Source: integrating-sphere series. S takes in the walls, both sides of the backdrop and the
    panels, and both sides of the fronts as black; sitter and lips are left out. Good as a mean over
    the room, off by a factor of about two near a wall or behind a panel.
    """
    energy = np.array([f.luminous_energy_lm_s * grid_transmission(f) for f in layout.fronts])
    # Channel by channel: a coloured wall hands on more of a light of its own colour.
    shares = LUMINANCE_SHARES * np.array([front.colour for front in layout.fronts])
    faces = [face for sheet in layout.sheets for face in _faces(sheet)]
    faces += [(2.0 * front.area_m2, np.zeros(3)) for front in layout.fronts]
    if not any(sheet.kind == "wall" for sheet in layout.sheets):
        return np.zeros(len(layout.fronts))
    area = sum(size for size, _ in faces)
    reflectance = np.sum([size * rho for size, rho in faces], axis=0) / area
    channels = (energy * shares[:, c] for c in range(3))
    bounced = [all_bounces(q, area, float(reflectance[c])) for c, q in enumerate(channels)]
    total: Floats = np.sum(bounced, axis=0)
    return EVEN_FIELD[receptor] * total


def _faces(sheet: Sheet) -> list[tuple[float, Floats]]:
    """Area [m²] and reflectance (3,) of the sides of a sheet that face the room."""
    area = sheet.area_m2
    front, back = ((area, np.array(rgb)) for rgb in (sheet.reflectance, sheet.back_reflectance))
    one_sided = sheet.kind == "wall" or sheet.name == BACK_WALL
    return [front] if one_sided else [front, back]
