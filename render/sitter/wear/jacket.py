"""A tailored jacket with notched lapels, worn open at the neck over a pale shirt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import Array, smoothstep, unit
from render.sitter.body import Surface
from render.sitter.shape.bust import Bust
from render.sitter.shape.surfaces import smooth_normals
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
from render.sitter.wear.ribbon import Ground, even_path, grid_surface, ground, lifted, tube, walked
from render.sitter.wear.shell import Shell, Wearer, dressed, smoothed
from render.sitter.wear.shirt import button, sewn, shirt_shell
from render.sitter.wear.weaves import Colour, suiting

# Lengths in decimetres; lapels 85 mm, collar 35 mm at the back: usual sizes, from memory.
WOOL = Fabric(slack=0.03, slack_along=0.03, crease=0.6, bend=0.5, weight=3e-5)
COAT = Cut(ease=0.10, loose=1.0, stiff=6e-4, broad=140, small=30)
UNDER: Colour = (0.74, 0.74, 0.72)  # linear sRGB reflectance of a white shirt, from memory
_BUTTONED = 4.05  # height of the first button on the reference head
_WIDE_TOP = 0.70  # half width of the opening at the collar bones
_LAPEL, _BACK_COLLAR, _NOTCH = 0.85, 0.46, 0.22
_UNDER_DM = 0.7  # the shirt goes on under the jacket by this much
_GORGE = 0.38  # where lapel and collar meet, along the roll line from button (0) to nape (1)
_RING, _ACROSS = 420, 14
_SPANNED = 80  # rounds of smoothing that span hollows
# Padding over the point of the shoulder: its place on the reference head, reach and height.
_PAD_AT, _PAD_REACH, _PAD = np.array([1.72, 5.80, 0.08]), np.array([0.42, 0.42, 0.60]), 0.13


def jacket(bust: Bust, wearer: Wearer, colour: Colour) -> tuple[tuple[Surface, ...], Array, Array]:
    """Surfaces in decimetres, and points with normals (k, 3) that hair lies on."""
    under = shirt_shell(bust, wearer)
    inner, points, normals = sewn(under, wearer, UNDER, lambda place: _opening(place) + _UNDER_DM)
    shell = _padded(crew_shell(bust, dressed(wearer, under), WOOL, COAT)[0])
    top = opened(shell, surface_distance(shell, _opening(shell.reference)))
    base = ground(shell.cloth, shell.normals)
    wool = suiting(colour)
    lapel, ring = _lapels(top, base)
    normal = base.plane(ring)[1]
    parts = (
        sheet("jacket", top, wool),
        grid_surface("lapels", lapel, True, wool, normal),
        *_closure(top, base, colour),
    )
    points = np.concatenate([points, top.cloth, lapel[:, :_ACROSS].reshape(-1, 3)])
    normals = np.concatenate([normals, top.normals, np.repeat(normal, _ACROSS, 0)])
    return (*inner, *parts), points, normals


def _padded(shell: Shell) -> Shell:
    """The shell with squarer shoulders, and the hollows spanned that stiff wool does not follow."""
    mirrored = np.abs(shell.reference) * [1, 0, 0] + shell.reference * [0, 1, 1]
    bump = np.exp(-(((mirrored - _PAD_AT) / _PAD_REACH) ** 2).sum(1))
    way = np.stack([0.5 * np.sign(shell.reference[:, 0]), np.ones(len(bump)), 0 * bump], 1)
    cloth = shell.cloth + _PAD * bump[:, None] * way
    even = smoothed(shell.mean, cloth, _SPANNED)
    deep = ((even - cloth) * shell.normals).sum(1)
    # Smoothing also shrinks what is round, all over; only what lies deeper than its surroundings
    # is a hollow.
    hollow = np.maximum(deep - smoothed(shell.mean, deep, _SPANNED), 0)
    hollow = smoothed(shell.mean, hollow, _SPANNED // 8)
    cloth = cloth + hollow[:, None] * shell.normals
    return replace(shell, cloth=cloth, normals=smooth_normals(cloth, shell.triangles))


def _opening(reference: Array) -> Array:
    """Field (n,) that is positive inside the opening of the jacket."""
    x, y, z = reference.T
    neck = y - neckline_height(reference) + 0.03
    share = np.clip((y - _BUTTONED) / (5.45 - _BUTTONED), -1, 1.2)
    half = np.sign(share) * _WIDE_TOP * np.abs(share) ** 0.85
    return np.asarray(np.maximum(neck, np.where(z > 0.2, half - np.abs(x), -1.0)))


def _lapels(top: Opened, base: Ground) -> tuple[Array, Array]:
    """Lapels and collar as one strip (k, m, 3) folded back along the opening; its roll line."""
    loop, around = top.cloth[top.rim], top.reference[top.rim]
    start = int(np.where(around[:, 2] > 0.2, around[:, 1], 99).argmin())
    ring = even_path(np.roll(loop, -start, 0), _RING, True, 2.0)
    normal = base.plane(ring)[1]
    ahead = unit(np.roll(ring, -1, 0) - np.roll(ring, 1, 0))
    away = unit(np.cross(ahead, normal))
    if ((ring - ring.mean(0)) * away).sum() < 0:
        away = -away
    # 0 at the button, 1 at the back of the neck.
    s = 1 - np.abs(np.linspace(-1, 1, _RING, endpoint=False))
    width = _width(s)
    # Lapels point up and outwards, the collar's tips downwards.
    rise = np.array([0.0, 1.0, 0.0]) * (0.55 * smoothstep(0.12, 0.36, s) * (s < _GORGE))[:, None]
    strip = walked(base, ring, unit(away + rise), width, _ACROSS, True)
    t = np.linspace(0, 1, _ACROSS)[None]
    full = np.clip(width / 0.3, 0.15, 1)[:, None]
    lift = full * (0.030 + 0.025 * np.sin(np.pi * np.clip(t + 0.12, 0, 1)) ** 0.7)
    lift = lift + 0.02 * smoothstep(_GORGE, _GORGE + 0.03, s)[:, None]
    grid = lifted(strip, lift, 0.03 * full)
    return np.concatenate([grid, grid[:, :1]], 1), ring


def _width(s: Array) -> Array:
    """Width (k,) of lapel and collar along the roll line, with the notch between the two."""
    lapel = 0.03 + (_LAPEL - 0.03) * smoothstep(0.0, 0.33, s) ** 0.9
    collar = _BACK_COLLAR + 0.16 * smoothstep(0.75, 0.42, s)
    joined = np.where(s < _GORGE, lapel, collar)
    notch = np.clip(1 - np.abs(s - _GORGE) / 0.026, 0, 1)
    return np.asarray(joined - (joined - _NOTCH) * notch)


def _closure(top: Opened, base: Ground, colour: Colour) -> tuple[Surface, ...]:
    """The overlapping front edge under the lapels, and a button on it."""
    rim = top.cloth[top.rim]
    start = rim[int(np.where(top.reference[top.rim, 2] > 0.2, rim[:, 1], 99).argmin())]
    low, count = top.cloth[:, 1].min() + 0.1, 60
    at = np.stack(
        [
            np.full(count, start[0] - 0.16),
            np.linspace(start[1] + 0.05, low, count),
            np.full(count, start[2] + 0.3),
        ],
        1,
    )
    for _ in range(12):
        at[:, 2] = base.plane(at)[0][:, 2]
    normal = base.plane(at)[1]
    edge = tube(at + 0.012 * normal, normal, 0.022, 8, False)
    dark: Colour = (0.3 * colour[0], 0.3 * colour[1], 0.3 * colour[2])
    middle, out = base.plane(start[None] + np.array([0.0, -0.18, 0.05]))
    knob = button("jacket_button", middle[0] + 0.01 * out[0], out[0], 0.1, dark)
    return grid_surface("front_edge", edge, False, suiting(colour), normal), knob
