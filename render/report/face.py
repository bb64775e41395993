"""The places by which modifiers are compared: key cheek, forehead, chin, far ear, backdrop."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, MeterPoint
from render.layout.geometry import unit
from render.layout.lens import ray_through
from render.layout.people import anchors_of
from render.layout.points import cheek_anchors
from render.layout.sweep import meet
from render.predict import Obstacles
from render.report.held import Held, measure
from render.scenefile import Setup
from render.sitter.body import Body
from render.trace import Engine

Floats = NDArray[np.float64]
SAMPLES = 1024  # paths per receptor: the bounce of a pale room to about 0.015 stop of a reading
SPILL_ACROSS = 5  # places on the backdrop, along each side of the frame
EAR_CLEAR_M = 0.01  # the meter is held so far off the ear, clear of hair and spectacles
NONE = np.zeros((0, 3))


@dataclass(frozen=True, slots=True)
class Face:
    """Where light is read; the same for every modifier."""

    name: str  # of the place of the face reading
    points: tuple[MeterPoint, ...]  # that place, then forehead, chin, ear, where known
    backdrop: tuple[MeterPoint, ...]  # places of it that show in the picture


@dataclass(frozen=True, slots=True)
class Light:
    """What the key gives [lx·s]; None where the place is not known."""

    face: float
    face_error: float  # standard error
    face_direct: float
    face_clear: float  # straight from the front, with nothing in the way
    forehead: float | None  # straight from the front, as chin
    chin: float | None
    ear: float | None
    ear_direct: float | None
    spill: float | None
    spill_direct: float | None


def face_of(setup: Setup, layout: Layout) -> Face:
    """The places of a set-up. Raises SceneError without a sitter or a camera."""
    body = layout.body
    if body is None:
        raise SceneError(setup.file, "sitter", "missing", "a [sitter] table to light")
    if layout.view is None:
        raise SceneError(setup.file, "camera", "missing", "a [camera] table to take a picture with")
    anchors = anchors_of(body)
    anchors |= cheek_anchors(anchors, layout.fronts[layout.key])
    name = next(each for each in ("key_cheek", "forehead", *anchors) if each in anchors)
    points = [
        MeterPoint(each, anchors[each].position_m, anchors[each].normal, "skin", NONE, NONE)
        for each in (name, "forehead", "chin")
        if each in anchors
    ]
    ear = far_ear(body, layout.fronts[layout.key].centre_m)
    return Face(name, (*points, *([] if ear is None else [ear])), _backdrop(layout))


def far_ear(body: Body, light_m: Floats) -> MeterPoint | None:
    """The place beside the ear that is turned away from the light; None without cheekbones."""
    marks = body.landmarks
    if not {"cheekbone_sitter_left", "cheekbone_sitter_right", "chin"} <= set(marks):
        return None
    left, right = (
        marks[f"cheekbone_sitter_{s}"].position_m.astype(float) for s in ("left", "right")
    )
    away = unit(left - right)
    if (light_m - 0.5 * (left + right)) @ away > 0:
        away = -away
    skin = body.surfaces[0].vertices.astype(float)
    head = skin[skin[:, 1] > 0.5 * (marks["chin"].position_m[1] + left[1])]
    outermost = head[np.argmax(head @ away)]
    return MeterPoint("ear", outermost + EAR_CLEAR_M * away, away, "free", NONE, NONE)


def _backdrop(layout: Layout) -> tuple[MeterPoint, ...]:
    """Places of the backdrop that the camera sees beside the sitter."""
    sheet = next((each for each in layout.sheets if each.kind == "backdrop"), None)
    lens = layout.view
    if sheet is None or lens is None:
        return ()
    steps = (np.arange(SPILL_ACROSS) + 0.5) / SPILL_ACROSS
    ways = ray_through(lens, np.stack(np.meshgrid(steps, steps), -1).reshape(-1, 2))
    shares, normals = meet(sheet, np.broadcast_to(lens.position_m, ways.shape), ways)
    on = np.isfinite(shares)
    places = lens.position_m + shares[on, None] * ways[on]
    in_front = lens.position_m + (shares[on, None] - EAR_CLEAR_M) * ways[on]
    open_ = Obstacles.of(layout).clear_sight(lens.position_m, in_front)
    return tuple(
        MeterPoint("backdrop", at, normal, "backdrop", NONE, NONE)
        for at, normal in zip(places[open_], normals[on][open_], strict=True)
    )


def light_on(layout: Layout, face: Face, engine: Engine | None) -> Light:
    """What the key of a layout gives at the places of a face.

    On the sitter the flat receptor is aimed at the light, on the backdrop along its normal.
    engine : traces what the room gives back; None leaves it out
    """
    front = layout.fronts[layout.key]
    aimed = [unit(front.centre_m - each.position_m) for each in face.points]
    axes = [*aimed, *(each.normal for each in face.backdrop)]
    held = [Held(i, front.name, "flat", "normal", axis) for i, axis in enumerate(axes)]
    read = measure(replace(layout, points=face.points + face.backdrop), held, engine, SAMPLES)
    direct, total = read.direct[:, layout.key], (read.direct + read.bounce)[:, layout.key]
    at = {each.name: i for i, each in reversed(list(enumerate(face.points)))}

    def one(values: Floats, name: str) -> float | None:
        return float(values[at[name]]) if name in at else None

    def mean(values: Floats) -> float | None:
        return float(values[len(aimed) :].mean()) if face.backdrop else None

    return Light(
        face=float(total[0]),
        face_error=float(read.error[0, layout.key]),
        face_direct=float(direct[0]),
        face_clear=float(read.clear[0, layout.key]),
        forehead=one(direct, "forehead"),
        chin=one(direct, "chin"),
        ear=one(total, "ear"),
        ear_direct=one(direct, "ear"),
        spill=mean(total),
        spill_direct=mean(direct),
    )
