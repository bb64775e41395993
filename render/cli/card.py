"""`tenthstop card`: the sheet for the studio floor, to print."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from rich.console import Console

from render.card import (
    Card,
    Plate,
    card_of,
    check_out,
    check_readings,
    drawn_set,
    numbers,
    predicted_look,
    write_card,
    write_readings,
)
from render.cli.paper import printer
from render.cli.pictures import progress_bar, quality_of
from render.scenefile import load_scene

PDF = Path("card.pdf")


@dataclass(frozen=True, slots=True)
class Sheets:
    """What is written, and how."""

    out: Path | None  # None writes card.pdf, but nothing beside JSON
    paper: str
    readings: Path | None
    look: bool
    quality: str


def run_card(scene: str, sheets: Sheets, bounce: bool, engine: str, as_json: bool) -> None:
    """Write the card and the blank readings, and say where; or print its numbers."""
    setup, quality = load_scene(scene), quality_of(sheets.quality)
    out = sheets.out or (None if as_json else PDF)
    if out is not None:
        check_out(out)
    if sheets.readings is not None:
        check_readings(sheets.readings)
    card = card_of(setup, bounce=bounce, engine=engine)
    written = []
    if out is not None:
        written += write_card(_with_plates(card, sheets.look, quality, engine), out, sheets.paper)
    if sheets.readings is not None:
        written.append(write_readings(card, sheets.readings))
    if as_json:
        print(json.dumps(asdict(numbers(card, sheets.paper)), indent=1, ensure_ascii=False))
        return
    if card.no_bounce:
        printer().print(f"Without the room's bounce: {card.no_bounce}.", highlight=False)
    printer().print(f"Wrote {', '.join(str(page) for page in written)}.", highlight=False)


def _with_plates(card: Card, look: bool, quality: str | int, engine: str) -> Card:
    """The card with its pictures."""
    made: tuple[Plate, ...] = (drawn_set(card.setup, card.layout),)
    if look:
        with progress_bar(Console(stderr=True)) as show:
            seen = predicted_look(card.setup, quality=quality, engine=engine, progress=show)
        made = (seen, *made)
    return replace(card, plates=made)
