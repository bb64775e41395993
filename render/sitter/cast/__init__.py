"""The cast: invented sitters as mixes of open shape changes; none is a real person."""

from __future__ import annotations

from render.sitter.cast.men import MEN
from render.sitter.cast.person import Brows, Colour, Sitter, SkinTone
from render.sitter.cast.recipes import Morphs, face
from render.sitter.cast.women import WOMEN

__all__ = ["CAST", "PRESSED_EARS", "Brows", "Colour", "Morphs", "Sitter", "SkinTone"]

CAST: dict[str, Sitter] = dict(sorted((WOMEN | MEN).items()))

# Hair over the ears presses them to the head.
_PRESSED = face({"#-ear-wing-decr": 0.8})
PRESSED_EARS: dict[str, Morphs] = {"bob": _PRESSED, "long": _PRESSED}
