"""What a sitter was asked to be."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wishes:
    """What build_body was asked for, checked and complete."""

    name: str
    reflectance: float
    hair: str
    hair_colour: str
    turn_deg: float
    nod_deg: float
    tilt_deg: float
    strand_count: int
    map_width: int
