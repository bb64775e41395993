"""What can be chosen on the page, in plain words: the kit, the cast, paints, and ranges of keys."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, get_args

import numpy as np

from render.card.words import spoken
from render.photometry.srgb import luminance
from render.scenefile.fields import accepted, unit
from render.sitter import CAST, CHOICES
from render.studio.camera import Camera
from render.studio.gel import Gel
from render.studio.kit import Flash, Grid, Kit, Modifier
from render.studio.light import ROLES, Light
from render.studio.part import Part
from render.studio.room import Backdrop, Panel, PanelKind, Room
from render.studio.scene import Point, Wish
from render.studio.sitter import Sitter
from render.studio.surface import Surface

PARTS: dict[str, type[Part]] = {
    "light": Light,
    "panel": Panel,
    "sitter": Sitter,
    "backdrop": Backdrop,
    "room": Room,
    "camera": Camera,
    "point": Point,
    "wanted": Wish,
}
SURFACES = {  # keys of the room that a paint or cloth can be written to
    "walls": "all walls",
    "camera_left_wall": "camera-left wall",
    "camera_right_wall": "camera-right wall",
    "back_wall": "back wall",
    "camera_wall": "wall behind the camera",
    "ceiling": "ceiling",
    "floor": "floor",
}
Choice = dict[str, Any]


def choices(kit: Kit) -> dict[str, Any]:
    """Lists of what each key can be, and what is accepted of every other."""
    surfaces = [_surface(name, each) for name, each in kit.surface.items()]
    return {
        "light": {
            "role": _named(ROLES),
            "flash": [_flash(name, each) for name, each in kit.flash.items()],
            "modifier": [_modifier(name, each) for name, each in kit.modifier.items()],
            "grid": [_grid(name, each) for name, each in kit.grid.items()],
            "gel": [_gel(name, each) for name, each in kit.gel.items()],
            "stand": _named(("stand", "boom", "none")),
        },
        "panel": {"kind": _named(get_args(PanelKind))},
        "sitter": {key: _named(names) for key, names in CHOICES.items() if key != "model"}
        | {"model": [_choice(name, f"{name}: {each.about}") for name, each in CAST.items()]},
        "backdrop": {"kind": _named(("paper", "cloth", "wall")), "colour": surfaces},
        "room": {
            "surface": [_choice(key, words) for key, words in SURFACES.items()],
            "paint": surfaces,
        },
        "camera": {"frame": _named(("upright", "level"))},
        "fields": _fields(),
    }


def _choice(value: str, words: str, **more: Any) -> Choice:
    return {"value": value, "words": words, **more}


def _named(names: Iterable[str]) -> list[Choice]:
    return [_choice(name, spoken(name)) for name in names]


def _with_about(name: str, about: str) -> str:
    plain = name.replace("-", " ")
    return f"{plain}: {about}" if about else plain


def _flash(name: str, flash: Flash) -> Choice:
    words = flash.about or f"{flash.stored_energy_ws:g} W·s"
    step = flash.power_step_stops
    return _choice(
        name, _with_about(name, words), range_stops=flash.power_range_stops, step_stops=step
    )


def _modifier(name: str, modifier: Modifier) -> Choice:
    sides = modifier.size_cm or (modifier.diameter_cm,) * 2
    return _choice(
        name,
        _with_about(name, modifier.about),
        kind=modifier.kind,
        size_cm=list(sides),
        cloths=modifier.diffusers,
    )


def _grid(name: str, grid: Grid) -> Choice:
    closes = float(np.degrees(np.arctan(grid.cell_cm / grid.depth_cm)))
    return _choice(name, _with_about(name, grid.about), cells=grid.cells, closes_deg=closes)


def _gel(name: str, gel: Gel) -> Choice:
    kind = "colour"
    if gel.mired is not None:
        kind = "correction"
    elif gel.density is not None:
        kind = "neutral"
    through = None if gel.rgb is None else list(gel.rgb)
    words = _with_about(name, gel.about)
    return _choice(name, words, kind=kind, colour=through, mired=gel.mired, density=gel.density)


def _surface(name: str, surface: Surface) -> Choice:
    """A paper, cloth, paint or floor, with the colour that it has in even light."""
    colour = np.array(surface.colour or (1.0, 1.0, 1.0))
    shown = colour * surface.reflectance / max(float(luminance(colour)), 1e-6)
    return _choice(
        name,
        name.replace("-", " "),
        kind=surface.kind,
        reflectance=surface.reflectance,
        colour=[round(float(c), 4) for c in np.clip(shown, 0.0, 1.0)],
    )


@cache
def _fields() -> Mapping[str, Any]:
    """Of every key: what it is, what it accepts, its unit, ends and default."""
    return {
        name: {key: _field(key, info) for key, info in part.model_fields.items()}
        for name, part in PARTS.items()
    }


def _field(key: str, info: Any) -> Choice:
    ends: dict[str, float | None] = {"least": None, "most": None}
    for rule in info.metadata:
        for end, names in (("least", ("ge", "gt")), ("most", ("le", "lt"))):
            for name in names:
                value = getattr(rule, name, None)
                ends[end] = ends[end] if value is None else float(value)
    default = info.default if isinstance(info.default, str | int | float | bool) else None
    return {
        "about": info.description or "",
        "accepted": accepted(key, info),
        "unit": unit(key),
        "default": default,
        **ends,
    }
