"""The surfaces that bounced light can come from: walls, backdrop, panels, sitter, lights."""

from __future__ import annotations

from dataclasses import dataclass

from render.layout.placed import Sheet
from render.trace.stage import Stage

SITTER, LIGHTS = "sitter", "lights"  # LIGHTS: fronts and their housings
ELEMENTS = "elements"


@dataclass(frozen=True, slots=True)
class Surfaces:
    """Every surface of a stage by name, LIGHTS last, and which of them a shape belongs to."""

    names: tuple[str, ...]
    shapes: dict[str, int]  # index in `names` by a shape's identifier; missing ones are LIGHTS


def surface_name(sheet: Sheet) -> str:
    """A sheet as lists of surfaces call it; a panel by its key in the scene file."""
    return f"panel.{sheet.name}" if sheet.kind == "panel" else sheet.name


def surfaces_of(stage: Stage) -> Surfaces:
    """The surfaces of a stage: sheets in order, leaves of one V-flat together, then the sitter."""
    thrown = [ELEMENTS] if stage.elements else []
    names = tuple(dict.fromkeys([*map(surface_name, stage.sheets), SITTER, *thrown, LIGHTS]))
    shapes = {
        f"sheet_{k}": names.index(surface_name(sheet)) for k, sheet in enumerate(stage.sheets)
    }
    if stage.body is not None:
        parts = [part.name for part in stage.body.surfaces]
        parts += [part.name for part in stage.body.strands]
        both = [name for part in parts for name in (part, f"body_{part}")]
        shapes |= dict.fromkeys(both, names.index(SITTER))
    for k, cloud in enumerate(stage.elements):
        shapes |= dict.fromkeys((f"element_{cloud.name}", f"element_{k}"), names.index(ELEMENTS))
    return Surfaces(names, shapes)
