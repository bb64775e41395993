"""From which corner of the room most of a set is seen: the sitter's head first, then the fronts."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.layout.placed import Layout
from render.predict.touch import distances, ray_scene
from render.setview.eye import Eye
from render.setview.solids import SITTER
from render.setview.stage import Piece

Floats = NDArray[np.float64]

# All from the camera's side, where faces are.
AZIMUTHS_DEG = (52.0, 36.0, 20.0, -20.0, -36.0, -52.0)
HEAD_PLACES, HEAD_M = 60, 0.25  # of the skin, so far down from the top of the head
FRONTS_COUNT = 0.3  # for a front that looks straight at the eye, where the whole head counts 1
BESIDE_KEY = 0.1  # for the side that the key does not stand at


def open_side(pieces: Sequence[Piece], layout: Layout, from_side: Callable[[float], Eye]) -> Eye:
    """The eye, of those at AZIMUTHS_DEG, that sees most."""
    hiding = ray_scene([p.mesh for p in pieces if p.name != SITTER and not p.wall])
    eyes = [from_side(degrees) for degrees in AZIMUTHS_DEG]

    def score(eye: Eye) -> float:
        found = _head_share(layout, hiding, eye)
        for front in layout.fronts:
            towards = float(unit(eye.position_m - front.centre_m) @ front.normal)
            found += FRONTS_COUNT * max(0.0, towards) * (front.luminous_energy_lm_s > 0)
        key = layout.fronts[layout.key].centre_m if layout.fronts else np.zeros(3)
        return found + (BESIDE_KEY if key[0] * eye.position_m[0] < 0 else 0.0)

    return max(eyes, key=score)


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
