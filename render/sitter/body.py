"""The sitter as plain geometry: surfaces, strands and landmarks, in metres, ready to be placed.

Sitter space: origin midway between the eyes, +y up, +z where the unturned sitter faces, +x the
sitter's left. Nothing here knows a renderer; `trace` turns the materials into its own nodes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Halves = NDArray[np.float16]  # 1 in 2000, and 0.06 um in metres: enough for skin, half the memory
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Skin:
    """Diffuse colour, gloss and relief of the skin, as maps in the surface's uv.

    Row 0 of every map is v = 1 (top). The albedo is what the body under the gloss gives back of
    light from all sides alike.
    """

    albedo: Floats | Halves  # (h, w, 3) linear sRGB reflectance
    roughness: Floats | Halves  # (h, w)
    relief_m: Floats | Halves  # (h, w) height [m]
    refractive_index: float = 1.4  # of horn and oil; common in skin optics, from memory


@dataclass(frozen=True, slots=True)
class Painted:
    """A dielectric-coated painted surface: sclera, iris, the whole coated eye."""

    colour: Floats  # (h, w, 3) linear sRGB reflectance, row 0 is v = 1
    roughness: float
    refractive_index: float = 1.376  # cornea; common textbook value, from memory


@dataclass(frozen=True, slots=True)
class Cloth:
    """Woven or knitted cloth: colour, sheen and relief that repeats in uv."""

    colour: tuple[float, float, float]  # linear sRGB reflectance
    roughness: float
    sheen: float
    relief_m: Floats  # (h, w) height [m], tiled
    tiles: float  # repeats per uv unit


@dataclass(frozen=True, slots=True)
class Glass:
    """A thin clear sheet, such as the lens of spectacles: it mirrors a little and lets the rest
    straight through."""

    refractive_index: float = 1.5  # crown glass and common lens plastics; textbook value
    coating_share: float = 1.0  # what a coating leaves of the bare surface's mirror image


@dataclass(frozen=True, slots=True)
class Fibre:
    """Hair fibre for a scattering model with pigment concentrations (dimensionless)."""

    eumelanin: float
    pheomelanin: float
    # Gives a surface lobe 6.7 deg wide in the half angle; Marschner et al. 2003: 5 to 10 deg.
    longitudinal_roughness: float = 0.25
    azimuthal_roughness: float = 0.30
    scale_tilt_deg: float = 2.5  # J. Cosmet. Sci. 54(3) 2003, p. 306


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Surface:
    """One triangle mesh with smooth normals."""

    name: str
    vertices: Floats  # (n, 3) [m]
    triangles: Ints  # (m, 3), counter-clockwise seen from outside
    normals: Floats  # (n, 3) unit, outward
    uv: Floats  # (n, 2)
    material: Skin | Painted | Cloth | Glass


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Strands:
    """Hair, brows, lashes or beard: strands of equal point count."""

    name: str
    points: Floats  # (n, k, 3) [m], root first
    radii: Floats  # (n, k) [m]
    fibre: Fibre


@dataclass(frozen=True, slots=True, eq=False)
class Follower:
    """The part of a surface or of strands that moves with the lids of one eye."""

    part: str  # name of the surface or strands
    index: Ints  # (k,) vertices of a surface, whole strands of strands
    upper: Floats  # (k,) share of the upper lid's turn, 0..1
    lower: Floats  # (k,) share of the lower lid's turn, 0..1


@dataclass(frozen=True, slots=True, eq=False)
class Lids:
    """What moves round one eye when it turns; used up once the eye has turned."""

    eye: str  # name of the eye's surface
    centre_m: Floats  # (3,) of the ball
    radius_m: float  # of the ball
    frame: Floats  # (3, 3) columns: the head's left, up and forward
    followers: tuple[Follower, ...]


@dataclass(frozen=True, slots=True)
class Landmark:
    """A named place where a meter is held or a spot is read."""

    name: str
    position_m: Floats  # (3,) on the skin; for a hair landmark on the outside of the hair
    normal: Floats  # (3,) unit, outward
    on: str  # "skin", "hair" or "cloth"


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Body:
    """A whole sitter."""

    surfaces: tuple[Surface, ...]  # surfaces[0] is the closed (watertight) skin
    strands: tuple[Strands, ...]
    landmarks: dict[str, Landmark]
    version: str  # changes when the geometry or the materials change
    lids: tuple[Lids, ...] = ()  # of eyes that still look straight ahead
    notes: tuple[str, ...] = ()  # what to know about an own mesh, one phrase each
