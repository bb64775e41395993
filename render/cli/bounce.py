"""Which panels and walls the meter's bounce comes from, as rows and as a table."""

from __future__ import annotations

from rich.table import Table

from render.cli.paper import plain_table, signed, spoken
from render.report import Reading, Readings
from render.report.held import ALL
from render.report.readings import PANEL

LEAST_ADDED_STOPS = 0.05  # a panel that adds less shows as +0.0


def panels_that_tell(rows: list[Reading]) -> list[tuple[str, list[float | None]]]:
    """Panels that tell in the last reading of a place, with what each adds to all of them."""
    added = {
        (each.surface, k): each.adds_stops
        for k, row in enumerate(rows)
        for each in row.bounce_from
        if each.surface.startswith(PANEL) and each.luminous_exposure_lx_s > 0
    }
    panels = dict.fromkeys(name for name, _ in added)
    found = [(name, [added.get((name, k)) for k in range(len(rows))]) for name in panels]
    return [each for each in found if (each[1][-1] or 0.0) >= LEAST_ADDED_STOPS]


def said(surface: str) -> str:
    """A surface's name as it is said: "panel.chin" is the panel chin."""
    return spoken(surface.replace(".", " "))


def surfaces_table(found: Readings) -> Table:
    """For all lights together, the surfaces that the bounce of each point comes from last."""
    table = plain_table("Bounce of all lights together, by the surface it comes from last")
    for heading in ("held at", "surface"):
        table.add_column(heading, no_wrap=True)
    for heading in ("lx·s", "±", "of bounce", "adds (stops)"):
        table.add_column(heading, justify="right", no_wrap=True)
    for row in (row for row in found.readings if row.lights == ALL):
        for k, each in enumerate(row.bounce_from):
            table.add_row(
                "" if k else spoken(row.point),
                said(each.surface),
                f"{each.luminous_exposure_lx_s:.3g}",
                f"{each.standard_error_lx_s:.1g}",
                f"{100 * each.share_of_bounce:.0f} %",
                signed(each.adds_stops, 2),
            )
        table.add_section()
    return table
