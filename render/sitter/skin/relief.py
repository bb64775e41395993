"""Fine relief of the skin: pores, the lattice of fine lines, lip lines, stubble, age."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from render.sitter.arrays import Array
from render.sitter.cast import SkinTone
from render.sitter.skin.canvas import Canvas, beard_zone, enlarged
from render.sitter.skin.creases import press_creases

# Heights in metres; mean roughness of a cheek about 15 to 30 um, growing with age (skin replicas,
# from memory). Cells of the lattice 0.5 to 1.5 mm across, pores 0.2 to 0.5 mm wide (from memory).
LATTICE_M, PORE_M, UNEVEN_M, LIP_LINE_M, STUBBLE_M = 2.4e-5, 6.0e-5, 1.1e-5, 5.0e-5, 3.0e-5
_CELL_MM, _LINE_MM = 1.25, 0.24
_PORE_SPACING_MM, _PORE_RADIUS_MM = 1.45, 0.27


def lip_lines(canvas: Canvas) -> Array:
    """Fine upright lines (h, w) of unit variance at the size of the maps."""
    grain = canvas.fine(0.27)
    lines = gaussian_filter1d(grain, 2.5 / canvas.texel_mm, axis=0)
    return np.asarray(lines / lines.std())


def relief(canvas: Canvas, tone: SkinTone, dots: Array, lines: Array) -> Array:
    """Height (h, w) [m] at the size of the maps; dots: stubble, lines: of the lips, both (h, w)."""
    zones = canvas.zones
    open_skin = enlarged(1 - np.clip(zones["lips"], 0, 1))
    wide_pores = 0.22 + 0.75 * zones["nose"] + 0.55 * zones["cheek"] + 0.3 * zones["forehead"]
    wide_pores = (wide_pores + 0.3 * zones["chin"]) * (1 - 0.6 * zones["eyelids"])
    height = canvas.pores(_PORE_SPACING_MM, _PORE_RADIUS_MM) * enlarged(wide_pores)
    height *= -PORE_M
    older = max(0.0, tone.age - 0.2)
    uneven = enlarged(1 + 0.35 * canvas.wide(5.0))
    height -= LATTICE_M * (0.75 + 0.9 * older) * uneven * canvas.lattice(_CELL_MM, _LINE_MM)
    height += UNEVEN_M * (0.7 * canvas.fine(0.35) + 0.8 * canvas.fine(1.0))
    height += UNEVEN_M * (1 + 1.5 * older) * canvas.fine(2.2)
    height *= open_skin
    height += (1 - open_skin) * lines * (LIP_LINE_M * (0.8 + 0.6 * older))
    if tone.stubble > 0:
        height += enlarged(beard_zone(zones)) * dots * (STUBBLE_M * tone.stubble)
    press_creases(height, tone.age, canvas.rng)
    return np.asarray(height)
