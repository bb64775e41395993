"""What is found while a thing is being dragged: in the frame, through a wall, beyond the dial."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from render.emission import Front, cloth, housing
from render.layout.sweep import sheet_mesh
from render.page.standing import Standing
from render.photometry.exposure import luminous_exposure_for
from render.photometry.stops import stops
from render.plan.balance.dials import Dial, dials
from render.plan.checks.finding import Context, Finding
from render.plan.checks.fit import check_room_fit, no_room
from render.plan.checks.frustum import Frustum, Mesh, clipped, way_out
from render.report.held import ALL
from render.report.readings import meter_speed

WITHIN_STOPS = 0.1  # as the full check: nearer than a meter repeats; common practice, no source
CURES = {"top": "raise it", "bottom": "lower it"}  # by the side of the frame


def quick_findings(standing: Standing) -> tuple[Finding, ...]:
    """Findings of a tried set that cost next to nothing; all checks follow when it is taken."""
    context = context_of(standing)
    room = [] if no_room(context) else check_room_fit(context)
    return (*_in_frame(standing), *room, *_out_of_reach(standing))


def context_of(standing: Standing) -> Context:
    """What the checks work on, with what is placed already."""
    context = Context(standing.setup)
    # Both are worked out when they are first asked for; here they are there already.
    context.__dict__["layout"] = standing.layout
    context.__dict__["obstacles"] = standing.obstacles
    return context


def _in_frame(standing: Standing) -> Iterator[Finding]:
    """Lights and panels of which something is in the pyramid that the lens sees."""
    view = standing.layout.view
    if view is None:
        return
    frustum = Frustum.of(view)
    things: list[tuple[str, Mesh]] = [
        (f"light.{front.name}", _solid(front)) for front in standing.layout.fronts
    ]
    for sheet in standing.layout.sheets:
        if sheet.kind == "panel":
            vertices, _, triangles = sheet_mesh(sheet)
            things.append((f"panel.{sheet.name}", (vertices, triangles)))
    for name, mesh in things:
        if clipped(frustum, mesh):
            metres, side = way_out(frustum, mesh)
            cure = CURES.get(side, f"move it to {side}")
            words = f"{name} is in the frame; {cure} by {100 * metres:.0f} cm."
            yield Finding("frame", name, "wrong", 100 * metres, "cm", 0.0, words)


def _solid(front: Front) -> Mesh:
    (shell, faces), (skin, others) = housing(front), cloth(front)
    return np.concatenate([shell, skin]), np.concatenate([faces, others + len(shell)])


def _out_of_reach(standing: Standing) -> Iterator[Finding]:
    """Wishes of one light that its dial cannot meet where it stands."""
    setup, layout = standing.setup, standing.layout
    first = len(layout.points) * standing.rows
    turned = {dial.light: dial for dial in dials(standing.firing, idle=True)}
    constants = {"flat": setup.scene.meter.c_flat, "dome": setup.scene.meter.c_dome}
    names = [front.name for front in layout.fronts]
    for i, wish in enumerate(setup.scene.wanted.values()):
        if wish.light == ALL or not turned[wish.light].turns:
            continue
        held, j = standing.held[first + i], names.index(wish.light)
        constant = constants[held.receptor]
        needed = luminous_exposure_for(standing.wanted[i], meter_speed(setup), constant)
        full = standing.full[first + i, j]
        if full > 0:
            yield from _reach(wish.point, turned[wish.light], float(stops(needed / full)))


def _reach(point: str, dial: Dial, below: float) -> Iterator[Finding]:
    """A power in stops below full that a wish asks for, where the dial has none like it."""
    about, place = f"light.{dial.light}", point.replace("_", " ")
    short, over = below, dial.least - below
    if short > WITHIN_STOPS:
        words = f"{about} at full power is {short:.1f} stops short of what is wanted at {place}."
        yield Finding("reach", about, "wrong", -short, "stops to spare", 0.0, words)
    elif over > WITHIN_STOPS:
        words = f"{about} at its least is {over:.1f} stops over what is wanted at {place}."
        yield Finding("reach", about, "wrong", -over, "stops to spare", 0.0, words)
