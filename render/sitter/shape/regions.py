"""Where things are on the head: lips, lids, ears, hairline, brows, beard, and the named places.

All regions are defined once on the reference head; the same vertices serve every sitter. Heights
and offsets are in decimetres from the eye line; they were set by eye on the reference head.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.sitter.arrays import Array, bell, smoothstep
from render.sitter.shape.bust import CAPSULE_Z, Bust
from render.sitter.shape.head_data import HeadData

_Curve = tuple[tuple[float, float], ...]
_NECKLINE_BACK: _Curve = (
    *((89, 0.10), (97, 0.13), (103, 0.04), (108, -0.18), (114, -0.36), (120, -0.45)),
    *((127, -0.51), (136, -0.56), (148, -0.62), (165, -0.70), (180, -0.74)),
)
# Hairline height against azimuth [deg], 0 at the nose, 180 at the nape: short and long hair.
HAIRLINE_SHORT: _Curve = (
    *((0, 0.66), (12, 0.665), (22, 0.69), (32, 0.725), (40, 0.71), (47, 0.60), (53, 0.40)),
    *((58, 0.22), (64, 0.10), (70, -0.05), (76, -0.20), (82, -0.24), (86, -0.14)),
    *_NECKLINE_BACK,
)
HAIRLINE_LONG: _Curve = (
    *((0, 0.665), (9, 0.68), (17, 0.68), (25, 0.65), (34, 0.59), (42, 0.51), (48, 0.41)),
    *((54, 0.29), (60, 0.15), (66, 0.05), (72, -0.04), (77, -0.10), (81, -0.07), (85, 0.04)),
    *_NECKLINE_BACK,
)
# A line that has gone back over the temples; the short hairline elsewhere.
HAIRLINE_RECEDING: _Curve = (
    *((0, 0.74), (10, 0.76), (18, 0.83), (26, 0.92), (33, 0.94), (40, 0.88), (46, 0.72)),
    *((53, 0.46), (58, 0.25), (64, 0.11), (70, -0.05), (76, -0.20), (82, -0.24), (86, -0.14)),
    *_NECKLINE_BACK,
)
_BEARD_TOP: _Curve = (
    *((0, -0.50), (10, -0.53), (20, -0.58), (32, -0.50), (45, -0.42), (60, -0.30)),
    *((72, -0.12), (80, -0.10), (90, -0.5), (180, -1.0)),
)
_BEARD_FOOT: _Curve = (
    *((0, -1.30), (30, -1.28), (55, -1.12), (70, -0.95), (80, -0.72), (90, -0.5), (180, -1.0)),
)
# Brow spines: distance from the middle, height, half width; arched and flat.
BROW_X = np.array([0.135, 0.20, 0.28, 0.36, 0.44, 0.52, 0.575])
BROW_ARCHED = np.array([0.150, 0.185, 0.215, 0.235, 0.228, 0.190, 0.145])
BROW_FLAT = np.array([0.157, 0.172, 0.190, 0.200, 0.192, 0.165, 0.135])
BROW_HALF = np.array([0.038, 0.046, 0.044, 0.040, 0.033, 0.024, 0.012])


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """Region weights (n,) in 0..1 by name, and what they were built from."""

    masks: dict[str, Array]
    above_hairline: dict[str, Array]  # "short", "long" -> signed height above the line [dm]
    azimuth: Array  # (n,) [rad] 0 at the nose, + to the sitter's left
    eye_line: Array  # (3,) midpoint of the eye joints on the reference head [dm]


def _follow(curve: _Curve, azimuth: Array) -> Array:
    degrees, value = np.array(curve).T
    return np.asarray(np.interp(np.abs(azimuth), np.radians(degrees), value))


def brow_spine(x: Array, flat: bool) -> tuple[Array, Array]:
    """Height above the eye line and half width of the brow at distance x from the middle [dm]."""
    half = np.interp(x, BROW_X, BROW_HALF) * (1.15 if flat else 1.0)
    return np.interp(x, BROW_X, BROW_FLAT if flat else BROW_ARCHED), half


def build_regions(head: HeadData, bust: Bust) -> Regions:
    """All region weights on the bust's vertices."""
    reference = bust.reference
    eye = 0.5 * (head.joint(head.reference, "l-eye") + head.joint(head.reference, "r-eye"))
    height, z = reference[:, 1] - eye[1], reference[:, 2]
    azimuth = np.arctan2(reference[:, 0], z - CAPSULE_Z)
    masks = dict(head.regions)
    masks["eyelids"] = np.where(z > eye[2] - 0.1, masks["eyelids"], 0)
    masks["ears"] = np.where(height > -1.0, masks["ears"], 0)
    above: dict[str, Array] = {}
    lines = {"short": HAIRLINE_SHORT, "long": HAIRLINE_LONG, "receding": HAIRLINE_RECEDING}
    for name, curve in lines.items():
        above[name] = height - _follow(curve, azimuth)
        on_skull = (1 - np.clip(masks["ears"] * 1.5, 0, 1)) * (height > -0.9)
        masks[f"scalp_{name}"] = smoothstep(-0.02, 0.10, above[name]) * on_skull
    masks["scalp_receding"] *= 1 - 0.8 * smoothstep(0.72, 0.98, height)  # thin on top
    masks |= _blush_zones(reference - eye, height)
    masks |= _beard_zones(masks, reference, height, azimuth)
    for name, flat in (("brow", False), ("brow_flat", True)):
        masks[name] = _brow_zone(np.abs(reference[:, 0]), height, z, flat)
    return Regions(masks, above, azimuth, eye)


def _blob(p: Array, centre: tuple[float, ...], width: tuple[float, ...]) -> Array:
    shift = (p - np.array(centre)) / np.array(width)
    return np.asarray(np.exp(-0.5 * (shift**2).sum(1)))


def _both(p: Array, centre: tuple[float, float, float], width: tuple[float, ...]) -> Array:
    x, y, z = centre
    return _blob(p, (x, y, z), width) + _blob(p, (-x, y, z), width)


def _blush_zones(p: Array, height: Array) -> dict[str, Array]:
    """Soft zones of colour and gloss; p (n, 3) is measured from the eye line."""
    forehead = _blob(p, (0, 0.50, 0.29), (0.5, 0.25, 0.5))
    nose = _blob(p, (0, -0.34, 0.50), (0.16, 0.15, 0.22))
    chin = _blob(p, (0, -0.92, 0.31), (0.25, 0.16, 0.3))
    shine = _blob(p, (0, 0.5, 0.29), (0.34, 0.26, 0.5))
    shine = shine + _blob(p, (0, -0.1, 0.39), (0.11, 0.30, 0.4))
    shine = shine + 0.8 * nose + 0.6 * _blob(p, (0, -0.92, 0.31), (0.2, 0.12, 0.2))
    return {
        "cheek": _both(p, (0.44, -0.32, 0.01), (0.20, 0.16, 0.3)),
        "nose": nose,
        "nose_wing": _both(p, (0.14, -0.40, 0.32), (0.07, 0.08, 0.1)),
        "under_eye": _both(p, (0.27, -0.13, 0.1), (0.13, 0.055, 0.2)),
        "eye_socket": _both(p, (0.29, 0.06, 0.1), (0.2, 0.12, 0.2)),
        "chin": chin,
        "forehead": forehead,
        "shine": np.clip(shine, 0, 1),
        "neck": smoothstep(-0.9, -1.2, height),
    }


def _beard_zones(
    masks: dict[str, Array], reference: Array, height: Array, azimuth: Array
) -> dict[str, Array]:
    x, z = np.abs(reference[:, 0]), reference[:, 2]
    skin = 1 - masks["lips"]
    jaw = smoothstep(-0.05, 0.10, _follow(_BEARD_TOP, azimuth) - height)
    jaw = jaw * smoothstep(-0.12, 0.08, height - _follow(_BEARD_FOOT, azimuth)) * skin
    jaw = jaw * (np.abs(azimuth) < np.radians(86)) * (1 - np.clip(masks["ears"] * 2, 0, 1))
    above_lip = height + 0.63
    upper = bell(x, 0.12, 0.13) * smoothstep(0, 0.06, above_lip) * skin * (z > 1.2)
    upper = upper * (1 - smoothstep(0.15, 0.22, above_lip))
    upper = upper * (1 - smoothstep(0, 0.3, masks["nose_wing"]))
    return {"beard": np.clip(jaw * (z > 0.2), 0, 1), "moustache": upper}


def _brow_zone(x: Array, height: Array, z: Array, flat: bool) -> Array:
    spine, half = brow_spine(x, flat)
    across = np.exp(-0.5 * ((height - spine) / (half * 0.75)) ** 2)
    ends = smoothstep(0.10, 0.16, x) * (1 - smoothstep(0.54, 0.61, x))
    return np.asarray(across * ends * (z > 0.8))
