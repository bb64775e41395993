"""A woven shirt: collar stand and leaves, button placket, top button open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, bell, smoothstep, unit
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.wear.crew import crew_shell
from render.sitter.wear.drape import Fabric
from render.sitter.wear.opening import (
    Opened,
    neckline_height,
    opened,
    sheet,
    surface_distance,
)
from render.sitter.wear.pattern import Cut
from render.sitter.wear.ribbon import (
    Ground,
    cleared,
    disc,
    even_path,
    grid_surface,
    ground,
    lifted,
    tube,
    walked,
)
from render.sitter.wear.shell import Shell, Wearer
from render.sitter.wear.weaves import Colour, horn, shirting

# Lengths in decimetres; collar 30 mm of stand, 40 to 70 mm of leaf, buttons 11 mm every 85 mm:
# usual sizes, from memory.
POPLIN = Fabric(slack=0.06, slack_along=0.05, crease=0.5, bend=0.2, weight=3e-5)
SHIRT = Cut(ease=0.07, loose=1.0, stiff=1e-4, broad=200, small=110)
_OPEN, _OPEN_HALF = 0.62, 0.24  # the opening of the undone button: depth, half width on top
_SEAM_LOW = 0.02  # the collar seam lies so far under a crew neckline
_STAND, _LEAF_BACK, _LEAF_POINT = 0.30, 0.42, 0.72
_PLACKET, _FABRIC = 0.34, 0.012
_BUTTON, _BUTTON_GAP = 0.057, 0.85
_RING = 220


def _opening(reference: Array) -> tuple[Array, Array]:
    """Fields (n,) that are positive over the collar seam and inside the undone front."""
    x, _, z = reference.T
    seam = reference[:, 1] - neckline_height(reference) + _SEAM_LOW
    share = np.clip(seam / _OPEN + 1, -1, 1)
    front = np.where(z > 0.45, _OPEN_HALF * share - np.abs(x), -1.0)
    return seam, front


def shirt(bust: Bust, wearer: Wearer, colour: Colour) -> tuple[tuple[Surface, ...], Array, Array]:
    """Surfaces in decimetres, and points with normals (k, 3) that hair lies on."""
    return sewn(shirt_shell(bust, wearer), wearer, colour, None)


def shirt_shell(bust: Bust, wearer: Wearer) -> Shell:
    """The uncut shirt."""
    return crew_shell(bust, wearer, POPLIN, SHIRT)[0]


def sewn(
    shell: Shell, wearer: Wearer, colour: Colour, kept: Callable[[Array], Array] | None
) -> tuple[tuple[Surface, ...], Array, Array]:
    """Cut the shirt open, sew collar, placket and buttons on.

    kept : field on the reference head, positive where the shirt is not left out under a jacket
    """
    seam, front = _opening(shell.reference)
    top = opened(shell, surface_distance(shell, np.maximum(seam, front)))
    base = ground(shell.cloth, shell.normals)
    collar = _collar(shell, seam, base)
    weave = shirting(colour)
    ring = even_path(top.cloth[top.rim], 260, True, 1.0)
    normal = base.plane(ring)[1]
    edge = grid_surface("edge", tube(ring, normal, 0.012, 8, True), True, weave, normal)
    outer, out = collar
    # Stand, fold, leaf and its underside keep their order where the jaw presses on them.
    layer = np.concatenate([np.full(7, 0.02), [0.035], np.full(18, 0.052), np.full(15, 0.036)])
    outer = cleared(outer, ground(wearer.vertices, wearer.normals), layer)
    leaf = grid_surface("collar", outer, False, weave, out)
    shown = np.ones(len(top.triangles), bool)
    if kept is not None:
        shown = kept(top.reference)[top.triangles].min(1) > 0
    top = replace(top, triangles=top.triangles[shown])
    placket, buttons = _placket(top, base, colour)
    points = np.concatenate([top.cloth, outer.reshape(-1, 3)])
    normals = np.concatenate([top.normals, np.repeat(out, outer.shape[1], 0)])
    return (sheet("top", top, weave), leaf, edge, placket, *buttons), points, normals


def _seam_path(shell: Shell, seam: Array) -> Array:
    """The collar seam from the left of the opening round the back to the right (k, 3)."""
    ring = opened(shell, surface_distance(shell, seam))
    loop, around = ring.cloth[ring.rim], ring.reference[ring.rim]
    start = int(np.where(around[:, 2] > 0.4, np.abs(around[:, 0]), 9).argmin())
    loop, around = np.roll(loop, -start, 0), np.roll(around, -start, 0)
    keep = (np.abs(around[:, 0]) > _OPEN_HALF) | (around[:, 2] < 0.4)
    path = loop[keep]
    return path if path[0, 0] > path[-1, 0] else path[::-1]


def _collar(shell: Shell, seam: Array, base: Ground) -> tuple[Array, Array]:
    """Stand up the neck, fold, leaf down to its points, and back underneath: (k, m, 3)."""
    path = even_path(_seam_path(shell, seam), _RING, False, 2.0)
    s = np.linspace(-1, 1, _RING)[:, None]  # left front, back, right front
    tip = smoothstep(0.55, 1.0, np.abs(s))
    normal = base.plane(path)[1]
    ahead = unit(np.gradient(path, axis=0))
    up = unit(np.cross(ahead, normal))
    up = np.where(up[:, 1:2] < 0, -up, up)
    stand = walked(base, path, up, np.full(_RING, _STAND), 8, False)
    fold = stand.points[:, -1]
    # At the front the leaves fall open: down, and away from the middle.
    aside = np.array([1.0, 0.0, 0.0]) * np.sign(-s) * np.where(np.abs(s) > 0.4, 1.0, 0.0)
    heading = unit(-up + 0.55 * tip * aside)
    reach = _LEAF_BACK + (_LEAF_POINT - _LEAF_BACK) * tip[:, 0] ** 1.3 + 0.05 * bell(s[:, 0], 0, 9)
    leaf = walked(base, fold, heading, reach, 16, False)
    t = np.linspace(0, 1, 16)[None]
    # The leaf springs off the stand and comes to lie on the shirt near its edge.
    lift = 0.045 + 0.075 * np.sin(np.pi * np.clip(t * 1.05, 0, 1)) ** 0.8 * (1 - 0.4 * tip)
    lift = lift + 0.02 * np.sin(9 * s) * t * tip
    outside = lifted(leaf, lift, 0.016)
    under = 16 + 2
    rise = stand.points + 0.018 * stand.normals
    top = fold + 0.035 * leaf.normals[:, 0] + 0.03 * up
    return np.concatenate(
        [rise[:, :-1], top[:, None], outside[:, : 16 + 2], outside[:, under:-1]], 1
    ), stand.normals[:, 1] * 0 + _facing(rise, stand.normals)


def _facing(rise: Array, normals: Array) -> Array:
    """The stand's side that the first columns show: towards the neck."""
    return np.asarray(-normals[:, 1])


def _placket(top: Opened, base: Ground, colour: Colour) -> tuple[Surface, list[Surface]]:
    rim = top.cloth[top.rim]
    start = rim[int(np.where(top.reference[top.rim, 2] > 0.4, rim[:, 1], 99).argmin())]
    low = top.cloth[top.triangles, 1].min() + 0.1
    count = 90
    line = np.stack([np.zeros(count), np.linspace(start[1] - 0.01, low, count)], 1)
    across = np.array([1.0, 0.0, 0.0])
    at = np.stack([line[:, 0] + start[0], line[:, 1], np.full(count, start[2] + 0.3)], 1)
    for _ in range(12):
        at[:, 2] = base.plane(at)[0][:, 2]
    left = base.plane(at - 0.5 * _PLACKET * across)[0]
    strip = walked(base, left, np.tile(across, (count, 1)), np.full(count, _PLACKET), 9, False)
    profile = np.array([-0.02, 0.022, 0.026, 0.020, 0.020, 0.020, 0.026, 0.022, -0.02])
    grid = strip.points + strip.normals * (profile + 0.006)[None, :, None]
    placket = grid_surface("placket", grid, False, shirting(colour), strip.normals[:, 1])
    middle, normal = grid[:, 4], strip.normals[:, 4]
    way = np.append(0, np.cumsum(np.linalg.norm(np.diff(middle, axis=0), axis=1)))
    buttons = []
    for k, d in enumerate(np.arange(0.16, way[-1] - 0.5, _BUTTON_GAP)):
        i = int(np.searchsorted(way, d))
        buttons.append(button(f"button_{k}", middle[i], normal[i], _BUTTON))
    return placket, buttons


def button(
    name: str, centre: Array, normal: Array, radius: float, colour: Colour = (0.55, 0.53, 0.48)
) -> Surface:
    """A dished button standing a thread's height off the cloth [dm]."""
    profile = np.array(
        [(0.001, 0.012), (0.55, 0.013), (0.68, 0.022), (0.9, 0.023), (1.0, 0.012), (0.9, 0.0)]
    )
    profile = np.concatenate([profile, [(0.3, -0.01)]]) * np.array([radius, 1.0])
    grid = disc(centre, normal, np.array([0.0, 1.0, 0.0]), profile, 28)
    return grid_surface(name, grid, True, horn(colour), np.tile(normal, (28, 1)))
