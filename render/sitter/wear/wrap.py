"""A cloth wrapped round the chest under bare shoulders and arms, as for a classic bust portrait."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, smoothstep
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.shape.surfaces import smooth_normals
from render.sitter.wear.drape import Fabric
from render.sitter.wear.opening import opened, round_edge, sheet, surface_distance
from render.sitter.wear.pattern import Cut
from render.sitter.wear.ribbon import grid_surface, ground, tube
from render.sitter.wear.shell import Shell, Wearer, shell_of
from render.sitter.wear.weaves import Colour, drapery

# Lengths in decimetres, set by eye.
SOFT = Fabric(slack=0.0, slack_along=0.0, crease=0.7, bend=0.5, weight=3e-5)
WOUND = Cut(ease=0.045, loose=0.8, stiff=1e-3, broad=120, small=30)
# The upper edge on the reference head against the azimuth [deg] from the front.
_EDGE_DEG = (0.0, 25.0, 50.0, 75.0, 100.0, 135.0, 180.0)
_EDGE = (4.70, 4.73, 4.64, 4.34, 4.24, 4.26, 4.30)
_MIDDLE_Z = 0.35  # axis of the chest
_ARMHOLE = 0.35  # cloth ends where the body follows the arms by more than this
_TIGHT_REACH = 0.45
_FOLD, _FOLD_HIGH = 0.40, 0.040  # folds: apart, high
_FOLD_RISE = 4 * _FOLD / (2 * np.pi)  # rise per radian: four folds in one turn close the round
_HEM = 0.014  # radius of the folded edge
_ROUND = 300


def wrap(bust: Bust, wearer: Wearer, colour: Colour) -> tuple[tuple[Surface, ...], Array, Array]:
    """Surfaces in decimetres, and points with normals (k, 3) that hair lies on."""
    tight = smoothstep(-_TIGHT_REACH, -0.1, _above_edge(bust.reference))
    shell = shell_of(bust, wearer, SOFT, WOUND, tight)
    cut = np.maximum(_above_edge(shell.reference), bust.arm[shell.ids] - _ARMHOLE)
    distance = surface_distance(shell, cut)
    shell = _folded(shell, distance)
    top, weave = opened(shell, distance), drapery(colour)
    path, out, _ = round_edge(top, ground(shell.cloth, shell.normals), _ROUND)
    hem = grid_surface("hem", tube(path, out, _HEM, 8, True), True, weave, out)
    return (sheet("top", top, weave), hem), top.cloth, top.normals


def _turn(reference: Array) -> Array:
    """Azimuth (n,) [rad] round the chest, 0 in front."""
    return np.asarray(np.arctan2(reference[:, 0], reference[:, 2] - _MIDDLE_Z))


def _above_edge(reference: Array) -> Array:
    """Height (n,) of points of the reference head above the upper edge."""
    edge = np.interp(np.abs(_turn(reference)), np.radians(_EDGE_DEG), _EDGE)
    return np.asarray(reference[:, 1] - edge)


def _folded(shell: Shell, distance: Array) -> Shell:
    """Soft folds that run round the chest, drawn up to one side, plain at the edge."""
    turn = _turn(shell.reference)
    along = shell.reference[:, 1] + _FOLD_RISE * turn + 0.07 * np.sin(2 * turn + 1.0)
    along = along + 0.07 * np.sin(3 * turn + 2.3 * shell.reference[:, 1])
    crest = 0.5 + 0.5 * np.sin(2 * np.pi * along / _FOLD)
    # No fold runs all the way round.
    strength = 0.5 + 0.5 * np.sin(2 * turn + 5.3 * shell.reference[:, 1])
    lift = _FOLD_HIGH * crest**1.6 * strength * smoothstep(-0.06, -0.3, distance)
    cloth = shell.cloth + lift[:, None] * shell.normals
    return replace(shell, cloth=cloth, normals=smooth_normals(cloth, shell.triangles))
