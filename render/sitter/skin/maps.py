"""Skin maps of a sitter: body colour by region, gloss and relief."""

from __future__ import annotations

import numpy as np

from render.photometry.srgb import luminance
from render.sitter.arrays import Array, Mask, smoothstep
from render.sitter.body import Skin
from render.sitter.cast import SkinTone
from render.sitter.shape.regions import Regions
from render.sitter.shape.texels import Texels
from render.sitter.skin.canvas import Canvas, beard_zone, canvas_of, enlarged, plain_skin
from render.sitter.skin.gloss import roughness
from render.sitter.skin.relief import lip_lines, relief
from render.sitter.skin.tones import LEAST_CHANNEL, MOST_CHANNEL, Palette, palette

Scalp = tuple[str, tuple[float, float, float] | None]

# Natural log of the factor on melanin and on blood, region by region; set by eye.
_REGIONS: dict[str, tuple[float, float]] = {
    "cheek": (-0.02, 0.42),
    "nose": (0.02, 0.38),
    "nose_wing": (0.05, 0.42),
    "chin": (0.02, 0.16),
    "forehead": (0.06, -0.12),
    "eyelids": (0.10, 0.30),
    "eye_socket": (0.08, 0.12),
    "under_eye": (0.12, 0.16),
    "neck": (0.04, -0.30),
}
_EARS = (-0.05, 0.40)
# Lips: thin, hardly pigmented skin over many vessels; the lower one has the less melanin. Lips of
# dark skin keep most of theirs: common practice, no source.
_LIPS, _LOWER_LIP = (-0.10, 1.70), (-0.60, 0.10)
_DARK_LIPS, _DARK_LOWER_LIP = 0.10, -0.42  # melanin
_DARK, _PALE = 0.10, 0.34  # skin's reflectance at which lips are wholly the one and the other
_STALE = {"under_eye": 0.45, "eye_socket": 0.20, "lips": 0.18}  # oxygenation lost
_OLD_LIDS = 0.35  # more melanin and less oxygen round old eyes
# Melanin added by spots, as a volume share of the epidermis; set by eye.
FRECKLE, SUN_SPOT, MOLE = 0.030, 0.035, 0.16
# What hair under the skin takes from red, green and blue; set by eye.
_SHADOW = np.array([0.36, 0.31, 0.26], np.float32)
_BROW_SHADOW = 0.22
UNDER_BEARD = 0.4  # share of the painted beard shadow that stays under a grown beard; set by eye
_MATT, _ROOT_RELIEF_M = 0.95, 1.6e-4  # scalp under hair: roughness, bumps; set by eye


def skin_maps(
    regions: Regions,
    texels: Texels,
    tone: SkinTone,
    seed: int,
    scalp: Scalp,
    vertices: Array,
) -> tuple[Skin, Mask]:
    """Maps of one sitter, and the texels (h, w) of plain facial skin.

    texels   : of a map half as wide and high (see `DETAIL`)
    scalp    : hairline name and the colour that the scalp takes under hair, None for a shaved one
    vertices : (n, 3) the sitter [dm], for the true area of each texel

    The albedo is the skin's body colour under uniform light, gloss left out. Its luminance,
    averaged over the area of the plain facial skin, equals tone.reflectance.
    """
    canvas = canvas_of(regions, texels, vertices, seed)
    plain = plain_skin(canvas.zones)
    dots = smoothstep(0.9, 1.7, canvas.fine(0.21)).astype(np.float32)
    lines = lip_lines(canvas)
    colours = palette(tone.reflectance, tone.redness, tone.undertone)
    colour = _body_colour(canvas, tone, colours, plain, lines)
    everywhere = np.repeat(np.repeat(plain, 2, 0), 2, 1)
    weight = np.repeat(np.repeat(canvas.area * plain, 2, 0), 2, 1)
    mean = np.average(luminance(colour[everywhere].astype(np.float64)), weights=weight[everywhere])
    colour *= np.float32(tone.reflectance / mean)
    colour *= _hair_under_the_skin(canvas, tone, scalp, dots)[..., None] * -_SHADOW + 1
    np.clip(colour, LEAST_CHANNEL, MOST_CHANNEL, out=colour)
    rough = enlarged(roughness(canvas, tone))
    height = relief(canvas, tone, dots, lines)
    if scalp[1] is not None:
        _cover(canvas, scalp, plain, (colour, rough, height))
    colour, rough, height = (part.astype(np.float16) for part in (colour, rough, height))
    return Skin(colour, rough, height), everywhere


def _body_colour(
    canvas: Canvas, tone: SkinTone, colours: Palette, plain: Mask, lines: Array
) -> Array:
    """Linear sRGB reflectance (h, w, 3), before it is scaled to the asked reflectance."""
    zones = canvas.zones
    melanin, blood = _by_region(canvas, tone)
    for field in (melanin, blood):
        # The regions lighten and darken about the asked tone.
        field -= np.average(field[plain], weights=canvas.area[plain])
    melanin, blood = enlarged(melanin), enlarged(blood)
    fine, mid = canvas.fine(0.6), canvas.fine(2.2)
    melanin += 0.045 * fine + 0.035 * mid
    blood += 0.10 * canvas.fine(0.8) + 0.15 * mid
    lips = enlarged(zones["lips"])
    blood += 0.10 * lips * lines
    added = _spots(canvas, tone)
    if added is not None:
        # Spots add melanin: they show on light skin and drown in dark.
        np.multiply(added, 1 / colours.melanin, out=added)
        melanin += np.log1p(added)
    out = colours.paint(melanin, blood)
    lost = np.sum([share * zones[name] for name, share in _STALE.items()], 0)
    stale = enlarged(lost * (1 + _OLD_LIDS * tone.age))
    return np.asarray(out * np.exp(stale[..., None] * colours.bluish))


def _by_region(canvas: Canvas, tone: SkinTone) -> tuple[Array, Array]:
    """Log factors (h, w) on melanin and blood at the size of the regions."""
    zones = canvas.zones
    melanin = 0.05 * canvas.wide(8.0) + 0.03 * canvas.wide(4.0)
    blood = 0.10 * canvas.wide(11.0) + 0.08 * canvas.wide(3.0)
    patchy = 1 + 0.22 * canvas.wide(2.5)
    for name, (m, b) in _REGIONS.items():
        melanin += m * zones[name]
        blood += b * zones[name] * patchy
    ears = canvas.blurred(zones["ears"], 2.5)
    melanin += _EARS[0] * ears
    blood += _EARS[1] * ears
    melanin += _OLD_LIDS * tone.age * (0.4 * zones["under_eye"] + 0.25 * zones["eye_socket"])
    lips = zones["lips"]
    rows = np.arange(lips.shape[0])[:, None]
    middle = float((lips * rows).sum() / lips.sum())
    below = lips * smoothstep(-1.5, 1.5, (rows - middle) * 2 * canvas.texel_mm)
    # What the lips have replaces what the face round them has.
    tones = _DARK, _PALE
    both = float(np.interp(tone.reflectance, tones, (_DARK_LIPS, _LIPS[0])))
    lower = float(np.interp(tone.reflectance, tones, (_DARK_LOWER_LIP, _LOWER_LIP[0])))
    melanin = melanin * (1 - lips) + both * lips + lower * below
    blood = blood * (1 - lips) + _LIPS[1] * lips + _LOWER_LIP[1] * below
    return melanin.astype(np.float32), blood.astype(np.float32)


def _spots(canvas: Canvas, tone: SkinTone) -> Array:
    """Melanin (h, w) that freckles, sun spots and moles add, as a volume share."""
    zones = canvas.zones
    off_lips = enlarged(1 - zones["lips"])
    added = MOLE * smoothstep(4.4, 4.9, canvas.fine(0.72))
    if tone.freckles > 0:
        where = zones["cheek"] + 0.9 * zones["nose"] + 0.35 * zones["forehead"]
        where = np.clip(where + 0.25 * zones["under_eye"] + 0.12, 0, 1)
        grain = 0.75 * canvas.fine(0.52) + 0.65 * canvas.fine(0.88)
        added += (FRECKLE * tone.freckles) * smoothstep(1.0, 2.0, grain) * enlarged(where)
    if tone.age > 0.5:
        blots = smoothstep(1.6, 2.8, canvas.fine(1.5) * 0.95 + canvas.fine(0.6) * 0.25)
        added += (SUN_SPOT * (tone.age - 0.4)) * blots
    return np.asarray(added * off_lips, np.float32)


def _hair_under_the_skin(canvas: Canvas, tone: SkinTone, scalp: Scalp, dots: Array) -> Array:
    """Depth (h, w) of the shadow of stubble, of a shaved scalp and under the brows."""
    zones = canvas.zones
    brow = zones["brow_flat" if tone.flat_brows else "brow"]
    shadow = enlarged(brow * (_BROW_SHADOW / float(_SHADOW[0])))
    if tone.stubble > 0:
        grown = enlarged(beard_zone(zones) * (1 + 0.15 * canvas.wide(2.2)))
        shadow += tone.stubble * grown * (0.45 + 0.9 * dots)
    if scalp[1] is None:
        shadow += enlarged(zones[f"scalp_{scalp[0]}"]) * 0.6 * (0.5 + dots)
    return np.clip(shadow, 0, 2)


def _cover(canvas: Canvas, scalp: Scalp, plain: Mask, maps: tuple[Array, Array, Array]) -> None:
    """Under a cover of hair the scalp takes the hair's colour, as roots hide the skin."""
    colour, rough, height = maps
    line, tint = scalp
    cover = smoothstep(0.55, 1.0, canvas.blurred(canvas.zones[f"scalp_{line}"], 3.3))
    cover = enlarged(np.where(plain, 0.0, cover))
    colour += cover[..., None] * (np.array(tint, np.float32) - colour)
    # Roots and fuzz break up the skin's gloss: what shows between strands is matt.
    rough += (_MATT - rough) * cover
    height += cover * canvas.fine(0.25) * np.float32(_ROOT_RELIEF_M)
