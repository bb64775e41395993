"""What things are made of, in the tracer's own words: skin, eyes, cloth, hair, black housing."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from render.sitter.body import Cloth, Fibre, Painted, Skin
from render.trace.stage import CARD_REFLECTANCE, Dress

Node = dict[str, Any]

# Look of skin beyond its maps; chosen by eye on test portraits, no source.
SKIN_FLATNESS, SKIN_CLEARCOAT, SKIN_CLEARCOAT_GLOSS, SKIN_SHEEN = 0.35, 0.10, 0.55, 0.06
# Look of cloth beyond its data; chosen by eye, no source.
CLOTH_SPECULAR, CLOTH_SHEEN_TINT = 0.25, 0.3


def colour(value: tuple[float, float, float] | float) -> Node:
    """A uniform linear sRGB reflectance."""
    levels = list(value) if isinstance(value, tuple) else value
    return {"type": "rgb", "value": levels}


def matte(reflectance: tuple[float, float, float] | float) -> Node:
    """A one-sided Lambert surface."""
    return {"type": "diffuse", "reflectance": colour(reflectance)}


def two_faced(
    front: tuple[float, float, float] | float, back: tuple[float, float, float] | float
) -> Node:
    """A sheet whose faces reflect differently."""
    return {"type": "twosided", "front": matte(front), "back": matte(back)}


def image(values: Any, wrap: str = "repeat") -> Node:
    """A map (h, w) or (h, w, c), row 0 at v = 1, as the tracer wants it: row 0 at v = 0."""
    pixels = np.asarray(values, np.float32)
    pixels = pixels[..., None] if pixels.ndim == 2 else pixels
    return {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(pixels[::-1])),
        "raw": True,
        "wrap_mode": wrap,
        "filter_type": "bilinear",
    }


def surface_material(material: Skin | Painted | Cloth, dress: Dress) -> Node:
    """The sitter's surface in one of its dresses (see `stage.Dress`)."""
    if dress == "matte":
        grey = two_faced(CARD_REFLECTANCE, CARD_REFLECTANCE)
        return grey if isinstance(material, Cloth) else matte(CARD_REFLECTANCE)
    match material:
        case Skin():
            return _skin(material) if dress == "real" else _painted_matte(material.albedo)
        case Painted():
            return _coated(material) if dress == "real" else _painted_matte(material.colour)
        case Cloth():
            return _cloth(material) if dress == "real" else two_faced(*[material.colour] * 2)


def _painted_matte(reflectance: Any) -> Node:
    return {"type": "diffuse", "reflectance": image(reflectance)}


def _relief(heights_m: Any, tiles: float, below: Node) -> Node:
    texture = image(heights_m)
    if tiles != 1:
        texture["to_uv"] = mi.ScalarTransform3f().scale([tiles, tiles])
    return {"type": "bumpmap", "arbitrary": texture, "scale": 1.0, "bsdf": below}


def _skin(skin: Skin) -> Node:
    surface = {
        "type": "principled",
        "base_color": image(skin.albedo),
        "roughness": image(skin.roughness),
        "specular": skin.specular,
        "flatness": SKIN_FLATNESS,
        "clearcoat": SKIN_CLEARCOAT,
        "clearcoat_gloss": SKIN_CLEARCOAT_GLOSS,
        "sheen": SKIN_SHEEN,
    }
    return _relief(skin.relief_m, 1, surface)


def _coated(eye: Painted) -> Node:
    return {
        "type": "roughplastic",
        "int_ior": eye.refractive_index,
        "alpha": eye.roughness,
        "nonlinear": False,
        "diffuse_reflectance": image(eye.colour, "clamp"),
    }


def _cloth(cloth: Cloth) -> Node:
    fabric = {
        "type": "principled",
        "base_color": colour(cloth.colour),
        "roughness": cloth.roughness,
        "specular": CLOTH_SPECULAR,
        "sheen": cloth.sheen,
        "sheen_tint": CLOTH_SHEEN_TINT,
    }
    return _relief(cloth.relief_m, cloth.tiles, {"type": "twosided", "bsdf": fabric})


def fibre(hair: Fibre) -> Node:
    """Hair that scatters by its pigment."""
    return {
        "type": "hair",
        "eumelanin": hair.eumelanin,
        "pheomelanin": hair.pheomelanin,
        "longitudinal_roughness": hair.longitudinal_roughness,
        "azimuthal_roughness": hair.azimuthal_roughness,
        "scale_tilt": hair.scale_tilt_deg,
    }
