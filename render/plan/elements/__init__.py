"""Elements on black: is the black black enough to add, and does the light match the portrait's."""

from render.plan.elements.black import Black, blackness, finding, no_black
from render.plan.elements.match import Match, match

__all__ = ["Black", "Match", "blackness", "finding", "match", "no_black"]
