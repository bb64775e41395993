"""`tenthstop card`: the sheet for the studio floor, to print."""

from __future__ import annotations

from pathlib import Path

from render.card import card_of, check_out, write_card
from render.cli.paper import printer
from render.scenefile import load_scene


def run_card(scene: str, out: Path, paper: str, bounce: bool, engine: str) -> None:
    """Write the card and say where."""
    setup = load_scene(scene)
    check_out(out)
    pages = write_card(card_of(setup, bounce=bounce, engine=engine), out, paper)
    printer().print(f"Wrote {', '.join(str(page) for page in pages)}.", highlight=False)
