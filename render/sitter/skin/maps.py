"""Skin maps of a sitter: diffuse colour by region, gloss, pores and fine lines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d, grey_closing, zoom

from render.photometry.srgb import luminance
from render.sitter.arrays import Array, Mask, Rng, smoothstep
from render.sitter.body import Skin
from render.sitter.cast import SkinTone
from render.sitter.shape.regions import Regions
from render.sitter.shape.texels import Texels
from render.sitter.skin.tones import rgb_from_lab, skin_lab

_Add = Callable[[Array, float, float, float], None]

_GRAIN_TILE = 512  # fine grain is one tile, repeated [texels]
_MATT, _ROOT_RELIEF_M = 0.95, 1.6e-4  # scalp under hair: roughness, bumps; set by eye
_DESIGN_WIDTH = 2048  # widths and blurs below are in texels of a map this wide


@dataclass(frozen=True, slots=True, eq=False)
class _Canvas:
    """Baked regions and a supply of noise at one map size."""

    zones: dict[str, Array]
    rng: Rng
    scale: float  # texels per design texel

    def blur(self, image: Array, width: float) -> Array:
        return np.asarray(gaussian_filter(image, width * self.scale))

    def noise(self, width: float) -> Array:
        """Smooth noise (h, w) of unit variance, this wide [design texels], joined in azimuth."""
        height, columns = self.zones["lips"].shape
        s = width * self.scale
        if s < 3.5 and columns >= 2 * _GRAIN_TILE:
            tile = self.rng.standard_normal((_GRAIN_TILE, _GRAIN_TILE)).astype(np.float32)
            tile = gaussian_filter(tile, s, mode="wrap")
            tile = np.roll(tile / tile.std(), self.rng.integers(0, _GRAIN_TILE, 2), (0, 1))
            repeats = (-(-height // _GRAIN_TILE), -(-columns // _GRAIN_TILE))
            return np.asarray(np.tile(tile, repeats)[:height, :columns])
        # Wide noise is drawn on a coarse grid.
        coarse = max(1, int(s // 3))
        size = (height // coarse + 2, columns // coarse)
        grain = self.rng.standard_normal(size).astype(np.float32)
        grain = gaussian_filter(grain, s / coarse, mode=["nearest", "wrap"])
        if coarse > 1:
            grain = zoom(np.pad(grain, ((0, 2), (0, 2)), "wrap"), coarse, order=1)
        grain = grain[:height, :columns]
        return np.asarray(grain / grain.std())


def _canvas(regions: Regions, texels: Texels, seed: int) -> _Canvas:
    zones = {name: np.clip(texels.bake(mask), 0, 1) for name, mask in regions.masks.items()}
    scale = texels.corners.shape[1] / _DESIGN_WIDTH
    size = max(1, int(14 * scale))
    zones["lips"] = grey_closing(zones["lips"], (size, size))
    for name in ("lips", "ears", "eyelids"):
        zones[name] = gaussian_filter(zones[name], 1.6 * scale)
    return _Canvas(zones, np.random.default_rng(seed), scale)


def plain_skin(zones: dict[str, Array]) -> Mask:
    """Texels (h, w) of plain facial skin: no lips, brows, beard, scalp or eye surroundings."""
    beard = np.clip(zones["beard"] * 0.85 + zones["moustache"], 0, 1)
    brows = np.maximum(zones["brow"], zones["brow_flat"])
    scalp = np.maximum(zones["scalp_short"], zones["scalp_long"])
    return np.asarray(
        (zones["face"] > 0.9)
        & (zones["lips"] < 0.05)
        & (brows < 0.05)
        & (scalp < 0.02)
        & (zones["under_eye"] < 0.2)
        & (zones["eye_socket"] < 0.2)
        & (beard < 0.1)
    )


def skin_maps(
    regions: Regions,
    texels: Texels,
    tone: SkinTone,
    seed: int,
    scalp: tuple[str, tuple[float, float, float] | None],
) -> tuple[Skin, Mask]:
    """Maps of one sitter, and the texels (h, w) of plain facial skin.

    scalp : hairline name and the colour that the scalp takes under hair, None for a shaved one.
    The mean luminous reflectance over plain skin equals tone.reflectance.
    """
    canvas = _canvas(regions, texels, seed)
    dots = smoothstep(0.9, 1.7, canvas.noise(0.75))
    colour = _colour(canvas, tone, dots, scalp)
    rough, relief = _roughness(canvas, tone), _relief(canvas, tone, dots)
    plain = plain_skin(canvas.zones)
    colour *= tone.reflectance / luminance(colour[plain].astype(np.float64)).mean()
    line, tint = scalp
    if tint is not None:
        # Under a cover of hair the scalp takes the hair's colour, as roots hide the skin.
        cover = smoothstep(0.55, 1.0, canvas.blur(canvas.zones[f"scalp_{line}"], 12))[..., None]
        cover = np.where(plain[..., None], 0.0, cover)
        colour = colour * (1 - cover) + cover * np.array(tint)
        # Roots and fuzz break up the skin's gloss: what shows between strands is matt.
        rough += (_MATT - rough) * cover[..., 0]
        relief += cover[..., 0] * canvas.noise(0.9) * _ROOT_RELIEF_M
    albedo, roughness, relief_m = (m.astype(np.float32) for m in (colour, rough, relief))
    return Skin(albedo, roughness, relief_m), plain


def _beard(zones: dict[str, Array]) -> Array:
    return np.clip(zones["beard"] * 0.85 + zones["moustache"], 0, 1)


def _colour(
    canvas: _Canvas,
    tone: SkinTone,
    dots: Array,
    scalp: tuple[str, tuple[float, float, float] | None],
) -> Array:
    """Linear sRGB reflectance (h, w, 3), before it is scaled to the asked reflectance."""
    zones, noise = canvas.zones, canvas.noise
    base = skin_lab(tone.reflectance)
    base[1:] += tone.undertone
    light = float(base[0]) / 65.0
    # In dark skin the pigment hides the blood.
    red = tone.redness * (0.35 + 0.65 * float(np.clip(light, 0.4, 1.1)))
    lab = np.empty((*zones["lips"].shape, 3), np.float32)
    lab[:] = base
    broad, mid, fine = noise(28), noise(8), noise(2.2)
    lab[..., 0] += light * (0.8 * broad + 0.75 * mid + 0.7 * fine)
    lab[..., 1] += red * (0.8 * noise(40) + 0.85 * noise(10) + 0.5 * fine)
    lab[..., 2] += 0.35 * noise(14)

    def add(mask: Array, d_l: float, d_a: float, d_b: float) -> None:
        lab[...] += mask[..., None] * np.array([d_l, d_a, d_b], np.float32)

    for mask, *shift in _blush(canvas, tone, red, mid):
        add(mask, *shift)
    _marks(canvas, tone, light, add)
    # Lips carry fine upright lines.
    lines = _lip_lines(canvas)
    add(zones["lips"] * (1 + 0.10 * lines), -9.0 * light - 0.5, 8.0 * light + 3, 0.5 - 1.5 * light)
    if tone.stubble > 0:
        shadow = _beard(zones) * (1 + 0.15 * mid) * tone.stubble * (0.55 + 1.1 * dots)
        add(shadow, -7.5 * min(1, light + 0.15), -3.2, -3.6)
    line, tint = scalp
    if tint is None:
        shaved = zones[f"scalp_{line}"] * 0.7 * (0.6 + dots)
        add(shaved, -9.0 * min(1, light + 0.1), -3.0, -3.5)
    add(zones["brow_flat" if tone.flat_brows else "brow"] * 0.35, -30 * light, 0.5, -3)
    return np.clip(rgb_from_lab(lab), 0.004, 0.95)


def _blush(
    canvas: _Canvas, tone: SkinTone, red: float, mid: Array
) -> list[tuple[Array, float, float, float]]:
    """Zones with their shift in L*, a*, b*; amounts set by eye."""
    zones = canvas.zones
    return [
        (zones["cheek"] * (1 + 0.25 * mid), -1.6 * red, 4.0 * red, 0.6),
        (zones["nose"], -1.4 * red, 3.3 * red, -0.4),
        (zones["nose_wing"], -2.3 * red, 3.2 * red, -0.4),
        (zones["chin"], -0.5, 1.6 * red, -0.3),
        (zones["forehead"], 0.9, -0.5, 0.9),
        (canvas.blur(zones["ears"], 9), -1.2, 1.3 * red, -0.9),
        (zones["eye_socket"], -1.8 - 1.4 * tone.age, 1.2 * red, -1.0),
        (zones["under_eye"], -2.2 - 2.6 * tone.age, 1.3, -2.4),
        (zones["eyelids"], -2.5, 2.8 * red, -0.5),
        (zones["neck"], -0.8, -0.6, 0.8),
    ]


def _marks(canvas: _Canvas, tone: SkinTone, light: float, add: _Add) -> None:
    """Freckles, sun spots and a few moles."""
    zones, noise = canvas.zones, canvas.noise
    if tone.freckles > 0:
        where = zones["cheek"] + 0.9 * zones["nose"] + 0.35 * zones["forehead"]
        where = np.clip(where + 0.25 * zones["under_eye"] + 0.12, 0, 1)
        spots = smoothstep(1.0, 2.0, noise(1.9) * 0.75 + noise(3.2) * 0.65)
        add(spots * where * tone.freckles, -9 * light, 3.0, 5.5)
    if tone.age > 0.5:
        add(smoothstep(2.0, 2.8, noise(5)) * (tone.age - 0.4), -5, 1.5, 3)
    add(smoothstep(4.4, 4.9, noise(2.6)), -16 * light, 2, 2)


def _lip_lines(canvas: _Canvas) -> Array:
    grain = canvas.rng.standard_normal(canvas.zones["lips"].shape).astype(np.float32)
    lines = gaussian_filter1d(canvas.blur(grain, 0.9), 9 * canvas.scale, axis=0)
    return np.asarray(lines / lines.std())


def _roughness(canvas: _Canvas, tone: SkinTone) -> Array:
    """Roughness (h, w) of the surface reflection: shiny brow, nose and lips, dull neck."""
    zones = canvas.zones
    rough = 0.475 - 0.07 * zones["shine"] - 0.02 * zones["cheek"] - 0.02 * zones["nose"]
    rough += 0.05 * zones["neck"] + 0.05 * zones["ears"] - 0.03 * zones["eyelids"]
    rough += 0.03 * _beard(zones) * tone.stubble - 0.16 * zones["lips"] + 0.03 * tone.age
    rough += 0.015 * canvas.noise(8) + 0.012 * canvas.noise(28)
    return np.asarray(np.clip(rough, 0.22, 0.75))


def _relief(canvas: _Canvas, tone: SkinTone, dots: Array) -> Array:
    """Height (h, w) [m] of pores, lip lines, stubble and, with age, forehead lines."""
    zones = canvas.zones
    pores = -np.clip(canvas.noise(0.62) - 0.6, 0, 2.5)
    depth = 0.35 + 0.55 * zones["nose"] + 0.45 * zones["cheek"] + 0.25 * zones["forehead"]
    depth = (depth + 0.2 * zones["chin"]) * (1 - zones["lips"])
    height = depth * pores * 3.6e-5 + canvas.noise(1.2) * 1.2e-5 * (1 - 0.5 * zones["lips"])
    height = height + canvas.noise(3.2) * 1.3e-5 + zones["lips"] * _lip_lines(canvas) * 3.2e-5
    height = height + _beard(zones) * tone.stubble * dots * 3e-5
    if tone.age > 0.45:
        rows = np.arange(height.shape[0])[:, None] / canvas.scale
        wobble = gaussian_filter1d(canvas.noise(30), 20 * canvas.scale, axis=1)
        lines = np.clip(np.sin(rows / 7.5 + 1.5 * wobble) - 0.3, 0, 1)
        height = height - zones["forehead"] * lines * 1.1e-4 * (tone.age - 0.35)
    return np.asarray(height)
