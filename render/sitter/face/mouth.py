"""The inside of a mouth: teeth, tongue and dark lining, seen when it opens."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array, Index
from render.sitter.body import Floats, Painted, Surface
from render.sitter.face.teeth import arch_of, row_of_teeth, teeth_paint
from render.sitter.shape.bust import Bust
from render.sitter.shape.carried import catmull_clark
from render.sitter.shape.head_data import HeadData
from render.sitter.shape.surfaces import smooth_normals, triangles_of

# Colours are linear sRGB reflectance, set by eye; distances in decimetres, set by eye.
_TONGUE, _LINING = (0.36, 0.135, 0.115), (0.17, 0.045, 0.035)
_WET = 0.20  # roughness of mucous skin
_FORWARD, _DOWN = {"upper": 0.055, "lower": -0.01}, {"upper": 0.03, "lower": 0.02}
_LINING_FROM = 0.5  # share of the painted region `inside_mouth` from which the lining covers skin
_LINING_GAP = 0.004  # the lining lies this far inside the skin


def mouth_surfaces(
    head: HeadData, bust: Bust, base: Array, skin: tuple[Array, Array]
) -> tuple[Surface, ...]:
    """Both rows of teeth, tongue and lining, all in decimetres like the base vertices (n, 3).

    skin : the bust's vertices and normals (m, 3) with this sitter's shape and expression
    """
    out = []
    for jaw in ("upper", "lower"):
        arch = arch_of(base[head.mouth[jaw]], jaw == "upper", _FORWARD[jaw], _DOWN[jaw])
        vertices, quads, normals, uv = row_of_teeth(arch)
        out.append(_surface(f"teeth_{jaw}", vertices, quads, normals, uv, teeth_paint(arch.upper)))
    matrix, quads = catmull_clark(head.tongue_quads, len(base))
    used, inverse = np.unique(quads, return_inverse=True)
    vertices, quads = (matrix @ base)[used], inverse.reshape(-1, 4)
    out.append(_plain("tongue", vertices, quads, smooth_normals(vertices, quads), _TONGUE))
    inside = head.regions["inside_mouth"] > _LINING_FROM
    quads = bust.quads[inside[bust.quads].all(1)]
    used, inverse = np.unique(quads, return_inverse=True)
    vertices, normals = (part[used] for part in skin)
    vertices = vertices + _LINING_GAP * normals
    out.append(_plain("mouth", vertices, inverse.reshape(-1, 4), normals, _LINING))
    return tuple(out)


def _plain(
    name: str, vertices: Array, quads: Index, normals: Array, colour: tuple[float, ...]
) -> Surface:
    paint = Painted(np.full((2, 2, 3), colour, np.float32), _WET)
    return _surface(name, vertices, quads, normals, np.full((len(vertices), 2), 0.5), paint)


def _surface(
    name: str, vertices: Array, quads: Index, normals: Array, uv: Array, paint: Painted
) -> Surface:
    parts: list[Floats] = [part.astype(np.float32) for part in (vertices, normals, uv)]
    triangles = triangles_of(quads).astype(np.int32)
    return Surface(name, parts[0], triangles, parts[1], parts[2], paint)
