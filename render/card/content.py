"""Everything that a card says, in the order in which it is said; no drawing yet."""

from __future__ import annotations

from dataclasses import dataclass

from render.card.plates import Plate
from render.card.tape import Taped, taped
from render.card.words import on_the_floor
from render.errors import EngineError
from render.layout import Layout, place
from render.photometry.stops import stops
from render.plan.balance.dials import click, marking
from render.plan.checks import check_set
from render.report import Reading, Readings, meter
from render.report.held import ALL
from render.scenefile import Setup
from render.studio.light import ROLES, Light
from render.trace import Readers

# Key first, then what is added to it: common practice, no source.
ORDER = ("key", "fill", "rim", "hair", "background", "")
ON_PAPER = "backdrop_centre"


@dataclass(frozen=True, slots=True)
class LightRow:
    """One light with what to set and what to read."""

    mark: str
    name: str
    role: str
    gear: str  # flash, modifier, cloths, grid, gel in words
    power: str
    alone: Reading | None  # None for a light that does not fire
    together: Reading | None


@dataclass(frozen=True)
class Card:
    """The whole card of one set-up."""

    title: str
    setup: Setup
    layout: Layout
    tape: tuple[Taped, ...]
    readings: Readings
    lights: tuple[LightRow, ...]  # in the order of setting up
    wrong: tuple[str, ...]
    cautions: tuple[str, ...]  # the general one last
    bounce: bool
    no_bounce: str = ""  # why there is none, where it was asked for
    plates: tuple[Plate, ...] = ()  # pictures, or the reason why there is none


def card_of(setup: Setup, *, bounce: bool = True, engine: str | Readers = "auto") -> Card:
    """What the card of a set-up says, its pictures apart.

    bounce : with the room's bounce in the readings, as `meter`
    engine : as of `meter`; where "auto" finds none, the card says so and goes without bounce
    Raises SceneError, KitError, MeshError and, of a named engine, EngineError.
    """
    why = ""
    try:
        readings = meter(setup, bounce=bounce, engine=engine)
    except EngineError as problem:
        if engine != "auto":
            raise
        readings, why = meter(setup, bounce=False), str(problem)
    layout = place(setup)
    found = check_set(setup)
    wrong = [each.words for each in found.findings if each.verdict == "wrong"]
    load = [each.words for each in found.findings if each.check == "circuit"]
    mind = [*found.cautions[:-1], *load, found.cautions[-1]]
    return Card(
        title=setup.scene.title,
        setup=setup,
        layout=layout,
        tape=tuple(taped(setup, layout)),
        readings=readings,
        lights=_lights(setup, layout, readings),
        wrong=tuple(on_the_floor(setup, layout, words) for words in wrong),
        cautions=tuple(on_the_floor(setup, layout, words) for words in mind),
        bounce=bounce and not why,
        no_bounce=why,
    )


def _lights(setup: Setup, layout: Layout, readings: Readings) -> tuple[LightRow, ...]:
    rows = []
    for i, (name, light) in enumerate(setup.scene.light.items()):
        role = role_of(name, light)
        point = _point(setup, readings, name, role, i == layout.key)
        alone = _reading(readings, point, name)
        together = _reading(readings, point, ALL)
        power = _power(setup, light)
        rows.append(
            LightRow(str(i + 1), name, role, gear_words(setup, light), power, alone, together)
        )
    key = layout.fronts[layout.key].name
    return tuple(sorted(rows, key=lambda row: (row.name != key, ORDER.index(row.role))))


def role_of(name: str, light: Light) -> str:
    """What a light is for: as stated, or by its name; empty where neither says."""
    return light.role or (name if name in ROLES else "")


def _point(setup: Setup, readings: Readings, light: str, role: str, is_key: bool) -> str:
    """Where a light is verified: its wish; else key point, backdrop, or where it is brightest."""
    for wish in setup.scene.wanted.values():
        if wish.light == light:
            return wish.point
    rows = [row for row in readings.readings if row.lights == light]
    if is_key and light == readings.re_light:
        return readings.re_point
    if role == "background" and any(row.point == ON_PAPER for row in rows):
        return ON_PAPER
    if not rows:
        return readings.re_point
    return max(rows, key=lambda row: row.luminous_exposure_lx_s).point


def _reading(readings: Readings, point: str, lights: str) -> Reading | None:
    rows = readings.readings
    return next((row for row in rows if (row.point, row.lights) == (point, lights)), None)


def _power(setup: Setup, light: Light) -> str:
    """The power as the head's dial shows it."""
    if not light.on:
        return "off"
    if light.flash is None:
        return "as stated"
    step = click(setup.kit.flash[light.flash].power_step_stops)
    return marking(float(stops(light.power)), step)


def gear_words(setup: Setup, light: Light) -> str:
    """Flash, modifier, cloths, grid, doors and gels of a light in words."""
    size = "plain front" if light.size_cm is None else (
        f"plain front {light.size_cm[0]:g} x {light.size_cm[1]:g} cm"
    )  # fmt: skip
    words = [light.flash or "stated light", light.modifier or size]
    modifier = setup.kit.modifier.get(light.modifier or "")
    if modifier is not None:
        count = modifier.diffusers if light.diffusers is None else light.diffusers
        words.append({0: "no cloth", 1: "1 cloth"}.get(count, f"{count} cloths"))
    if light.grid_deg is not None:
        words.append(f"grid {light.grid_deg:g}°")
    words.append(f"grid {light.grid}" if light.grid else "")
    words.append("no grid" if light.grid is None and light.grid_deg is None else "")
    words.append("barn doors" if light.doors is not None else "")
    words.append(f"gel {' + '.join(light.gel)}" if light.gel else "no gel")
    words.append(f"ND {light.nd:g}" if light.nd else "")
    return ", ".join(word for word in words if word)


def told(row: Reading) -> str:
    """How the meter is held for a reading."""
    target = {"light": "the light", "camera": "the camera", "normal": "straight out of the surface"}
    return f"{row.receptor}, aimed {'' if row.aim == 'normal' else 'at '}{target[row.aim]}"
