"""The card for the studio floor: the set drawn to scale, tape distances, and what to read."""

from render.card.content import Card, card_of
from render.card.files import PAPER_NAMES, check_out, write_card

__all__ = ["PAPER_NAMES", "Card", "card_of", "check_out", "write_card"]
