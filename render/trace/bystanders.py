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


def bystanders(stage: Stage, view: View, light: str) -> tuple[Front, ...]:
    """The fronts, other than the light's own, that may change the frame of one light.

    Those whose box, in their own axes, is met by a camera ray or by a segment from the light's
    front to the sitter or to what the frame shows of the backdrop. What they do to light that has
    bounced elsewhere is left out.
    """
    front = next(f for f in stage.fronts if f.name == light)
    others = [f for f in stage.fronts if f.name != light]
    seen = _camera_segments(stage, view)
    rays = np.concatenate([seen, _light_segments(front, _lit_places(stage, seen))])
    return tuple(other for other in others if _met(other, rays))


def in_view(stage: Stage, view: View) -> tuple[Front, ...]:
    """The fronts whose box is met by a camera ray."""
    seen = _camera_segments(stage, view)
    return tuple(front for front in stage.fronts if _met(front, seen))


def _met(front: Front, segments: Floats) -> bool:
    """Whether any segment (n, 2, 3) meets the box of a front with its housing, in its own axes."""
    box = _box(local_from_room(front, _solid(front)))
    return _any_meets(local_from_room(front, segments), *box)


def _solid(front: Front) -> Floats:
    """Corners (n, 3) of all that is solid about a light: its housing and its cloth."""
    return np.concatenate([housing(front)[0], cloth(front)[0]])


def _box(vertices: Floats) -> tuple[Floats, Floats]:
    return vertices.min(0), vertices.max(0)


def _camera_segments(stage: Stage, view: View) -> Floats:
    """Segments (n, 2, 3) from the lens through the frame to beyond everything."""
    x = np.linspace(-0.5, 0.5, CAMERA_RAYS) * view.frame_width_m
    y = np.linspace(-0.5, 0.5, CAMERA_RAYS) * view.frame_height_m
    across, upward = (a.reshape(-1, 1) for a in np.meshgrid(x, y))
    towards = across * view.right + upward * view.up - view.image_m * view.back
    towards /= np.linalg.norm(towards, axis=1, keepdims=True)
    start = np.broadcast_to(view.position_m, towards.shape)
    return np.stack([start, start + _span(stage, view) * towards], 1)


def _span(stage: Stage, view: View) -> float:
    """A length that no ray from the camera to a housing exceeds [m]."""
    corners = [_solid(front) for front in stage.fronts]
    farthest = [np.linalg.norm(corner - view.position_m, axis=1).max() for corner in corners]
    return float(max(farthest, default=0.0)) + 1


def _light_segments(front: Front, ends: Floats) -> Floats:
    """Segments (n, 2, 3) from the front's outermost places and centre to what it is to light."""
    pairs = np.broadcast_arrays(_starts(front)[:, None], ends[None])
    return np.stack(pairs, 2).reshape(-1, 2, 3)


def _starts(front: Front) -> Floats:
    """Places (n, 3): the cloth's farthest along and across its axes, and the middle."""
    shining = cloth(front)[0]
    local = local_from_room(front, shining)
    ways = np.array([[i, j, k] for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)])
    farthest = np.unique(np.argmax(local @ ways.T, axis=0))
    return np.concatenate([shining[farthest], front.centre_m[None]])


def _lit_places(stage: Stage, seen: Floats) -> Floats:
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
    places += [_on_sheet(sheet, seen) for sheet in stage.sheets if sheet.kind == "backdrop"]
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


def _on_sheet(sheet: Sheet, seen: Floats) -> Floats:
    """Where the camera's segments (n, 2, 3) meet a sheet: (k, 3)."""
    start, step = seen[:, 0], seen[:, 1] - seen[:, 0]
    share, _ = meet(sheet, start, step)
    on = np.isfinite(share)
    return start[on] + share[on, None] * step[on]


def _any_meets(segments: Floats, low: Floats, high: Floats) -> bool:
    """True if any segment (n, 2, 3) passes through the box (slab test)."""
    start, step = segments[:, 0], segments[:, 1] - segments[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        at_low, at_high = (low - start) / step, (high - start) / step
    inside = (start >= low) & (start <= high)
    still = step == 0
    near = np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(at_low, at_high))
    far = np.where(still, np.where(inside, np.inf, -np.inf), np.maximum(at_low, at_high))
    return bool(np.any((near.max(1) <= far.min(1)) & (far.min(1) >= 0) & (near.max(1) <= 1)))
