"""The order of work: set up and verify one light at a time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.card.content import Card, LightRow
from render.card.tape import BACKDROP, CAMERA, EYES, MARK, Taped
from render.card.words import floor_words, spoken, tilt_words, turn_words
from render.layout.people import eyes_of
from render.studio.element import Element
from render.studio.scene import Scene

Floats = NDArray[np.float64]

# Beyond the doubt of an output that nobody has measured, something stands wrong.
FAR_OFF_STOPS = 0.5
NEAR_M = 0.02  # from the mark: nobody throws better


def steps(card: Card) -> list[str]:
    """Sentences, one for each step."""
    rows = {row.mark: row for row in card.tape}
    panels = [row for row in card.tape if row.mark[0].islower()]
    said = [_mark(rows)]
    if panels:
        said.append("Panels: " + "; ".join(_panel(row) for row in panels) + ".")
    fired = 0
    for light in card.lights:
        said.append(_light(rows[light.mark], light, fired == 0))
        fired += light.alone is not None
    if fired:
        said.append(
            f"A light off by more than {FAR_OFF_STOPS} stop: look at distance, aim, cloths and "
            "grid before you turn its dial. Where all of them are off alike, look at the meter's "
            "ISO."
        )
        said.append("All lights on: read every point once more and write that down too.")
    return [*said, *thrown(card.setup.scene)]


def thrown(scene: Scene) -> list[str]:
    """What flies where, and the pictures that are taken before it does; nothing without elements.

    The plate, and the sitter before powder or water changes skin: common practice, no source.
    """
    if not scene.element:
        return []
    eyes = eyes_of(scene.sitter)
    parts = "; ".join(_element(name, each, eyes) for name, each in scene.element.items())
    first = "Photograph the sitter clean first. " if scene.sitter is not None else ""
    return [
        f"{first}Photograph the set with nothing in the air, twice: the clean plate, which is "
        "taken off. Camera, focus, lights and exposure stay from here on.",
        f"Then throw, a little at a time: {parts}.",
    ]


def _element(name: str, element: Element, eyes: Floats) -> str:
    """Where an element is let go or hangs, and how large it is."""
    x, y, z = eyes if element.centre_m is None else element.centre_m
    least, most = (f"{each:g}" for each in element.size_mm)
    size = f"{least} mm" if least == most else f"{least} to {most} mm"
    way = "let go" if element.falls_m is not None else "middle"
    aside = [
        f"{abs(off):.2f} {side[off > 0]}"
        for off, side in ((x, ("camera left", "camera right")), (z, ("behind", "before")))
        if abs(off) >= NEAR_M
    ]
    where = f"{' and '.join(aside)} of +" if aside else "over +"
    return f"{spoken(name)}, {element.kind} of {size}, {way} at {y:.2f}, {where}"


def _mark(rows: dict[str, Taped]) -> str:
    mark = rows[MARK]
    at_walls = "" if mark.across[0].endswith("+") else f": {_from(mark)}"
    high = f"{mark.height_m:.2f}"
    if mark.name == EYES:
        words = f"Mark the floor under the eyes with a cross{at_walls}. Eyes at {high}."
    else:
        words = f"Mark the floor with a cross{at_walls}. Over it at {high}: {mark.name}."
    if BACKDROP in rows:
        at = rows[BACKDROP]
        words += f" Hang the backdrop with its top at {at.height_m:.2f}, {_from(at)}."
    if CAMERA in rows:
        at = rows[CAMERA]
        words += f" Lens {_from(at)}, at {at.height_m:.2f}; {at.aim} in the middle of its frame."
    return words


def _panel(row: Taped) -> str:
    """Where a panel stands and how it is turned."""
    turned = [f"turned {turn_words(row.turn_deg)}" if row.turn_deg is not None else ""]
    turned.append(f"tilted {tilt_words(row.tilt_deg)}")
    words = ", ".join(word for word in turned if word)
    return f"{row.mark} ({row.name}) {_from(row)}, middle at {row.height_m:.2f}, {words}"


def _light(row: Taped, light: LightRow, first: bool) -> str:
    name = f"Light {light.mark}, {spoken(light.name)}"
    if light.alone is None:
        return f"{name}: {_from(row)}, {row.height_m:.2f} high; stays off."
    read = f"read at {spoken(light.alone.point)}: {held(light.alone.shown)}."
    if first:
        read = f"with all others off {read} Write down what the meter says."
    return (
        f"{name}: stand it {_from(row)}, middle of its front at "
        f"{row.height_m:.2f}, aimed at {row.aim}. Power {held(light.power)}; "
        f"{read if first else 'alone, ' + read}"
    )


def held(shown: str) -> str:
    """A power or reading that no line break parts."""
    return shown.replace(" ", "\N{NO-BREAK SPACE}")


def _from(row: Taped) -> str:
    return floor_words(row.across, row.along)
