"""What can be asked of a sitter by name."""

from __future__ import annotations

HAIR_STYLES = (
    *("bald", "close crop", "crop", "fringe", "bob", "long", "curls", "tied back", "receding"),
)
# Pigment concentrations (eumelanin, pheomelanin) on the scale of d'Eon et al., Computer Graphics
# Forum 30 (2011) 1181, chosen so that a bob's crown in uniform light reflects what hair is said
# to: dark brown .039 (L* 22 to 24 measured), brown .07, dark blond .14, blond .25, white .40
# (common practice, no source). Black has more pigment than its measured L* 18 asks for, so that
# its rim does not glow brown, and red more than a luminance of .10 does, so that it is copper and
# not gold; both set by eye.
HAIR_COLOURS = {
    "black": (2.4, 0.03),
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
