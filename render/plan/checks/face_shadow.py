"""The shadow that a light throws on a face, drawn as the nose sees it: lit and dark squares."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.plan.checks.eyes import corneas
from render.plan.checks.face import Nose
from render.predict.touch import distances, ray_scene
from render.sitter.body import Body, Glass, Surface

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP_M = 1e-3  # side of a square; a gap in a shadow narrower than this is none
HALF_WIDTH_M, ABOVE_EYES_M, UNDER_CHIN_M = 0.080, 0.055, 0.005  # of the drawing; a face fits
AHEAD_M, DEPTH_M = 0.20, 0.26  # drawn from so far before the nose; what lies deeper is no face
LIFT_M = 5e-5  # shadow rays start so far off the skin; more would light past a round edge
LIDS_M = 0.014  # from the middle of the eyes down to the cheeks, past the lower lids; from memory
BROW_TO_EYES_M = 0.024  # where a mesh has no eyes; from the bundled heads
LANDMARKS = {"nose_tip", "chin", "upper_lip", "cheek_sitter_left", "cheek_sitter_right"}


@dataclass(frozen=True, slots=True)
class FaceShadow:
    """Squares of a face; `across` grows away from the light, `up` from the tip of the nose [m]."""

    across_m: Floats  # (h, w)
    up_m: Floats  # (h, w)
    face: Bools  # (h, w)
    lit: Bools  # (h, w) by the middle of the light
    lids_m: float  # height of the line under the eyes
    lip_m: float  # height of the upper lip
    chin_m: float

    @property
    def dark(self) -> Bools:
        """Squares of the face in the shadow of the face itself."""
        return self.face & ~self.lit


def face_shadow(body: Body, sitter: EmbreeScene | None, nose: Nose, light_m: Floats) -> FaceShadow:
    """Draw the shadow of a light whose middle is at a place (3,) [m]; glasses and hair left out.

    body : with LANDMARKS
    """
    marks = {name: mark.position_m.astype(float) for name, mark in body.landmarks.items()}
    tip = marks["nose_tip"]
    # Level with the cheeks, so that a tilted head is drawn upright.
    across = marks["cheek_sitter_left"] - marks["cheek_sitter_right"]
    across = unit(across - (across @ nose.ahead) * nose.ahead)
    up = np.cross(nose.ahead, across)
    if (light_m - tip) @ across > 0:
        across = -across
    eyes, chin = _eyes_m(body, marks, up), float((marks["chin"] - tip) @ up)
    u, v = np.meshgrid(
        np.arange(-HALF_WIDTH_M, HALF_WIDTH_M, STEP_M),
        np.arange(chin - UNDER_CHIN_M, eyes + ABOVE_EYES_M, STEP_M),
    )
    scene = _bare(body.surfaces) or sitter
    starts = tip + AHEAD_M * nose.ahead + u.reshape(-1, 1) * across + v.reshape(-1, 1) * up
    deep = distances(scene, starts, np.broadcast_to(-nose.ahead, starts.shape))
    face = deep < DEPTH_M
    at = starts[face] - deep[face, None] * nose.ahead
    way = light_m - at
    far = np.linalg.norm(way, axis=1)
    way /= far[:, None]
    lit = np.zeros(len(starts), dtype=np.bool_)
    lit[face] = distances(scene, at + LIFT_M * (way + nose.ahead), way) > far
    return FaceShadow(
        across_m=u,
        up_m=v,
        face=face.reshape(u.shape),
        lit=lit.reshape(u.shape),
        lids_m=eyes - LIDS_M,
        lip_m=float((marks["upper_lip"] - tip) @ up),
        chin_m=chin,
    )


def _eyes_m(body: Body, marks: dict[str, Floats], up: Floats) -> float:
    """Height of the middle of the eyes above the tip of the nose [m]."""
    pupils = [eye.pupil_m for eye in corneas(body)]
    if pupils:
        return float((np.mean(pupils, axis=0) - marks["nose_tip"]) @ up)
    brows = np.mean([at for name, at in marks.items() if name.startswith("brow")], axis=0)
    return float((brows - marks["nose_tip"]) @ up) - BROW_TO_EYES_M


@lru_cache(maxsize=1)  # the same sitter under light after light
def _bare(surfaces: tuple[Surface, ...]) -> EmbreeScene | None:
    """The sitter without glasses, whose frame would cut the cheek in two; None without glasses."""
    frames = [part for part in surfaces if part.name.startswith("glasses")]
    if not frames:
        return None
    kept = [
        (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
        for part in surfaces
        if part not in frames and not isinstance(part.material, Glass)
    ]
    return ray_scene(kept)
