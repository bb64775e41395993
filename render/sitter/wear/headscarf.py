"""A scarf over the hair and round the neck that leaves the face free."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from render.sitter.arrays import Array, Index, smoothstep, unit
from render.sitter.body import Surface
from render.sitter.shape.carried import cut_below
from render.sitter.shape.surfaces import smooth_normals, triangles_of
from render.sitter.wear.drape import Fabric, Hold, Solid, hung, lengths, threads_of
from render.sitter.wear.ribbon import even_path, grid_surface, rim_chain, tube
from render.sitter.wear.trim import wound_surface
from render.sitter.wear.weaves import Colour, drapery

# Lengths in decimetres from the midpoint of the eyes, set by eye.
VOILE = Fabric(slack=0.07, slack_along=0.06, crease=0.3, bend=0.15, weight=4e-5)
_AXIS_Z, _BALL_Y = -0.72, 0.10  # the scarf is laid out on a capsule: sphere over a cylinder
_LOW = -2.15  # lowest row
_FALL, _WIDE = -1.93, 1.02  # lower edge: height in front, radius on the shoulders
_OPEN = (-0.14, 0.57, 0.85)  # the free face: height of its middle, half width, half height
_EASE, _SNUG = 0.085, 0.055  # distance from the skin: over hair, and round the face
_ROUND, _TALL, _STEPS = 180, 110, 150
_SAG = 0.9  # steepest inward slope of cloth that hangs from the chin
_WRAPPED: tuple[Literal["wrap"], Literal["nearest"]] = ("wrap", "nearest")
_EDGE, _FOLD = 0.022, 0.045


def headscarf(
    skin: tuple[Array, Array], top_points: Array, eye: Array, colour: Colour
) -> tuple[tuple[Surface, ...], tuple[Array, Array]]:
    """Cloth and its rolled edges on the unturned head [dm], and the scarf's points with outward
    normals.

    skin       : vertices and normals (n, 3)
    top_points : (k, 3) on the top, over which the scarf falls
    eye        : (3,) midpoint of the eyes
    """
    turn, length = _grid()
    base = _points(_reach(np.concatenate([skin[0], top_points]) - eye), turn, length)
    quads, out = _quads(), _outward(turn, length)
    at = _draped(base.reshape(-1, 3), out.reshape(-1, 3), quads)
    faces = triangles_of(quads)
    normals = smooth_normals(at, faces)
    if (normals * out.reshape(-1, 3)).sum() < 0:
        faces, normals = faces[:, ::-1], -normals
    normals[_TALL - 1 :: _TALL] = (0.0, 1.0, 0.0)
    uv = np.stack(np.broadcast_arrays(turn[:, None] / (2 * np.pi), length[None]), -1).reshape(-1, 2)
    weave, edges = drapery(colour), []
    for name, field in (("lower", _lower_edge), ("face", _free_face)):
        carry, faces, rim = cut_below(at, faces, field(at))
        at, normals, uv = carry @ at, unit(carry @ normals), carry @ uv
        ring = rim_chain(rim)
        path = even_path(at[ring], 260, True, 2.0)
        facing = unit(even_path(at[ring] + normals[ring], 260, True, 2.0) - path)
        roll = tube(path, facing, _EDGE, 10, True)
        edges.append(grid_surface(f"headscarf_{name}", roll + eye, True, weave, facing))
    # The winding of a repeated v gives even threads; azimuth was kept through the cuts.
    sheet = wound_surface("headscarf", at + eye, normals, faces, uv[:, 0], (uv[:, 1], weave))
    return (sheet, *edges), (at + eye, normals)


def _grid() -> tuple[Array, Array]:
    turn = np.linspace(-np.pi, np.pi, _ROUND, endpoint=False)
    top = np.pi / 2 * 0.998
    return turn, np.linspace(_LOW - _BALL_Y, top, _TALL)


def _points(reach: Array, turn: Array, length: Array) -> Array:
    """Capsule coordinates to points (round, tall, 3) from the eyes."""
    rise = np.clip(length, 0, None)[None]
    flat = reach * np.cos(rise)
    y = _BALL_Y + np.where(length[None] > 0, reach * np.sin(rise), length[None])
    x, z = flat * np.sin(turn)[:, None], flat * np.cos(turn)[:, None] + _AXIS_Z
    return np.stack([x, np.broadcast_to(y, x.shape), z], -1)


def _outward(turn: Array, length: Array) -> Array:
    return unit(
        _points(np.ones((len(turn), len(length))), turn, np.clip(length, 0, None))
        - np.array([0, _BALL_Y, _AXIS_Z])
    )


def _reach(own: Array) -> Array:
    """Distance (round, tall) of the plain scarf from the capsule's axis."""
    turn, length = _grid()
    q = own - np.array([0.0, _BALL_Y, _AXIS_Z])
    flat = np.hypot(q[:, 0], q[:, 2])
    distance = np.where(q[:, 1] > 0, np.linalg.norm(q, axis=1), flat)
    along = np.where(q[:, 1] > 0, np.arctan2(q[:, 1], flat), q[:, 1])
    column = (np.arctan2(q[:, 0], q[:, 2]) + np.pi) / (2 * np.pi) * _ROUND
    row = (along - length[0]) / (length[-1] - length[0]) * (_TALL - 1)
    full = np.zeros((_ROUND, _TALL))
    good = (row > -0.5) & (row < _TALL - 0.5) & (flat < 1.25)
    cell = column.astype(int) % _ROUND, np.round(np.clip(row, 0, _TALL - 1)).astype(int)
    np.maximum.at(full, (cell[0][good], cell[1][good]), distance[good])
    mode = _WRAPPED
    # Towards the crown the cells grow so narrow that some hold no skin.
    for k in range(1, _TALL):
        if length[k] > 0:
            seen = full[:, k] > 0
            usual = full[seen, k].mean() if seen.any() else full[:, k - 1].mean()
            full[:, k] = np.where(seen, full[:, k], usual)
    full = maximum_filter(full, 3, mode=mode)
    full_soft = gaussian_filter(full, (1.5, 1.2), mode=mode)
    full = maximum_filter(full, (5, 3), mode=mode)
    soft = gaussian_filter(full, (2.5, 2.0), mode=mode)
    soft = np.maximum(soft, gaussian_filter(np.maximum(full - 0.01, soft), (1.2, 1.0), mode=mode))
    # Under chin and skull the cloth hangs; it does not follow the jaw inwards.
    step = length[1] - length[0]
    for k in range(_TALL - 2, -1, -1):
        if length[k] < 0.2:
            soft[:, k] = np.maximum(soft[:, k], soft[:, k + 1] - _SAG * step)
    plain = gaussian_filter(soft, (1.5, 1.5), mode=mode)
    # Round the face the edge lies on the skin; elsewhere there is hair under the cloth.
    near = smoothstep(-0.35, 0.0, _free_face(_points(plain, turn, length).reshape(-1, 3)))
    near = near.reshape(plain.shape)
    plain = plain + near * (np.minimum(full_soft, plain) - plain)
    return np.asarray(plain + _EASE + (_SNUG - _EASE) * near)


def _quads() -> Index:
    i = np.arange(_ROUND)[:, None] * _TALL + np.arange(_TALL - 1)
    after = (i + _TALL) % (_ROUND * _TALL)
    return np.stack([i, i + 1, after + 1, after], -1).reshape(-1, 4)


def _draped(base: Array, out: Array, quads: Index) -> Array:
    threads = threads_of(quads, len(base), VOILE)
    rest = lengths(base, threads)
    upright = np.ptp(base[threads.pairs, 1], axis=1) / np.maximum(rest, 1e-9)
    rest = rest * (1 + VOILE.slack + (VOILE.slack_along - VOILE.slack) * upright**2)
    row = np.tile(np.arange(_TALL), _ROUND)
    # Smooth over the skull and round the face, loose below the jaw.
    loose = smoothstep(0.15, -0.7, base[:, 1]) * np.clip(row / 6.0, 0.0, 1.0)
    firm = 0.25 * (1 - loose) + 0.003 * loose
    firm = np.maximum(firm, smoothstep(0.7, 0.9, base[:, 1]))
    angle = np.repeat(np.arange(_ROUND), _TALL) / _ROUND * 2 * np.pi
    wave = np.sin(7 * angle + 0.34 * row) + np.sin(-4 * angle + 0.27 * row + 1)
    # Soft folds run round the face.
    ring = _free_face(base) + 0.12 * np.sin(3 * base[:, 1] + 2 * base[:, 2])
    fold = np.sin(17 * ring) ** 3 * smoothstep(-0.1, -0.35, ring) * smoothstep(-0.75, -0.2, ring)
    base = base + out * (_FOLD * np.maximum(fold, 0))[:, None]
    begin = base + out * (0.03 * loose * (1 + wave))[:, None]
    zero = np.zeros(len(base))
    solid = Solid(base - 0.02 * out, out, zero, 0.005)
    return hung(begin, rest, threads, solid, Hold(base, firm, zero), VOILE.weight, _STEPS)


def _free_face(at: Array) -> Array:
    """Field (n,) that is positive in front of the face."""
    middle, wide, tall = _OPEN
    x, y = at[:, 0] / wide, (at[:, 1] - middle) / tall
    inside = 1 - np.sqrt(x**2 + np.abs(y) ** 2.4)
    return np.where(at[:, 2] > -0.75, inside, -1.0)


def _lower_edge(at: Array) -> Array:
    """Field (n,) that is positive below the scarf's lower edge."""
    turn = np.arctan2(at[:, 0], at[:, 2] - _AXIS_Z)
    wave = 0.05 * np.sin(3 * turn + 0.7) + 0.03 * np.sin(5 * turn)
    flat = np.hypot(at[:, 0], at[:, 2] - _AXIS_Z)
    return np.asarray(
        np.maximum(_FALL + wave - at[:, 1], np.where(at[:, 1] < -1.0, flat - _WIDE - wave, -1.0))
    )
