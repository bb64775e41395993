"""Spectacles: thin frame and slightly curved lenses fitted to the sitter's eyes, nose and ears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, Mask, unit
from render.sitter.body import Glass, Painted, Surface
from render.sitter.shape.bust import Bust
from render.sitter.shape.regions import Regions
from render.sitter.shape.surfaces import smooth_normals, triangles_of
from render.sitter.wear.ribbon import Ground, even_path, ground, tube

# Lengths in decimetres. Fitting figures from memory of opticians' practice: vertex distance
# 12 mm (12 to 16), pantoscopic tilt 8 degrees (5 to 12), bridge 14 to 24 mm, front curve of a
# weak lens 6 dioptres: radius 530 / 6 = 88 mm.
VERTEX_DISTANCE, MOST_DISTANCE = 0.12, 0.20
TILT_DEG = 8.0
BRIDGE_RANGE = (0.14, 0.24)
FRONT_RADIUS = 0.88
_ASIDE, _DROP = 0.042, 0.015  # the lens centre lies a little outside and below the pupil
_CLEAR = 0.02  # between frame or lens and skin or lashes
_CORNEA = 0.0095  # the cornea stands out of the eyeball
_INDEX, _COATING = 1.5, 1.0  # plain crown or plastic without a coating
_TEMPLE = 0.014  # radius of the temples
_OUTLINE = 120


@dataclass(frozen=True, slots=True)
class _Style:
    width: float
    height: float
    power: float  # 2 is an ellipse, more is squarer
    nose: float  # share of the half width cut away below for the nose
    rim: float  # radius of the rim
    colour: tuple[float, float, float]  # linear sRGB reflectance
    roughness: float


# Lens sizes: common ones, from memory.
_STYLES = {
    "round": _Style(0.46, 0.43, 2.0, 0.10, 0.010, (0.045, 0.040, 0.035), 0.15),
    "square": _Style(0.50, 0.37, 3.6, 0.30, 0.018, (0.022, 0.013, 0.008), 0.08),
}


@dataclass(frozen=True, slots=True, eq=False)
class _Lens:
    """Where one lens sits: its centre, and the directions across, up and out of it."""

    centre: Array  # (3,)
    axes: Array  # (3, 3) rows: to the outer side, up, forward
    style: _Style

    def at(self, flat: Array) -> Array:
        """Points (..., 3) of the curved lens at (..., 2) from its centre."""
        deep = (flat**2).sum(-1) / (2 * FRONT_RADIUS)
        return np.asarray(self.centre + np.concatenate([flat, -deep[..., None]], -1) @ self.axes)

    def outline(self, share: float = 1.0, turn: Array | None = None) -> Array:
        """The rim (k, 2) from the lens centre, counter-clockwise from the outer side."""
        if turn is None:
            turn = np.linspace(0, 2 * np.pi, _OUTLINE, endpoint=False)
        c, s = np.cos(turn), np.sin(turn)
        e = 2 / self.style.power
        x = 0.5 * self.style.width * np.sign(c) * np.abs(c) ** e
        y = 0.5 * self.style.height * np.sign(s) * np.abs(s) ** e
        return np.asarray(share * np.stack([x * self._room(x, y), y], -1))

    def _room(self, x: Array, y: Array) -> Array:
        """Share of the width left towards the nose below, where rims make room for it."""
        below = np.clip(-2 * y / self.style.height, 0, 1)
        return np.where(x < 0, 1 - self.style.nose * below, 1.0)

    def covers(self, flat: Array, margin: float) -> Mask:
        """Which of (k, 2) lie within the outline widened by a margin."""
        x, y = flat.T
        size = np.array([self.style.width, self.style.height]) / 2 + margin
        q = np.abs(np.stack([x / self._room(x, y), y], 1) / size) ** self.style.power
        return np.asarray(q.sum(1) < 1)


def glasses(
    style: str,
    bust: Bust,
    regions: Regions,
    skin: tuple[Array, Array],
    eyes: dict[str, tuple[Array, float]],
    lashes: Array,
) -> tuple[Surface, ...]:
    """Frame and lenses on the unturned head [dm]; empty for "none".

    skin : vertices and normals (n, 3);  eyes : side -> centre (3,), radius
    lashes : points (k, 3) of the lashes
    """
    if style == "none":
        return ()
    kind = _STYLES[style]
    lenses = _placed(kind, regions, skin[0], eyes, lashes)
    skull = regions.masks["ears"] < 0.05
    side = skull & (np.abs(skin[0][:, 1] - eyes["l"][0][1]) < 1.2)
    base = ground(skin[0][side], skin[1][side])
    tubes = [_rim(lens) for lens in lenses.values()]
    tubes.append(_bridge(lenses, base))
    for name, lens in lenses.items():
        tubes += [_temple(lens, bust, regions, skin[0], base, name), *_pad(lens, base)]
    paint = Painted(np.full((4, 4, 3), kind.colour, np.float32), kind.roughness, 1.5)
    frame = _joined("glasses_frame", tubes, paint)
    return (frame, *(_sheet(f"lens_{w}", lenses[s]) for s, w in (("l", "left"), ("r", "right"))))


def _placed(
    kind: _Style,
    regions: Regions,
    vertices: Array,
    eyes: dict[str, tuple[Array, float]],
    lashes: Array,
) -> dict[str, _Lens]:
    tilt = np.radians(TILT_DEG)
    up, out = np.array([0, np.cos(tilt), np.sin(tilt)]), np.array([0, -np.sin(tilt), np.cos(tilt)])
    apart = abs(eyes["l"][0][0] - eyes["r"][0][0])
    bridge = float(np.clip(apart + 2 * _ASIDE - kind.width, *BRIDGE_RANGE))
    face = np.concatenate([vertices[regions.masks["inside_mouth"] < 0.5], lashes])
    lenses = {}
    for name, sign in (("l", 1.0), ("r", -1.0)):
        (_, y, z), radius = eyes[name]
        centre = np.array([sign * 0.5 * (bridge + kind.width), y - _DROP, 0.0])
        centre[2] = z + radius + _CORNEA + VERTEX_DISTANCE
        lenses[name] = _Lens(centre, np.stack([np.array([sign, 0, 0]), up, out]), kind)
    # Forward until nothing of the face comes near.
    need = max(_intrusion(lens, face) for lens in lenses.values())
    forward = np.array([0, 0, min(need, MOST_DISTANCE - VERTEX_DISTANCE)])
    return {name: _Lens(x.centre + forward, x.axes, kind) for name, x in lenses.items()}


def _intrusion(lens: _Lens, face: Array) -> float:
    """How far (>= 0) [dm] the face comes too near the lens or its rim."""
    q = (face - lens.centre) @ lens.axes.T
    inside = lens.covers(q[:, :2], lens.style.rim + 0.01)
    deep = (q[:, :2] ** 2).sum(1) / (2 * FRONT_RADIUS)
    near = q[:, 2] + deep + lens.style.rim + _CLEAR
    return float(max(0.0, near[inside & (q[:, 2] > -0.6)].max(initial=0.0)))


def _rim(lens: _Lens) -> Array:
    path = lens.at(lens.outline())
    ring = tube(path, np.tile(lens.axes[2], (_OUTLINE, 1)), lens.style.rim, 12, True)
    return np.concatenate([ring, ring[:1]])


def _bridge(lenses: dict[str, _Lens], base: Ground) -> Array:
    """An arch over the nose between the two rims."""
    left, right = lenses["l"], lenses["r"]
    turn = np.array([np.pi - 0.55])
    a, b = left.at(left.outline(1.0, turn))[0], right.at(right.outline(1.0, turn))[0]
    t = np.linspace(0, 1, 24)[:, None]
    path = a + t * (b - a) + np.sin(np.pi * t) * (0.045 * left.axes[1] + 0.03 * left.axes[2])
    path = _outside(path, base, left.style.rim + _CLEAR)
    return tube(path, np.tile(left.axes[2], (24, 1)), 1.1 * left.style.rim, 12, False)


def _outside(path: Array, base: Ground, gap: float) -> Array:
    for _ in range(4):
        foot, normal = base.plane(path)
        lack = gap - ((path - foot) * normal).sum(1)
        path = path + normal * np.maximum(lack, 0)[:, None]
    return path


def _temple(
    lens: _Lens, bust: Bust, regions: Regions, vertices: Array, base: Ground, name: str
) -> Array:
    """From the rim over the root of the ear and down behind it."""
    sign = 1.0 if name == "l" else -1.0
    mine = (sign * bust.reference[:, 0] > 0) & (regions.masks["ears"] > 0.5)
    ear = vertices[mine]
    top = ear[ear[:, 1].argmax()]
    joint = lens.at(lens.outline(1.0, np.array([0.45])))[0]
    hinge = joint + np.array([sign * 0.08, 0.0, -0.03])
    over = np.array([top[0], top[1] + 0.03, top[2]])
    foot, _ = base.plane(over[None])
    over[0] = foot[0, 0] + sign * (_TEMPLE + _CLEAR)
    knots = np.array(
        [
            joint,
            hinge,
            hinge + np.array([sign * 0.015, 0, -0.06]),
            over,
            over + np.array([-sign * 0.02, -0.05, -0.14]),
            over + np.array([-sign * 0.06, -0.22, -0.26]),
        ]
    )
    path = even_path(knots, 80, False, 3.0)
    path = _outside(path, base, _TEMPLE + _CLEAR)
    path = even_path(path, 80, False, 2.0)
    return tube(path, np.tile([sign, 0.0, 0.0], (80, 1)), _TEMPLE, 10, False)


def _pad(lens: _Lens, base: Ground) -> list[Array]:
    """A nose pad on the side of the nose and the wire that carries it."""
    rim = lens.at(lens.outline(1.0, np.array([np.pi + 0.35])))[0]
    seat = rim - 0.05 * lens.axes[2] - 0.02 * lens.axes[0]
    foot, normal = base.plane(seat[None])
    centre = foot[0] + 0.016 * normal[0]
    length = unit(lens.axes[1] - normal[0] * (lens.axes[1] @ normal[0]))
    t = np.linspace(-1, 1, 17)[:, None]
    body = tube(centre + 0.06 * t * length, np.tile(normal[0], (17, 1)), 1.0, 10, False)
    spine = (centre + 0.06 * t * length)[:, None]
    body = spine + (body - spine) * (0.012 * np.sqrt(np.clip(1 - t**2, 0, 1)) + 1e-4)[:, None]
    wire = even_path(np.array([rim, 0.5 * (rim + centre) + 0.01 * normal[0], centre]), 16, False)
    return [body, tube(wire, np.tile(lens.axes[1], (16, 1)), 0.005, 8, False)]


def _joined(name: str, grids: list[Array], paint: Painted) -> Surface:
    points, normals, faces, count = [], [], [], 0
    for grid in grids:
        rows, columns = grid.shape[:2]
        i = np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)
        quads = np.stack([i, i + 1, i + columns + 1, i + columns], -1).reshape(-1, 4)
        flat = grid.reshape(-1, 3)
        normal = smooth_normals(flat, quads).reshape(grid.shape)
        normal[:, [0, -1]] = unit(normal[:, :1] + normal[:, -1:])
        if (normal * (grid - grid[:, :-1].mean(1, keepdims=True))).sum() < 0:
            quads, normal = quads[:, ::-1], -normal
        points.append(flat)
        normals.append(normal.reshape(-1, 3))
        faces.append(triangles_of(quads) + count)
        count += len(flat)
    return Surface(
        name=name,
        vertices=np.concatenate(points).astype(np.float32),
        triangles=np.concatenate(faces).astype(np.int32),
        normals=np.concatenate(normals).astype(np.float32),
        uv=np.full((count, 2), 0.5, np.float32),
        material=paint,
    )


def _sheet(name: str, lens: _Lens) -> Surface:
    """One thin sheet: both faces curve alike, so it has no power."""
    share = np.sqrt(np.linspace(0.0001, 1, 14))
    flat = np.stack([lens.outline(s) for s in share])
    grid = lens.at(np.concatenate([flat, flat[:, :1]], 1))
    rows, columns = grid.shape[:2]
    i = np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)
    quads = np.stack([i, i + 1, i + columns + 1, i + columns], -1).reshape(-1, 4)
    points = grid.reshape(-1, 3)
    pole = lens.centre - FRONT_RADIUS * lens.axes[2]
    normals = unit(points - pole)
    if (smooth_normals(points, quads) * normals).sum() < 0:
        quads = quads[:, ::-1]
    return Surface(
        name=name,
        vertices=points.astype(np.float32),
        triangles=triangles_of(quads).astype(np.int32),
        normals=normals.astype(np.float32),
        uv=np.full((len(points), 2), 0.5, np.float32),
        material=Glass(_INDEX, _COATING),
    )
