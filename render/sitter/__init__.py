"""The sitter: from a name and a few wishes to skin, eyes, hair, clothes and landmarks."""

from render.sitter.body import Body, Cloth, Fibre, Landmark, Painted, Skin, Strands, Surface
from render.sitter.build import build_body, hair_colours, hair_styles, sitter_names
from render.sitter.near import near_surface

__all__ = [
    "Body",
    "Cloth",
    "Fibre",
    "Landmark",
    "Painted",
    "Skin",
    "Strands",
    "Surface",
    "build_body",
    "hair_colours",
    "hair_styles",
    "near_surface",
    "sitter_names",
]
