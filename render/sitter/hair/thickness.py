"""How thick strands are when a few of them stand for a whole head of hair."""

from __future__ import annotations

# Radius of a strand when this many carry a whole head of hair: fewer strands are thicker, with an
# exponent set by eye. 100 000 hairs and radii of 25 to 50 um are common textbook values, from
# memory; 46 um make 70 000 strands hide as much as 100 000 hairs of 41 um.
_FULL_HEAD, HAIR_RADIUS, _THICKEN = 100_000, 0.00046, 0.72  # HAIR_RADIUS in [dm]


def strand_radius_factor(count: int, of: int = _FULL_HEAD) -> float:
    """How much thicker strands are when `count` of them stand for `of`."""
    return float((of / count) ** _THICKEN)
