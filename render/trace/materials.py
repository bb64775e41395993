"""What things are made of, in the tracer's own words: skin, eyes, cloth, hair, black housing."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from render.layout.placed import Cloud, Sheet
from render.photometry.fresnel import diffuse_external
from render.photometry.rough_mirror import single_share
from render.sitter.body import Cloth, Fibre, Glass, Painted, Skin
from render.trace import skin as skin_surface
from render.trace.digest import digest
from render.trace.stage import CARD_REFLECTANCE, Dress

Node = dict[str, Any]
# At this roughness the stock thin sheet's body is as good as Lambert's on either side: measured,
# within 2 % of even light up to 78 degrees off the normal.
THIN_ROUGHNESS = 0.4
_albedo_maps: dict[str, Any] = {}

# The plain engine has no gloss whose width follows a map: it blends neighbours of these widths.
PLAIN_ALPHAS = (0.06, 0.12, 0.20, 0.32, 0.55)
COSINES = 16  # of each direction, to weigh the body of a stock coat
AIR = 1.0  # refractive index outside; to four digits
# Look of cloth beyond its data; chosen by eye, no source.
CLOTH_SPECULAR, CLOTH_SHEEN_TINT = 0.25, 0.3
# What gloss and sheen add to a cloth's colour, as a constant and a factor, measured under light
# from all sides; taken off the colour so that the whole reflects what was asked for. Very dark
# cloth keeps some colour under its sheen.
CLOTH_GLOSS, CLOTH_GAIN, CLOTH_LEAST = 0.022, 1.04, 0.25


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


def sheet_material(sheet: Sheet) -> Node:
    """Paper, cloth, paint or panel; each side matte or silver."""
    return {
        "type": "twosided",
        "front": _face(sheet.reflectance, sheet.roughness),
        "back": _face(sheet.back_reflectance, sheet.back_roughness),
    }


def particle_material(cloud: Cloud) -> Node:
    """Drops refract as their smooth spheres do; all else is matte, thin things on both sides."""
    if cloud.kind == "drops":
        return {"type": "dielectric", "int_ior": cloud.refractive_index, "ext_ior": AIR}
    if not any(cloud.through):
        return two_faced(cloud.reflectance, cloud.reflectance)
    red, green, blue = (r + t for r, t in zip(cloud.reflectance, cloud.through, strict=True))
    return {
        "type": "principledthin",
        "base_color": colour((red, green, blue)),
        "diff_trans": 2 * max(cloud.through) / max(red, green, blue),
        "roughness": THIN_ROUGHNESS,
        "spec_trans": 0.0,
    }


def _face(reflectance: tuple[float, float, float], roughness: float) -> Node:
    """A rough mirror whose facets give back as much more as its model loses between them."""
    if roughness == 0:
        return matte(reflectance)
    red, green, blue = (min(c / single_share(roughness), 1.0) for c in reflectance)
    return {
        "type": "roughconductor",
        "material": "none",
        "distribution": "beckmann",
        "alpha": roughness,
        "specular_reflectance": colour((red, green, blue)),
    }


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


def surface_material(material: Skin | Painted | Cloth | Glass, dress: Dress) -> Node:
    """The sitter's surface in one of its dresses (see `stage.Dress`)."""
    if isinstance(material, Glass):
        return _lens(material)
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
    if str(mi.variant()).startswith("scalar"):
        return _relief(skin.relief_m, 1, _plain_skin(skin))
    surface = {
        "type": skin_surface.PLUGIN,
        "albedo": albedo_map(skin),
        "roughness": image(skin.roughness),
        "index": skin.refractive_index,
    }
    return _relief(skin.relief_m, 1, surface)


def albedo_map(skin: Skin) -> Any:
    """The texture of the skin's albedo; one for all who ask, for as long as the map lives."""
    name = digest(skin.albedo)
    if name not in _albedo_maps:
        _albedo_maps.clear()
        _albedo_maps[name] = mi.load_dict(image(possible_albedo(skin)))
    return _albedo_maps[name]


def possible_albedo(skin: Skin) -> Any:
    """The albedo as far as a body under its boundary can have it: all light that is let in."""
    most = 1 - diffuse_external(skin.refractive_index)
    return np.minimum(skin.albedo, np.float32(most))


def _plain_skin(skin: Skin) -> Node:
    """The same surface from stock parts (see `skin.SkinSurface`)."""
    layers = [_plain_layer(skin, alpha) for alpha in PLAIN_ALPHAS]
    wanted = np.log(np.maximum(skin.roughness.astype(float), 1e-3) ** 2)
    place = np.interp(wanted, np.log(PLAIN_ALPHAS), np.arange(len(PLAIN_ALPHAS)))
    blended = layers[0]
    for k, layer in enumerate(layers[1:]):
        weight = image(np.clip(place - k, 0, 1))
        blended = {"type": "blendbsdf", "weight": weight, "below": blended, "above": layer}
    return blended


def _plain_layer(skin: Skin, alpha: float) -> Node:
    coated: Node = {
        "type": "roughplastic",
        "distribution": "ggx",
        "int_ior": skin.refractive_index,
        "ext_ior": AIR,
        "alpha": alpha,
        "nonlinear": False,
    }
    paint = possible_albedo(skin) / np.float32(body_share(coated))
    return coated | {"diffuse_reflectance": image(np.minimum(paint, 1))}


def body_share(coated: Node) -> float:
    """What the body under a stock coat gives back of light from all sides when its paint is white.

    2 ∫∫ f c c' dc dc' · 2 pi over the cosines of both directions; f does not depend on azimuth.
    """
    surface: Any = mi.load_dict(coated | {"diffuse_reflectance": 1.0})
    context = mi.BSDFContext()
    context.type_mask = mi.BSDFFlags.DiffuseReflection
    nodes, weights = np.polynomial.legendre.leggauss(COSINES)
    cosines, weights = (nodes + 1) / 2, weights / 2
    found = 0.0
    for c, weight in zip(cosines, weights, strict=True):
        si: Any = dr.zeros(mi.SurfaceInteraction3f)
        si.wi = mi.Vector3f(np.sqrt(1 - c * c), 0, c)
        for d, other in zip(cosines, weights, strict=True):
            out = mi.Vector3f(np.sqrt(1 - d * d), 0, d)
            found += 4 * np.pi * weight * other * c * float(surface.eval(context, si, out)[0])
    return found


def _coated(eye: Painted) -> Node:
    return {
        "type": "roughplastic",
        "int_ior": eye.refractive_index,
        "alpha": eye.roughness,
        "nonlinear": False,
        "diffuse_reflectance": image(eye.colour, "clamp"),
    }


def _lens(glass: Glass) -> Node:
    return {
        "type": "thindielectric",
        "int_ior": glass.refractive_index,
        "ext_ior": AIR,
        "specular_reflectance": colour(glass.coating_share),
    }


def _dye(wanted: float) -> float:
    """Colour under the sheen that makes cloth reflect this in all."""
    return max((wanted - CLOTH_GLOSS) / CLOTH_GAIN, CLOTH_LEAST * wanted)


def _cloth(cloth: Cloth) -> Node:
    red, green, blue = (_dye(c) for c in cloth.colour)
    fabric = {
        "type": "principled",
        "base_color": colour((red, green, blue)),
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
        # Strands run from root to tip; scales open towards the tip, so their outside faces the
        # root. The tracer counts the tilt the other way.
        "scale_tilt": -hair.scale_tilt_deg,
    }
