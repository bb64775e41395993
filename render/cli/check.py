"""`tenthstop check`: what can go wrong in the set, with the number behind every verdict."""

from __future__ import annotations

import json
from dataclasses import asdict

from render.cli.elements import Told, as_data, checked, show_elements
from render.cli.paper import plain_table, printer
from render.plan.checks import Checks, Finding
from render.scenefile import load_scene

HEADINGS = {
    "wrong": "Wrong: change it before the sitter comes",
    "look": "Look: judge for yourself",
    "fine": "Fine",
}


def run_check(scene: str, as_json: bool, engine: str | None, portrait: str = "") -> bool:
    """Print what the checks found; True where nothing is wrong.

    engine   : traces a small look, and what the room gives back to a black backdrop; None leaves
               both out
    portrait : scene that an element is to be added to; "" for none
    """
    found, told = checked(load_scene(scene), portrait, engine)
    if as_json:
        print(json.dumps(asdict(found) | as_data(told), indent=1, ensure_ascii=False))
    else:
        _show(found, told)
    return all(finding.verdict != "wrong" for finding in found.findings)


def _show(found: Checks, told: Told) -> None:
    console = printer()
    for verdict, heading in HEADINGS.items():
        rows = [finding for finding in found.findings if finding.verdict == verdict]
        if not rows:
            continue
        table = plain_table(heading)
        table.add_column("check", no_wrap=True)
        table.add_column("number", justify="right", no_wrap=True)
        table.add_column("what was found")
        for row in rows:
            table.add_row(row.check, _number(row), row.words)
        console.print(table)
    show_elements(console, told)
    console.print(f"Checked for: {'; '.join(found.checked_for) or 'nothing'}.", highlight=False)
    console.print(f"Not checked for: {'; '.join(found.not_checked_for)}.", highlight=False)
    console.print("\nMind in this set:")
    for caution in found.cautions:
        console.print(f"- {caution}", highlight=False)


def _number(row: Finding) -> str:
    """The number and the first word of its unit; the sentence tells the rest."""
    digits = 0 if row.unit.startswith("count") else 1
    return f"{row.value + 0.0:.{digits}f} {row.unit.split(' ')[0]}"
