"""First estimate of what the room gives back, without tracing a ray."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT, Front, Rectangle, beam, grid_transmission
from render.emission.beams import beam_integral
from render.layout.placed import Layout, Sheet
from render.layout.walls import BACK_WALL
from render.photometry.enclosure import all_bounces
from render.photometry.receptors import Receptor
from render.photometry.srgb import LUMINANCE_SHARES

Floats = NDArray[np.float64]

# A dome takes in all of an even field (2·pi·L), a flat receptor its front half (pi·L).
EVEN_FIELD = {"flat": 1.0, "dome": 2.0}
ANGLES, TURNS = 200, 360  # of the quadrature over directions: error below 1e-3


def enclosure_estimate(layout: Layout, receptor: Receptor = "flat") -> Floats:
    """Room bounce of each light alone if the room's light were the same everywhere.

    returns : (lights,) float  Q·rho / (S·(1 - rho)) [lx·s], doubled for a dome; 0 without walls;
                               Q is what leaves grid and lip, barn doors left out
    Source: integrating-sphere series. S takes in the walls, both sides of the backdrop and the
    panels, and both sides of the fronts as black; sitter and lips are left out. Good as a mean over
    the room, off by a factor of about two near a wall or behind a panel.
    """
    energy = np.array([f.luminous_energy_lm_s * leaving_share(f) for f in layout.fronts])
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


def leaving_share(front: Front) -> float:
    """Share of the light of a front that leaves its grid and its lip [-].

    ∫ g · o cos θ dω against that without both, o being the part of the front that lies behind the
    lip's opening in a direction. Exact for an evenly bright rectangle or disk; a polygon counts as
    the disk of its area.
    """
    if front.recess_m == 0 or not isinstance(front.shape, FLAT):
        return grid_transmission(front)
    most = 0.5 * math.pi
    if front.cells is not None:
        most = math.atan(math.hypot(*front.cells.slopes))
    if front.recess_m > 0:
        most = min(most, math.atan(math.hypot(front.width_m, front.height_m) / front.recess_m))
    nodes, weights = np.polynomial.legendre.leggauss(ANGLES)
    theta, w = 0.5 * most * (nodes + 1)[:, None], 0.5 * most * weights[:, None]
    turn = 2 * math.pi * (np.arange(TURNS) + 0.5)[None, :] / TURNS
    tx, ty = np.tan(theta) * np.cos(turn), np.tan(theta) * np.sin(turn)
    lit = beam(front, tx, ty) * _behind_opening(front, tx, ty) * np.sin(theta) * np.cos(theta)
    return float(np.sum(w * lit) * 2 * math.pi / TURNS / beam_integral(front.beam))


def _behind_opening(front: Front, tx: Floats, ty: Floats) -> Floats:
    """Part (...) of a front that a far place sees through its lip: overlap of both outlines."""
    x, y = front.recess_m * np.abs(tx), front.recess_m * np.abs(ty)
    if isinstance(front.shape, Rectangle):
        return np.maximum(1 - x / front.width_m, 0) * np.maximum(1 - y / front.height_m, 0)
    diameter = 2 * math.sqrt(front.area_m2 / math.pi)
    apart = np.minimum(np.hypot(x, y) / diameter, 1.0)
    lens: Floats = 2 / math.pi * (np.arccos(apart) - apart * np.sqrt(1 - apart * apart))
    return lens


def _faces(sheet: Sheet) -> list[tuple[float, Floats]]:
    """Area [m²] and reflectance (3,) of the sides of a sheet that face the room."""
    area = sheet.area_m2
    front, back = ((area, np.array(rgb)) for rgb in (sheet.reflectance, sheet.back_reflectance))
    one_sided = sheet.kind == "wall" or sheet.name == BACK_WALL
    return [front] if one_sided else [front, back]
