"""What cloth is made of close up: knit, ribs, plain weave, twill and felt as repeating relief."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from render.sitter.arrays import Array
from render.sitter.body import Cloth, Floats

Colour = tuple[float, float, float]

# Repeats of one relief tile per decimetre of cloth, so that threads come out at their true size;
# thread counts from memory: jersey 10 wales, shirting 40 threads, suiting 25 ends a centimetre.
_SIZE = 256  # texels of a tile
_STITCHES = 16  # stitches or threads across one tile
RIBS_DM = 22.0  # ribs of a neck band in a decimetre, from memory


def _mesh(size: int = _SIZE) -> tuple[Array, Array]:
    y, x = np.mgrid[0:size, 0:size] / size * 2 * np.pi
    return x, y


def _grain(size: int, blur: float, seed: int) -> Array:
    noise = np.random.default_rng(seed).standard_normal((size, size))
    soft = gaussian_filter(noise, blur, mode="wrap")
    return np.asarray(soft / soft.std())


def _finished(height: Array, tall_m: float) -> Floats:
    return np.asarray(tall_m * height, np.float32)


def knit(colour: Colour) -> Cloth:
    """Fine jersey: columns of V-shaped stitches."""
    x, y = _mesh()
    legs = np.abs(np.sin(0.5 * _STITCHES * x))
    height = 0.7 * legs + 0.5 * np.sin(_STITCHES * y + 2.2 * np.abs(np.cos(0.5 * _STITCHES * x)))
    height = height + 0.25 * _grain(_SIZE, 1.2, 0) + 0.25 * _grain(_SIZE, 6, 1)
    return Cloth(colour, 0.85, 0.5, _finished(height, 0.7e-4), 100 / _STITCHES)


def ribs(colour: Colour) -> Cloth:
    """Ribbed band: u counts ribs."""
    x = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    height = np.abs(np.sin(x / 2)) ** 0.7
    return Cloth(colour, 0.85, 0.5, _finished(np.tile(height, (8, 1)), 3.0e-4), 1.0)


def shirting(colour: Colour) -> Cloth:
    """Plain weave of thin smooth yarn."""
    x, y = _mesh()
    height = np.sin(_STITCHES * x) * np.sin(_STITCHES * y) + 0.6 * _grain(_SIZE, 1.5, 2)
    height = height + 0.5 * _grain(_SIZE, 14, 3)
    return Cloth(colour, 0.65, 0.25, _finished(height, 0.22e-4), 400 / _STITCHES)


def suiting(colour: Colour) -> Cloth:
    """Twill: fine diagonals of wool."""
    x, y = _mesh()
    height = np.sin(_STITCHES * (x + y)) + 0.4 * np.sin(_STITCHES * y) + 0.7 * _grain(_SIZE, 1.3, 4)
    height = height + 0.5 * _grain(_SIZE, 10, 5)
    return Cloth(colour, 0.8, 0.45, _finished(height, 0.35e-4), 250 / _STITCHES)


def drapery(colour: Colour) -> Cloth:
    """Soft matt drape."""
    x, y = _mesh()
    height = np.sin(_STITCHES * x) * np.sin(_STITCHES * y) + _grain(_SIZE, 1.5, 6)
    return Cloth(colour, 0.75, 0.5, _finished(height, 0.3e-4), 250 / _STITCHES)


def felt(colour: Colour) -> Cloth:
    """Pressed wool without threads."""
    height = _grain(_SIZE, 1.4, 7) + 0.8 * _grain(_SIZE, 4.0, 8) + 0.6 * _grain(_SIZE, 16.0, 9)
    return Cloth(colour, 0.9, 0.7, _finished(height, 0.5e-4), 2.5)


def horn(colour: Colour) -> Cloth:
    """Smooth buttons and sewing thread."""
    return Cloth(colour, 0.35, 0.0, np.zeros((4, 4), np.float32), 1.0)
