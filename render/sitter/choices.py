"""What can be asked of a sitter by name."""

from __future__ import annotations

HAIR_STYLES = (
    *("bald", "close crop", "crop", "fringe", "bob", "long", "curls", "tied back", "receding"),
)
# Pigment concentrations (eumelanin, pheomelanin) in the units of the fibre model; set by eye on
# the scale of d'Eon et al., Computer Graphics Forum 30 (2011) 1181: blond 0.3, black about 8.
HAIR_COLOURS = {
    "black": (2.5, 0.10),
    "dark brown": (0.55, 0.08),
    "brown": (0.22, 0.05),
    "red": (0.06, 0.30),
    "dark blond": (0.10, 0.02),
    "blond": (0.03, 0.01),
    "grey": (0.55, 0.08),
    "white": (0.002, 0.001),
}
# Share of white hairs that belongs to a colour of the head.
GREY_SHARE = {"grey": 0.60}
BEARDS = ("none", "stubble", "short", "full")
EYE_COLOURS = ("dark brown", "brown", "hazel", "green", "blue", "grey")
EXPRESSIONS = ("neutral", "slight smile", "laugh", "eyes closed")
GLASSES = ("none",)
TOPS = ("crew neck",)
HEADWEAR = ("none",)
