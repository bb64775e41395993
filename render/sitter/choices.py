"""What can be asked of a sitter by name."""

from __future__ import annotations

HAIR_STYLES = ("bald", "crop", "bob")
# Pigment concentrations (eumelanin, pheomelanin) in the units of the fibre model; set by eye on
# the scale of d'Eon et al., Computer Graphics Forum 30 (2011) 1181: blond 0.3, black about 8.
HAIR_COLOURS = {
    "black": (6.0, 0.10),
    "dark brown": (1.3, 0.03),
    "brown": (0.70, 0.12),
    "blond": (0.28, 0.10),
    "white": (0.03, 0.01),
}
BEARDS = ("none", "stubble")
EYE_COLOURS = ("brown", "hazel", "green", "blue")
EXPRESSIONS = ("neutral", "slight smile")
GLASSES = ("none",)
TOPS = ("crew neck",)
HEADWEAR = ("none",)
