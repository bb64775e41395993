"""What stands on the floor of the drawings: columns, booms, legs turned clear, tape lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.card.canvas import EDGE_PT, Drawing, line
from render.card.content import Card
from render.card.dimensions import tape_line
from render.card.outlines import SIDE
from render.card.page import GREY
from render.card.tape import BACKDROP, CAMERA, MARK
from render.card.words import ACROSS, ALONG, room_box
from render.plan.checks.legs import turned_legs
from render.plan.checks.rig import rigs

Floats = NDArray[np.float64]

LEG_PT, BOOM_PT = 0.9, 1.2


def stands(card: Card, drawing: Drawing) -> None:
    """Columns and booms from the side; legs and booms from above."""
    for rig in rigs(card.setup, card.layout):
        if rig.kind == "none":
            continue
        if rig.kind == "boom":
            ends = np.stack([rig.mount_m, rig.tail_m])[:, list(drawing.seen)]
            line(drawing, ends, color=GREY, lw=BOOM_PT)
        if drawing.seen == SIDE:
            line(drawing, rig.column_m[:, list(SIDE)], color=GREY, lw=EDGE_PT)
            continue
        for i, end in enumerate(turned_legs(rig, room_box(card.layout)).ends_m):
            leg = np.stack([rig.foot_m, end])[:, list(drawing.seen)]
            name = f"{drawing.name}.leg.{rig.light}.{i}"
            line(drawing, leg, 1, color=GREY, lw=LEG_PT, solid_capstyle="round", gid=name)


def tape_lines(card: Card, drawing: Drawing, corners: Floats) -> None:
    """Lines from the walls of the tape table to lights, then panels, where they can be read.

    corners : of the room (2, 3) [m]
    """
    taken: list[Floats] = []
    box = room_box(card.layout)
    order = [row.mark for row in card.lights]
    rows = {row.mark: row for row in card.tape if row.mark not in (MARK, CAMERA, BACKDROP)}
    for mark in [*order, *(mark for mark in rows if mark not in order)]:
        row = rows[mark]
        for axis, (wall, metres) in ((ACROSS, row.across), (ALONG, row.along)):
            end = axis.index(wall) - 1
            if box is None or corners[end, axis[0]] != box[end, axis[0]]:
                continue  # the wall is cut off
            foot = row.middle_m.copy()
            foot[axis[0]] = box[end, axis[0]]
            ends = (drawing.flat(foot), drawing.flat(row.middle_m))
            tape_line(drawing.axes, drawing.labels, taken, ends, metres)
