"""What can be asked of a sitter by name."""

from __future__ import annotations

HAIR_STYLES = (
    *("bald", "close crop", "crop", "fringe", "bob", "long", "curls", "tied back", "receding"),
)
# Pigment concentrations (eumelanin, pheomelanin) on the scale of d'Eon et al., Computer Graphics
# Forum 30 (2011) 1181, chosen so that a bob's crown in uniform light reflects what hair is said
# to: black .022 (L* 18 measured is .026; more pigment keeps its rim from glowing brown), dark
# brown .039 (L* 22 to 24 measured), brown .07, red .10, dark blond .14, blond .25, white .40
# (common practice, no source).
HAIR_COLOURS = {
    "black": (3.0, 0.02),
    "dark brown": (0.65, 0.08),
    "brown": (0.32, 0.06),
    "red": (0.02, 1.0),
    "dark blond": (0.125, 0.03),
    "blond": (0.045, 0.012),
    "grey": (0.65, 0.08),
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
