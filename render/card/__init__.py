"""The card for the studio floor: the set drawn to scale, tape distances, and what to read."""

from render.card.blanks import blanks, check_readings, write_readings
from render.card.content import Card, card_of
from render.card.files import PAPER_NAMES, check_out, write_card
from render.card.numbers import numbers
from render.card.plates import Plate, drawn_set, predicted_look

__all__ = [
    "PAPER_NAMES",
    "Card",
    "Plate",
    "blanks",
    "card_of",
    "check_out",
    "check_readings",
    "drawn_set",
    "numbers",
    "predicted_look",
    "write_card",
    "write_readings",
]
