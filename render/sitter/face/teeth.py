"""Teeth: two rows of fourteen in their gums, bent round the arch of the sitter's jaws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Index, smoothstep, unit
from render.sitter.body import Floats, Painted
from render.sitter.shape.surfaces import smooth_normals

# Breadth and crown height of the teeth from the middle to the second molar [dm]: averages of
# dental anatomy, from memory.
_BREADTH = {
    "upper": (0.085, 0.066, 0.076, 0.070, 0.068, 0.100, 0.090),
    "lower": (0.053, 0.058, 0.069, 0.070, 0.071, 0.110, 0.105),
}
_CROWN = {
    "upper": (0.105, 0.090, 0.100, 0.085, 0.085, 0.075, 0.070),
    "lower": (0.090, 0.095, 0.110, 0.085, 0.080, 0.075, 0.070),
}
# The rest is set by eye [dm].
_POINTED = (0.0, 0.0, 0.016, 0.010, 0.008, 0.0, 0.0)  # how far canines taper to their tip
_EDGE = (0.0, 0.007, 0.000, 0.006, 0.008, 0.010, 0.012)  # how far the edge stays short
_ROUND = 0.010  # rounding of the corners of an edge
_BULGE, _GROOVE = 0.016, 0.007  # roundness across a tooth, depth between two
_PAPILLA = 0.034  # how far the gum comes down between two teeth
_GUM = 0.006  # how far the gum stands out at its line
_HEIGHT = {"upper": 0.165, "lower": 0.115}  # crown and gum together
_THICK = (0.012, 0.075)  # of the edge in front and in the back
_ROOT_THICK = 0.085
_COLUMNS, _FRONT, _BACK = 15, 26, 10
# Linear sRGB reflectance; enamel near CIELAB (82, 4, 15) as shade surveys give, from memory.
ENAMEL, NECK, TIP = (0.72, 0.605, 0.465), (0.64, 0.475, 0.32), (0.64, 0.565, 0.475)
GUM = (0.40, 0.150, 0.125)
TEETH_ROUGHNESS, ENAMEL_INDEX = 0.13, 1.62  # wet enamel; index a textbook value, from memory
_PAINT = (32, 128)  # texels across one tooth, along its height


@dataclass(frozen=True, slots=True)
class Arch:
    """Where a row of teeth stands: half an ellipse [dm] and the plane of its edges."""

    middle: float  # sideways
    half_width: float
    front: float  # depth of the foremost point
    depth: float  # from there to the open ends
    edge: float  # height of the edges in front
    rise: float  # height gained per depth lost
    upper: bool


def arch_of(points: Array, upper: bool, forward: float, down: float) -> Arch:
    """The arch of a jaw's guide points (n, 3) [dm], moved forward and down."""
    x, y, z = points.T
    slope = float(np.polyfit(z, y, 1)[0])
    level = y - slope * (z - z.max())
    edge = float(level.min() if upper else level.max())
    back = float(z.min())
    front = float(z.max()) + forward
    middle = 0.5 * float(x.min() + x.max())
    return Arch(middle, float(np.ptp(x)) / 2, front, front - back, edge - down, -slope, upper)


def row_of_teeth(arch: Arch) -> tuple[Array, Index, Array, Array]:
    """Vertices (n, 3) [dm], quads, normals and uv of one row with its gum."""
    jaw = "upper" if arch.upper else "lower"
    number, u, side, along = _columns(_BREADTH[jaw])
    base, outward = _on_arch(arch, side * along)
    off = np.abs(2 * u - 1)
    pointed, short = np.array(_POINTED)[number], np.array(_EDGE)[number]
    edge = short + pointed * off + _ROUND * off**6
    crown = np.array(_CROWN[jaw])[number] + short
    gum_line = crown - _PAPILLA * off**2.2
    t = np.concatenate([np.linspace(1, 0, _FRONT) ** 1.2, np.linspace(0, 1, _BACK + 1)[1:]])
    tall = _HEIGHT[jaw]
    height = edge + t[:, None] * (tall - edge)  # (rows, columns) from the edge plane
    front = _front(height, edge, crown, gum_line, off)
    back = -_thickness(height / tall, along)
    out = np.where((np.arange(len(t)) < _FRONT)[:, None], front, back)
    sign = 1.0 if arch.upper else -1.0
    points = base + outward * out[..., None]
    points[..., 1] += sign * height
    rows, columns = height.shape
    i = np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)
    quads = np.stack([i, i + columns, i + columns + 1, i + 1], -1).reshape(-1, 4)
    quads = quads if arch.upper else quads[:, ::-1]
    vertices = points.reshape(-1, 3)
    uv = np.stack(np.broadcast_arrays(_u(number, u), height / tall), -1).reshape(-1, 2)
    return vertices, quads, smooth_normals(vertices, quads), uv


def _columns(breadth: tuple[float, ...]) -> tuple[Index, Array, Array, Array]:
    """Tooth number, place across it, side and distance from the middle of every column."""
    start = np.concatenate([[0.0], np.cumsum(breadth)[:-1]])
    u = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, _COLUMNS))  # denser at the gaps
    number = np.repeat(np.arange(len(breadth)), _COLUMNS)
    across = np.tile(u, len(breadth))
    along = start[number] + across * np.array(breadth)[number]
    back = slice(None, None, -1)
    return (
        np.concatenate([number[back], number]),
        np.concatenate([across[back], across]),
        np.repeat([-1.0, 1.0], len(along)),
        np.concatenate([along[back], along]),
    )


def _on_arch(arch: Arch, distance: Array) -> tuple[Array, Array]:
    """Points (n, 3) on the arch at these distances from its middle, and outward normals."""
    angle = np.linspace(0, np.pi / 2 * 1.1, 400)
    x, z = arch.half_width * np.sin(angle), arch.depth * np.cos(angle)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(z)))])
    at = np.sign(distance) * np.interp(np.abs(distance), length, angle)
    x, z = arch.half_width * np.sin(at), arch.depth * (np.cos(at) - 1)
    points = np.stack([arch.middle + x, arch.edge - arch.rise * z, arch.front + z], 1)
    normal = [np.sin(at) / arch.half_width, 0 * at, np.cos(at) / arch.depth]
    return points, unit(np.stack(normal, 1))


def _front(height: Array, edge: Array, crown: Array, gum_line: Array, off: Array) -> Array:
    """How far the front stands out of the arch (rows, columns)."""
    along = np.clip((height - edge) / (crown - edge), 0, 1.4)
    # A crown is fullest a third down from the gum and thins to its edge.
    face = -0.030 * np.clip(0.62 - along, 0, 1) ** 2 - 0.02 * np.clip(along - 0.75, 0, 1) ** 2
    across = -_BULGE * off**2.4 - _GROOVE * smoothstep(0.86, 1.0, off)
    rounding = -0.006 * smoothstep(0.07, 0.0, along)
    gum = _GUM - 0.010 * off**2
    cover = smoothstep(-0.004, 0.008, height - gum_line)
    return np.asarray((face + across + rounding) * (1 - cover) + gum * cover)


def _thickness(share: Array, along: Array) -> Array:
    """Depth of the back below the front at a share of the whole height (rows, columns)."""
    edge = _THICK[0] + (_THICK[1] - _THICK[0]) * smoothstep(0.20, 0.38, along)
    return np.asarray(edge + (_ROOT_THICK - edge) * np.clip(share, 0, 1) ** 0.6)


def _u(number: Index, u: Array) -> Array:
    """Texture column: one stripe a tooth number, so that each has its own gum line."""
    return np.asarray((number + 0.02 + 0.96 * u) / len(_EDGE))


def teeth_paint(upper: bool) -> Painted:
    """Ivory crowns, yellower at the neck and clearer at the edge, in pink gums."""
    jaw = "upper" if upper else "lower"
    width, rows = _PAINT
    u = np.tile((np.arange(width) + 0.5) / width, len(_EDGE))
    number = np.repeat(np.arange(len(_EDGE)), width)
    off = np.abs(2 * np.clip((u - 0.02) / 0.96, 0, 1) - 1)
    height = (1 - (np.arange(rows)[:, None] + 0.5) / rows) * _HEIGHT[jaw]
    crown = np.array(_CROWN[jaw])[number] + np.array(_EDGE)[number]
    line = crown - _PAPILLA * off**2.2
    share = (height / crown)[..., None]
    enamel, neck, tip = (np.array(c) for c in (ENAMEL, NECK, TIP))
    paint = enamel + (neck - enamel) * smoothstep(0.55, 1.05, share)
    paint = paint + (tip - paint) * smoothstep(0.22, 0.04, share) * 0.8
    paint = paint * (1 - 0.35 * smoothstep(0.88, 1.0, off))[None, :, None]
    cover = smoothstep(-0.003, 0.003, height - line)[..., None]
    colour: Floats = (paint * (1 - cover) + np.array(GUM) * cover).astype(np.float32)
    return Painted(colour, TEETH_ROUGHNESS, ENAMEL_INDEX)
