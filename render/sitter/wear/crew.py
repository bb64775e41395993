"""A knitted top with a ribbed crew neck."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.wear.drape import Fabric
from render.sitter.wear.opening import (
    neckline_height,
    opened,
    round_edge,
    sheet,
    surface_distance,
)
from render.sitter.wear.pattern import Cut
from render.sitter.wear.ribbon import grid_surface, ground, lifted, walked
from render.sitter.wear.shell import Shell, Wearer, shell_of, tightness
from render.sitter.wear.weaves import RIBS_DM, Colour, knit, ribs

# Lengths in decimetres, set by eye.
JERSEY = Fabric(slack=0.01, slack_along=0.02, crease=0.8, bend=0.8, weight=3e-5)
PULLOVER = Cut(ease=0.07, loose=0.9, stiff=1e-3, broad=300, small=60)
_BAND, _THICK = 0.20, 0.034  # ribbed band: width, thickness
_ROUND, _DEEP = 240, 10  # points round the neck and across the band
_TIGHT_REACH = 0.35


def crew_shell(bust: Bust, wearer: Wearer, fabric: Fabric, cut: Cut) -> tuple[Shell, Array]:
    """A hung top and the signed distance (n,) to its crew neckline."""
    tight = tightness(bust.reference, neckline_height(bust.reference), _TIGHT_REACH)
    shell = shell_of(bust, wearer, fabric, cut, tight)
    return shell, surface_distance(shell, shell.reference[:, 1] - neckline_height(shell.reference))


def crew(bust: Bust, wearer: Wearer, colour: Colour) -> tuple[tuple[Surface, ...], Array, Array]:
    """Surfaces in decimetres, and points with normals (k, 3) that hair lies on."""
    shell, neck = crew_shell(bust, wearer, JERSEY, PULLOVER)
    top = opened(shell, neck)
    base = ground(shell.cloth, shell.normals)
    path, out, away = round_edge(top, base, _ROUND)
    strip = walked(base, path, away, np.full(_ROUND, _BAND), _DEEP, True)
    t = np.linspace(0, 1, _DEEP)
    lift = _THICK * np.clip(np.sin(np.pi * (0.06 + 0.88 * t)), 0, 1) ** 0.4
    grid = lifted(strip, np.tile(lift, (_ROUND, 1)), _THICK * 1.3)
    around = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
    count = round(RIBS_DM * around) / around
    # Closed to a tube: the band's underside meets its upper edge.
    grid = np.concatenate([grid, grid[:, :1]], 1)
    band = grid_surface("band", grid, True, ribs(colour), out, count)
    points = np.concatenate([top.cloth, grid[:, :_DEEP].reshape(-1, 3)])
    normals = np.concatenate([top.normals, strip.normals.reshape(-1, 3)])
    return (sheet("top", top, knit(colour)), band), points, normals
