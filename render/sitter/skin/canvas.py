"""The sheet that the skin is painted on: where each part of a face lies, and how large it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, grey_closing

from render.sitter.arrays import M_PER_DM, Array, Mask, Rng
from render.sitter.shape.regions import Regions
from render.sitter.shape.texels import Texels
from render.sitter.skin.grain import fine_noise, lattice, pores, wide_noise

DETAIL = 2  # maps have this many texels to one of the baked regions, along each side
MAP_WIDTH_MM, MAP_HEIGHT_MM = 565.5, 424.4  # the map on the reference head (see capsule_uv)
EYE_LINE_V = 0.647  # map height of the eyes on the reference head


def enlarged(low: Array) -> Array:
    """An image (h, w) at twice the size, joined in azimuth."""
    h, w = low.shape
    tall = np.empty((2 * h, w), np.float32)
    up = np.concatenate([low[:1], low[:-1]])
    down = np.concatenate([low[1:], low[-1:]])
    tall[0::2], tall[1::2] = 0.75 * low + 0.25 * up, 0.75 * low + 0.25 * down
    out = np.empty((2 * h, 2 * w), np.float32)
    out[:, 0::2] = 0.75 * tall + 0.25 * np.roll(tall, 1, 1)
    out[:, 1::2] = 0.75 * tall + 0.25 * np.roll(tall, -1, 1)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Canvas:
    """Regions at half the maps' size, and a supply of noise; lengths are in millimetres."""

    zones: dict[str, Array]  # (h, w) 0..1
    area: Array  # (h, w) true skin area of each texel [m2]
    rng: Rng

    @property
    def low(self) -> tuple[int, int]:
        """Rows and columns of the regions."""
        h, w = self.area.shape
        return h, w

    @property
    def full(self) -> tuple[int, int]:
        """Rows and columns of the maps."""
        return DETAIL * self.low[0], DETAIL * self.low[1]

    @property
    def texel_mm(self) -> float:
        """Width of a texel of the maps."""
        return MAP_WIDTH_MM / self.full[1]

    def wide(self, width_mm: float) -> Array:
        """Wide noise at the size of the regions."""
        return wide_noise(self.low, width_mm / (DETAIL * self.texel_mm), self.rng)

    def fine(self, width_mm: float) -> Array:
        """Fine noise at the size of the maps."""
        return fine_noise(self.full, width_mm / self.texel_mm, self.rng)

    def lattice(self, spacing_mm: float, width_mm: float) -> Array:
        """Fine lines round cells, at the size of the maps; never finer than texels can show."""
        spacing, width = spacing_mm / self.texel_mm, width_mm / self.texel_mm
        return lattice(self.full, max(spacing, 3.0), max(width, 0.8), self.rng)

    def pores(self, spacing_mm: float, radius_mm: float) -> Array:
        """Pits at the size of the maps."""
        spacing, radius = spacing_mm / self.texel_mm, radius_mm / self.texel_mm
        return pores(self.full, max(spacing, 3.0), max(radius, 0.8), self.rng)

    def blurred(self, image: Array, width_mm: float) -> Array:
        """A region's image, softened."""
        return np.asarray(gaussian_filter(image, width_mm / (DETAIL * self.texel_mm)))


def canvas_of(regions: Regions, texels: Texels, vertices: Array, seed: int) -> Canvas:
    """Regions and areas baked for one sitter; vertices (n, 3) [dm]."""
    zones = {
        name: np.clip(texels.bake(mask), 0, 1).astype(np.float32)
        for name, mask in regions.masks.items()
    }
    canvas = Canvas(zones, _areas(texels, vertices), np.random.default_rng(seed))
    gap = max(1, round(3.9 / (DETAIL * canvas.texel_mm)))  # the lips meet: no bare line between
    zones["lips"] = grey_closing(zones["lips"], (gap, gap))
    for name in ("lips", "ears", "eyelids"):
        zones[name] = canvas.blurred(zones[name], 0.45)
    return canvas


def _areas(texels: Texels, vertices: Array) -> Array:
    """True area of every texel [m2], from the places of its neighbours."""
    place = np.stack([texels.bake(vertices[:, k]) for k in range(3)], -1) * M_PER_DM
    across = 0.5 * (np.roll(place, -1, 1) - np.roll(place, 1, 1))
    down = np.gradient(place, axis=0)
    return np.asarray(np.linalg.norm(np.cross(across, down), axis=-1).astype(np.float32))


def beard_zone(zones: dict[str, Array]) -> Array:
    """Where a beard grows (h, w)."""
    return np.clip(zones["beard"] * 0.85 + zones["moustache"], 0, 1)


def plain_skin(zones: dict[str, Array]) -> Mask:
    """Texels (h, w) of plain facial skin: no lips, brows, beard, scalp or eye surroundings."""
    brows = np.maximum(zones["brow"], zones["brow_flat"])
    scalp = np.maximum(zones["scalp_short"], zones["scalp_long"])
    return np.asarray(
        (zones["face"] > 0.9)
        & (zones["lips"] < 0.05)
        & (brows < 0.05)
        & (scalp < 0.02)
        & (zones["under_eye"] < 0.2)
        & (zones["eye_socket"] < 0.2)
        & (beard_zone(zones) < 0.1)
    )
