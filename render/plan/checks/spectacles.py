"""Lenses of glasses as small pieces of mirror that the camera may see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.photometry.fresnel import reflected as fresnel
from render.sitter.body import Glass, Surface

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lens:
    """One lens of the glasses as small pieces that the camera may see."""

    name: str
    places: Floats  # (n, 3) [m]
    normals: Floats  # (n, 3) unit, outward
    area: Floats  # (n,) [m²]
    mirror_share: float  # of light straight on, both faces


def lenses_of(surfaces: tuple[Surface, ...]) -> list[Lens]:
    """The clear lenses, triangle by triangle."""
    found = []
    for part in surfaces:
        if not isinstance(part.material, Glass):
            continue
        corners = part.vertices.astype(float)[part.triangles]
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        normals = unit(part.normals.astype(float)[part.triangles].mean(axis=1))
        area = 0.5 * np.linalg.norm(cross, axis=1)
        glass = part.material
        share = 2 * glass.coating_share * float(fresnel(1.0, glass.refractive_index))
        found.append(Lens(part.name, corners.mean(axis=1), normals, area, share))
    return found


def covered(weight: Floats, lit: NDArray[np.bool_]) -> float:
    """Share of weights (n,) that is lit."""
    total = float(weight.sum())
    return float(weight[lit].sum()) / total if total > 0 else 0.0
