"""Which other lights can show in a frame or stand in a light's way."""

from __future__ import annotations

import weakref
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.emission import Front, cloth, housing, local_from_room
from render.layout.placed import Sheet, View
from render.layout.sweep import meet
from render.trace.stage import Stage

Floats = NDArray[np.float64]
Places = NDArray[np.floating[Any]]
_extents: dict[int, tuple[weakref.ref[Places], Floats]] = {}
CAMERA_RAYS = 33  # across the frame each way: a housing of 10 cm is met at 5 m


def bystanders(stage: Stage, view: View) -> dict[str, tuple[Front, ...]]:
    """By light that shines, the fronts other than its own that may change its frame.

    Those whose box, in their own axes, is met by a camera ray or by a segment from the light's
    front to the sitter or to what the frame shows of the backdrop. What they do to light that has
    bounced elsewhere is left out.
    """
    seen = _camera_ends(stage, view)
    eye = view.position_m[None]
    shown = {front.name: _met(front, eye, seen) for front in stage.fronts}
    lit = _lit_places(stage, view, seen)
    found = {}
    for front in stage.fronts:
        if front.name in stage.emitting:
            starts = _starts(front)
            others = [other for other in stage.fronts if other.name != front.name]
            found[front.name] = tuple(o for o in others if shown[o.name] or _met(o, starts, lit))
    return found


def in_view(stage: Stage, view: View) -> tuple[Front, ...]:
    """The fronts whose box is met by a camera ray."""
    seen = _camera_ends(stage, view)
    return tuple(front for front in stage.fronts if _met(front, view.position_m[None], seen))


def _met(front: Front, starts: Floats, ends: Floats) -> bool:
    """Whether any way from one of the starts (n, 3) to one of the ends (k, 3) meets the box of a
    front with its housing, in its own axes."""
    low, high = _box(local_from_room(front, _solid(front)))
    return _any_meets(local_from_room(front, starts), local_from_room(front, ends), low, high)


def _solid(front: Front) -> Floats:
    """Corners (n, 3) of all that is solid about a light: its housing and its cloth."""
    return np.concatenate([housing(front)[0], cloth(front)[0]])


def _box(vertices: Floats) -> tuple[Floats, Floats]:
    return vertices.min(0), vertices.max(0)


def _camera_ends(stage: Stage, view: View) -> Floats:
    """Ends (n, 3) of ways from the lens through the frame to beyond everything."""
    x = np.linspace(-0.5, 0.5, CAMERA_RAYS) * view.frame_width_m
    y = np.linspace(-0.5, 0.5, CAMERA_RAYS) * view.frame_height_m
    across, upward = (a.reshape(-1, 1) for a in np.meshgrid(x, y))
    towards = across * view.right + upward * view.up - view.image_m * view.back
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    return view.position_m + _span(stage, view) * towards


def _span(stage: Stage, view: View) -> float:
    """A length that no ray from the camera to a housing exceeds [m]."""
    corners = [_solid(front) for front in stage.fronts]
    farthest = [np.linalg.norm(corner - view.position_m, axis=1).max() for corner in corners]
    return float(max(farthest, default=0.0)) + 1


def _starts(front: Front) -> Floats:
    """Places (n, 3): the cloth's farthest along and across its axes, and the middle."""
    shining = cloth(front)[0]
    local = local_from_room(front, shining)
    ways = np.array([[i, j, k] for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)])
    farthest = np.unique(np.argmax(local @ ways.T, axis=0))
    return np.concatenate([shining[farthest], front.centre_m[None]])


def _lit_places(stage: Stage, view: View, seen: Floats) -> Floats:
    """Corners and centre of the boxes of sitter and elements, the backdrop in the frame: (n, 3)."""
    clouds = []
    if stage.body:
        clouds += [surface.vertices for surface in stage.body.surfaces]
        if stage.dress == "real":
            clouds += [strands.points for strands in stage.body.strands]
    boxes = [_extent(cloud) for cloud in clouds if len(cloud)]
    if boxes:
        boxes = [_around(boxes)]
    boxes += [_extent(element.centres_m) for element in stage.elements]
    picks = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    places = [np.concatenate([box[picks, [0, 1, 2]], box.mean(0)[None]]) for box in boxes]
    places += [
        _on_sheet(sheet, view.position_m, seen)
        for sheet in stage.sheets
        if sheet.kind == "backdrop"
    ]
    return np.concatenate(places) if places else np.zeros((0, 3))


def _extent(cloud: Places) -> Floats:
    """Least and greatest x, y, z (2, 3) of places (..., 3); remembered while they live.

    Placed sets are frozen data: nobody writes into their arrays. Column by column it is ten times
    as quick.
    """
    known = _extents.get(id(cloud))
    if known is not None and known[0]() is cloud:
        return known[1]
    columns = [cloud[..., k] for k in range(3)]
    found = np.array([[c.min() for c in columns], [c.max() for c in columns]])
    name = id(cloud)
    _extents[name] = weakref.ref(cloud, lambda _: _extents.pop(name, None)), found
    return found


def _around(boxes: list[Floats]) -> Floats:
    """The box (2, 3) around boxes."""
    return np.stack([np.min([b[0] for b in boxes], 0), np.max([b[1] for b in boxes], 0)])


def _on_sheet(sheet: Sheet, eye: Floats, seen: Floats) -> Floats:
    """Where the camera's ways to the ends (n, 3) meet a sheet: (k, 3)."""
    step = seen - eye
    share, _ = meet(sheet, np.broadcast_to(eye, step.shape), step)
    on = np.isfinite(share)
    return eye + share[on, None] * step[on]


def _any_meets(starts: Floats, ends: Floats, low: Floats, high: Floats) -> bool:
    """True if any way from a start to an end passes through the box (slab test, axis by axis)."""
    near, far = np.zeros((len(starts), len(ends))), np.ones((len(starts), len(ends)))
    for axis in range(3):
        start = starts[:, None, axis]
        step = ends[None, :, axis] - start
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (low[axis] - start) / step, (high[axis] - start) / step
        if not step.all():
            # Along the slab: never leaves it, or never enters it.
            inside = (start >= low[axis]) & (start <= high[axis])
            one = np.where(step == 0, np.where(inside, -np.inf, np.inf), one)
            other = np.where(step == 0, np.inf, other)
        np.maximum(near, np.minimum(one, other), out=near)
        np.minimum(far, np.maximum(one, other), out=far)
    return bool(np.any(near <= far))
