"""From which corner of the room most of a set is seen: the sitter's head first, then the fronts."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.layout.placed import Layout
from render.predict.touch import distances, ray_scene
from render.setview.eye import Eye, pixels
from render.setview.solids import SITTER
from render.setview.stage import Piece

Floats = NDArray[np.float64]

# All from the camera's side, where faces are.
AZIMUTHS_DEG = (52.0, 36.0, 20.0, -20.0, -36.0, -52.0)
ELEVATIONS_DEG = (27.0, 38.0)  # the lower one is nearer to how one stands in a room
LOWER = 0.1  # for it
HEAD_PLACES, HEAD_M = 60, 0.25  # of the skin, so far down from the top of the head
FRONTS_COUNT = 0.3  # for a front that looks straight at the eye, where the whole head counts 1
# For two labels in one place; labels nearer than this share of the width.
CROWDED, NEAR = 0.1, 0.12
BESIDE_KEY = 0.1  # for the side that the key does not stand at


def open_side(
    pieces: Sequence[Piece], layout: Layout, from_side: Callable[[float, float], Eye]
) -> Eye:
    """The eye, of those at AZIMUTHS_DEG and ELEVATIONS_DEG, that sees most."""
    hiding = ray_scene([p.mesh for p in pieces if p.name != SITTER and not p.wall])
    named = [p for p in pieces if p.name.startswith(("light.", "panel.")) or p.name == SITTER]
    middles = np.array(
        [
            np.mean([p.mesh[0].mean(0) for p in named if p.name == name], 0)
            for name in dict.fromkeys(p.name for p in named)
        ]
    ).reshape(-1, 3)
    eyes = [from_side(a, e) for e in ELEVATIONS_DEG for a in AZIMUTHS_DEG]

    def score(eye: Eye) -> float:
        found = _head_share(layout, hiding, eye)
        for front in layout.fronts:
            towards = float(unit(eye.position_m - front.centre_m) @ front.normal)
            found += FRONTS_COUNT * max(0.0, towards) * (front.luminous_energy_lm_s > 0)
        found -= CROWDED * _crowding(eye, middles)
        key = layout.fronts[layout.key].centre_m if layout.fronts else np.zeros(3)
        return found + (BESIDE_KEY if key[0] * eye.position_m[0] < 0 else 0.0)

    points = [score(eye) + LOWER * (i < len(AZIMUTHS_DEG)) for i, eye in enumerate(eyes)]
    return eyes[int(np.argmax(points))]


def _crowding(eye: Eye, middles: Floats) -> float:
    """How much things (n, 3) [m] lie over one another, one for each pair in one place."""
    at = pixels(eye, middles, (1, 1)) * [1.0, eye.half_height / eye.half_width]
    apart = np.linalg.norm(at[:, None] - at[None], axis=-1)[np.triu_indices(len(at), 1)]
    return float(np.clip(1 - apart / NEAR, 0.0, None).sum())


def _head_share(layout: Layout, hiding: EmbreeScene | None, eye: Eye) -> float:
    """Share of the skin that nothing but the sitter hides; 0 without a sitter."""
    if layout.body is None:
        return 0.0
    skin = layout.body.surfaces[0].vertices
    skin = skin[skin[:, 1] > skin[:, 1].max() - HEAD_M]
    places = skin[:: max(1, len(skin) // HEAD_PLACES)].astype(np.float64)
    starts = np.broadcast_to(eye.position_m, places.shape)
    met = distances(hiding, starts, unit(places - starts))
    return float(np.mean(met > np.linalg.norm(places - starts, axis=1)))
