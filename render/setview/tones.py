"""The colours of the drawn set: few, muted, told apart by their lightness alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import Cap, Front
from render.layout.geometry import unit
from render.layout.placed import Sheet
from render.photometry.srgb import luminance
from render.setview.eye import Eye
from render.setview.pieces import Mesh
from render.sitter.body import Fibre

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]  # sRGB, 0 to 1

# Chosen by eye for print. Lights are the darkest and the palest things in the picture, whatever
# holds something is mid grey, and only sitter, wood and backdrop have a hue.
FRONT: Colour = (1.0, 0.955, 0.80)
FRONT_OFF: Colour = (0.80, 0.79, 0.77)
HOUSING: Colour = (0.25, 0.26, 0.28)
STAND: Colour = (0.47, 0.47, 0.47)
CAMERA: Colour = (0.16, 0.18, 0.23)
WALL: Colour = (0.955, 0.95, 0.935)
FLOOR: Colour = (0.93, 0.915, 0.885)
FLOOR_LINE: Colour = (0.79, 0.77, 0.735)
SHADOW: Colour = (0.83, 0.815, 0.785)
SKIN: Colour = (0.80, 0.70, 0.62)
CLOTHES: Colour = (0.55, 0.60, 0.66)
HAIR_PALE, HAIR_DARK = np.array([0.87, 0.85, 0.81]), np.array([0.19, 0.165, 0.15])
WOOD: Colour = (0.66, 0.56, 0.44)
SPECK: Colour = (0.62, 0.52, 0.40)
PANELS: dict[str, Colour] = {
    "white": (1.0, 1.0, 0.99),
    "silver": (0.78, 0.80, 0.82),
    "black": (0.20, 0.19, 0.19),
}
# A backdrop of no reflectance and of a perfect one: dark slate to pale.
BACKDROP_DARK, BACKDROP_PALE = np.array([0.33, 0.37, 0.42]), np.array([0.86, 0.88, 0.90])
BLACK_BELOW = 0.15  # reflectance of a panel that is drawn black

# Light of the drawing: from above and from the left of the eye, so that every side of a box has
# a tone of its own; nothing is darker than this share of its colour.
LIGHT, SHADED = unit(np.array([-0.45, 0.85, 0.55])), 0.68
CALM = 0.93  # the same for walls and panels: paper, not boxes
FLAT_FRONT, ROUND_FRONT = 1.0, 0.90  # for what shines: a bowl still looks hollow
GEL_SHARE = 0.45  # of a gel's colour in the front that wears it


def panel_tone(sheet: Sheet, back: bool = False) -> Colour:
    """What kind of panel a side is."""
    rough = sheet.back_roughness if back else sheet.roughness
    if rough > 0:
        return PANELS["silver"]
    rgb = sheet.back_reflectance if back else sheet.reflectance
    return PANELS["black" if float(luminance(np.array(rgb))) < BLACK_BELOW else "white"]


def backdrop_tone(sheet: Sheet) -> Colour:
    """Between slate and pale, as light looks: by the cube root of its reflectance."""
    share = float(np.cbrt(np.clip(luminance(np.array(sheet.reflectance)), 0.0, 1.0)))
    tone = BACKDROP_DARK + share * (BACKDROP_PALE - BACKDROP_DARK)
    return (float(tone[0]), float(tone[1]), float(tone[2]))


def front_tone(front: Front) -> Colour:
    """Pale and warm, with a hint of its gels; grey while it is off."""
    if front.luminous_energy_lm_s == 0:
        return FRONT_OFF
    hue = np.clip(front.colour, 0.0, None)
    tone = np.array(FRONT) * (1 - GEL_SHARE + GEL_SHARE * hue / hue.max())
    return (float(tone[0]), float(tone[1]), float(tone[2]))


def front_back_tone(front: Front) -> Colour | None:
    """Of the other side of the cloth: black outside a bowl that lets nothing through."""
    shape = front.shape
    closed = isinstance(shape, Cap) and shape.hollow and shape.back_share == 0
    return HOUSING if closed else None


def hair_tone(fibre: Fibre) -> Colour:
    """From white to black by its pigment: one less exponential of twice its concentration."""
    share = 1.0 - np.exp(-2.0 * (fibre.eumelanin + 0.5 * fibre.pheomelanin))
    tone = HAIR_PALE + share * (HAIR_DARK - HAIR_PALE)
    return (float(tone[0]), float(tone[1]), float(tone[2]))


def lit(
    mesh: Mesh, colour: Colour, eye: Eye, back: Colour | None = None, shaded: float = SHADED
) -> tuple[Mesh, Floats]:
    """A mesh in one colour, each triangle shaded by the way it faces.

    back    : colour of the side that triangles turn away from; None is the same
    shaded  : share of the colour that the darkest side keeps
    returns : the mesh with corners of its own for each triangle, and their sRGB (n, 3)
    """
    corners = mesh[0][mesh[1]]  # (m, 3, 3)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-15)
    away = np.einsum("mk,mk->m", normal, eye.position_m - corners.mean(1)) < 0
    normal[away] *= -1
    light = LIGHT @ np.stack([eye.right, eye.up, eye.back])
    tone = shaded + (1 - shaded) * np.clip(0.5 + 0.5 * normal @ light, 0.0, 1.0)
    sides = np.where(away[:, None], colour if back is None else back, colour)
    painted = np.repeat(tone[:, None] * sides, 3, axis=0)
    return (corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)), painted
