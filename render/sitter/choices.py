"""What can be asked of a sitter by name."""

from __future__ import annotations

HAIR_STYLES = (
    *("bald", "close crop", "crop", "fringe", "bob", "long", "curls", "tied back", "receding"),
)
# Pigment concentrations (eumelanin, pheomelanin) in the units of the fibre model; set by eye on
# the scale of d'Eon et al., Computer Graphics Forum 30 (2011) 1181: blond 0.3, black about 8.
HAIR_COLOURS = {
    "black": (1.40, 0.05),
    "dark brown": (0.62, 0.08),
    "brown": (0.30, 0.06),
    "red": (0.00, 0.38),
    "dark blond": (0.125, 0.03),
    "blond": (0.045, 0.012),
    "grey": (0.62, 0.08),
    "white": (0.005, 0.001),
}
# Share of white hairs that belongs to a colour of the head.
GREY_SHARE = {"grey": 0.60}
BEARDS = ("none", "stubble", "short", "full")
EYE_COLOURS = ("dark brown", "brown", "hazel", "green", "blue", "grey")
EXPRESSIONS = ("neutral", "slight smile", "laugh", "eyes closed")
GLASSES = ("none", "round", "square")
TOPS = ("crew neck", "shirt", "jacket", "wrap")
HEADWEAR = ("none", "hat", "headscarf")
