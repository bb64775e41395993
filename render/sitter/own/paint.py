"""Colours of an own mesh: its texture or painted corners as skin, or a plain tone of skin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.photometry.srgb import luminance
from render.sitter.arrays import Array, Index
from render.sitter.body import Painted, Skin
from render.sitter.own.parts import Part
from render.sitter.skin.gloss import PLAIN
from render.sitter.skin.tones import LEAST_CHANNEL, MOST_CHANNEL, rgb_from_lab, skin_lab

USUAL_REFLECTANCE = 0.35  # luminous, without a texture: the light skin of the 24-patch chart
_FLAT = np.zeros((1, 1), np.float32)  # a scan brings its own relief
_OTHER_ROUGHNESS = 0.45  # of eyes, hair caps and clothes with a material of their own; by eye
_OTHER_INDEX = 1.5  # common for plastics and varnish, from memory
_GREY = (0.18, 0.18, 0.18)


@dataclass(frozen=True, slots=True, eq=False)
class Wrapped:
    """Triangles with a map: what a surface needs beside its positions."""

    source: Index  # (n,) vertex of the part that each vertex here stands for
    triangles: Index  # (m, 3)
    uv: Array  # (n, 2)
    texture: Array  # (h, w, 3) linear sRGB, row 0 is v = 1


def wrapped(part: Part, triangles: Index) -> Wrapped:
    """A part's triangles (m, 3) with their map.

    A texture keeps its own uv. Colours of corners become a map with four texels for each triangle:
    read between three of their middles, they give back the straight mix of the corners' colours.
    """
    if part.colours is not None:
        return _painted(part.colours, triangles)
    source, inverse = np.unique(triangles, return_inverse=True)
    faces = inverse.reshape(-1, 3)
    if part.texture is not None and part.uv is not None:
        return Wrapped(source, faces, np.nan_to_num(part.uv[source]), part.texture)
    plain = np.array(part.plain or _GREY, np.float32).reshape(1, 1, 3)
    return Wrapped(source, faces, np.zeros((len(source), 2)), plain)


def _painted(colours: Array, triangles: Index) -> Wrapped:
    count = len(triangles)
    wide = int(np.ceil(np.sqrt(count)))
    high = -(-count // wide)
    cells = np.zeros((high, 2, wide, 2, 3), np.float32)
    a, b, c = (colours[triangles[:, k]].astype(np.float32) for k in range(3))
    row, column = np.divmod(np.arange(count), wide)
    cells[row, 0, column, 0], cells[row, 0, column, 1] = a, b
    cells[row, 1, column, 0], cells[row, 1, column, 1] = c, np.maximum(b + c - a, 0)
    u = (column[:, None] * 2 + np.array([0.5, 1.5, 0.5])) / (2 * wide)
    v = 1 - (row[:, None] * 2 + np.array([0.5, 0.5, 1.5])) / (2 * high)
    faces = np.arange(3 * count).reshape(-1, 3)
    texture = cells.reshape(2 * high, 2 * wide, 3)
    return Wrapped(triangles.ravel(), faces, np.stack([u, v], -1).reshape(-1, 2), texture)


def colour_at(texture: Array, uv: Array) -> Array:
    """Colours (n, 3) of a map (h, w, 3) at uv (n, 2), which repeat beyond 0..1."""
    high, wide = texture.shape[:2]
    column = np.floor((uv[:, 0] % 1.0) * wide).astype(int).clip(0, wide - 1)
    row = np.floor(((1.0 - uv[:, 1]) % 1.0) * high).astype(int).clip(0, high - 1)
    return np.asarray(texture[row, column])


def coloured(part: Part) -> bool:
    """Whether a part brings colours of its own that vary: a texture or painted corners."""
    return part.colours is not None or (part.texture is not None and part.uv is not None)


def skin_of(
    part: Part, texture: Array, face: Array, reflectance: float | None
) -> tuple[Skin, float]:
    """The skin, and its luminous reflectance in the face.

    texture     : (h, w, 3) the part's map
    face        : (k, 3) colours of the map on forehead, cheeks and chin
    reflectance : asked for; scales the map
    """
    if not coloured(part):
        level = USUAL_REFLECTANCE if reflectance is None else reflectance
        colour = rgb_from_lab(skin_lab(level))
        colour = colour * level / float(luminance(np.asarray(colour, np.float64)))
        return _skin(colour.reshape(1, 1, 3)), level
    level = float(np.mean(luminance(np.asarray(face, np.float64)))) if len(face) else 0.0
    if reflectance is None or level <= 0:
        return _skin(texture), level
    return _skin(texture * (reflectance / level)), reflectance


def _skin(albedo: Array) -> Skin:
    colours = np.clip(albedo, LEAST_CHANNEL, MOST_CHANNEL).astype(np.float32)
    rough = np.full((1, 1), np.sqrt(PLAIN), np.float32)
    return Skin(colours, rough, _FLAT)


def other_of(texture: Array) -> Painted:
    """What is not skin: eyes, a hair cap, clothes."""
    colours = np.clip(texture, 0, MOST_CHANNEL).astype(np.float32)
    return Painted(colours, _OTHER_ROUGHNESS, _OTHER_INDEX)
