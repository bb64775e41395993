"""The name of the lighting pattern, from the shadow that the key really throws on the face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import unit
from render.plan.checks.face import Nose, nose_axes
from render.plan.checks.finding import Context, Finding, Verdict
from render.predict.touch import distances
from render.sitter.body import Body

Floats = NDArray[np.float64]

PATCH_M = 0.012  # of skin round the landmark of a cheek
LIFT_M = 5e-4  # shadow rays start so far off the skin

# Common practice, no source: butterfly within 10 degrees of the nose and loop from 20, split to
# 100 and rim from 110. Between loop, 45-degree and split the shadow on the far cheek decides; its
# shares are set so that a key at 30 degrees makes loop light and one at 50 the closed triangle.
BUTTERFLY_DEG, RIM_DEG = 15.0, 105.0
CLOSED_SHARE, GONE_SHARE = 0.80, 0.05  # of what is lit at the far cheek against the near one
HIGHEST_DEG, LOWEST_DEG = 50.0, 0.0  # of the key above the nose: dark sockets; light from below
FLAT_DEG = 20.0  # below this no shadow shows under the nose
FACES_CAMERA_DEG = 5.0  # a nose turned less has no broad or short side


@dataclass(frozen=True, slots=True)
class LitFace:
    """Shares of the cheeks that the middle of the key lights."""

    near_cheek: float  # at the key's side of the nose
    far_cheek: float


def pattern(context: Context) -> list[Finding]:
    """One finding: the pattern of the key, broad or short, and where the key is from the nose."""
    layout, sitter = context.layout, context.setup.scene.sitter
    assert layout.body is not None
    assert sitter is not None
    nose, front = nose_axes(sitter), layout.fronts[layout.key]
    tip = layout.body.landmarks["nose_tip"].position_m.astype(float)
    azimuth, elevation = nose.angles_deg(front.centre_m - tip)
    lit = lit_face(layout.body, context.sitter, front, azimuth)
    name = pattern_name(lit, azimuth, elevation)
    words = f"light.{front.name} makes {name} light"
    side = "" if layout.view is None else _side(nose, layout.view.position_m - tip, azimuth)
    words += f"{side}: {abs(azimuth):.0f} degrees beside the nose and {elevation:.0f} above it, "
    words += f"{100 * lit.far_cheek:.0f} % of the far cheek is lit"
    verdict: Verdict = "fine"
    if elevation > HIGHEST_DEG:
        verdict, drop = "look", elevation - HIGHEST_DEG
        words += f"; eye sockets go dark above {HIGHEST_DEG:.0f} degrees: lower it by {drop:.0f}"
    elif elevation < LOWEST_DEG:
        verdict = "look"
        words += "; light from below the nose looks like a torch under the chin: raise it"
    return [
        Finding(
            check="pattern",
            about=f"light.{front.name}",
            verdict=verdict,
            value=azimuth,
            unit="deg beside the nose",
            limit=None,
            words=f"{words}.",
        )
    ]


def no_pattern(context: Context) -> str:
    """Why the pattern cannot be named."""
    body = context.layout.body
    if body is None:
        return "the scene has no sitter"
    needed = {"nose_tip"} | {f"cheek_sitter_{side}" for side in ("left", "right")}
    return "" if needed <= set(body.landmarks) else "the sitter lacks landmarks of the face"


def pattern_name(lit: LitFace, azimuth_deg: float, elevation_deg: float) -> str:
    """The trade's name of a shadow on the face, the key at an azimuth and elevation of the nose."""
    beside = abs(azimuth_deg)
    share = lit.far_cheek / lit.near_cheek if lit.near_cheek > 0 else 0.0
    if beside > RIM_DEG:
        return "rim"
    if share < GONE_SHARE:
        return "split"
    if beside < BUTTERFLY_DEG:
        return "butterfly" if elevation_deg >= FLAT_DEG else "flat front"
    return "45-degree" if share < CLOSED_SHARE else "loop"


def lit_face(body: Body, sitter: EmbreeScene | None, front: Front, azimuth_deg: float) -> LitFace:
    """What the middle of a front lights of either cheek, shadows of the sitter included.

    azimuth_deg : of the front beside the nose; positive is the sitter's left
    """
    near, far = ("left", "right") if azimuth_deg >= 0 else ("right", "left")
    return LitFace(*(_lit_share(body, sitter, front, f"cheek_sitter_{s}") for s in (near, far)))


def _lit_share(body: Body, sitter: EmbreeScene | None, front: Front, landmark: str) -> float:
    """Share of the skin round a landmark that the middle of a front lights."""
    skin = body.surfaces[0]
    mark = body.landmarks[landmark].position_m.astype(float)
    gap = np.linalg.norm(skin.vertices.astype(float) - mark, axis=1)
    reach = max(PATCH_M, float(gap.min()) + 1e-9)
    at = skin.vertices[gap <= reach].astype(float)
    normal = skin.normals[gap <= reach].astype(float)
    way = unit(front.centre_m - at)
    far = np.linalg.norm(front.centre_m - at, axis=1)
    free = distances(sitter, at + LIFT_M * normal, way) > far
    return float(np.mean(free & (np.sum(way * normal, axis=1) > 0)))


def _side(nose: Nose, to_camera: Floats, azimuth_deg: float) -> str:
    """Broad or short, as the camera sees the face."""
    camera, _ = nose.angles_deg(to_camera)
    if abs(camera) < FACES_CAMERA_DEG:
        return ""
    # The side of the face that is turned to the camera is the one at which the camera stands.
    return ", broad" if camera * azimuth_deg > 0 else ", short"
