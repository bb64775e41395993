"""The sitter: from a name and a few wishes to skin, eyes, hair, clothes and landmarks."""

from render.sitter.body import Body, Cloth, Fibre, Landmark, Painted, Skin, Strands, Surface
from render.sitter.build import build_body, is_made
from render.sitter.cast import CAST
from render.sitter.near import near_surface
from render.sitter.wishes import CHOICES, Wishes

__all__ = [
    "CAST",
    "CHOICES",
    "Body",
    "Cloth",
    "Fibre",
    "Landmark",
    "Painted",
    "Skin",
    "Strands",
    "Surface",
    "Wishes",
    "build_body",
    "is_made",
    "near_surface",
]
