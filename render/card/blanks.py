"""The blanks of the card as a file: fill it in on the floor and hand it to `calibrate`."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from render.card.content import Card, told
from render.card.files import check_folder
from render.card.words import spoken
from render.errors import OutputError
from render.picture.files import write_whole
from render.report import Reading
from render.report.held import ALL

OPTION = "--readings"


@dataclass(frozen=True, slots=True)
class Blank:
    """A reading that is to be taken, on the card and in the file."""

    mark: str  # of the row on the card
    expected: Reading


def blanks(card: Card) -> tuple[Blank, ...]:
    """Every blank of the card: each light alone, then all together, a point once."""
    alone = [Blank(row.mark, row.alone) for row in card.lights if row.alone is not None]
    together: dict[str, Blank] = {}
    for row in card.lights:
        if row.alone is not None and row.together is not None:
            together.setdefault(row.together.point, Blank(row.mark, row.together))
    return (*alone, *together.values())


def check_readings(file: Path) -> None:
    """Refuse a file that is there already, it may be filled in, or that cannot be made."""
    if file.suffix != ".toml":
        raise OutputError(f'{OPTION}: found "{file}" (accepted: a name that ends in .toml)')
    if os.path.lexists(file):
        raise OutputError(f"{OPTION}: {file} is there already (accepted: a new name)")
    check_folder(OPTION, file)


def write_readings(card: Card, file: Path) -> Path:
    """Write the blank readings of a card as TOML. Raises OutputError."""
    check_readings(file)
    text = readings_text(card)
    return write_whole(file, lambda part: part.write_text(text, encoding="utf-8"))


def readings_text(card: Card) -> str:
    """`[[read]]` tables with empty f-numbers, the prediction as a comment behind each."""
    bounce = "with" if card.bounce else "without"
    lines = [
        f"# {_one_line(card.title)}: what the meter really said, ISO {card.readings.iso_speed:g}.",
        f"# Predicted {bounce} the room's bounce. Fill in as the meter shows it, stop and tenths:",
        '# f_number = "5.6 +0.3". What stays empty is not read yet.',
    ]
    for blank in blanks(card):
        row = blank.expected
        fired = "all lights" if row.lights == ALL else f"light {blank.mark} alone"
        lines += [
            "",
            f"# {fired}, at {spoken(row.point)}; {told(row)}",
            "[[read]]",
            f'point = "{row.point}"',
            f'light = "{row.lights}"',
            f'f_number = ""  # predicted {row.shown}',
        ]
    return "\n".join(lines) + "\n"


def _one_line(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)
