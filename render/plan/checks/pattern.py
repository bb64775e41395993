"""The name of the lighting pattern, from the shadow that the key really throws on the face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render.plan.checks.face import Nose, nose_axes
from render.plan.checks.face_shadow import LANDMARKS, STEP_M, FaceShadow, face_shadow
from render.plan.checks.finding import Context, Finding, Verdict

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# The trade names a pattern by its shadow (trade pages on loop and closed loop): the nose's shadow
# stays clear of the cheek's (loop) or meets it and leaves a patch under the far eye (45-degree); no
# patch is left (split); only an edge is lit (rim); it lies straight under the nose (butterfly).
# Where "straight under", "no patch" and "an edge" end is common practice, no source: chosen so that
# the names change where the trade's angles do (10-20, 60-80 and 100-110 degrees beside the nose).
STRAIGHT_SHARE = 0.40  # so much more of it on the far side than on the near one is beside the nose
PATCH_MM2 = 20.0  # a smaller patch is a glint
SLIVER_MM2 = 40.0  # a smaller shadow of the nose falls to no side
EDGE_SHARE = 0.25  # of the face's midline; less lit is an edge
FLAT_DEG = 20.0  # of the key above the nose; below, no shadow shows under the nose
NOSE_M, NOSE_BASE_M = 0.020, -0.006  # half its width, and where it ends below its tip; from memory
WINGS_M = 0.006  # up from the tip, where the shadow of its wings begins; from memory
CHEEK_M = 0.060  # from the midline to where a face turns away; from memory
LIP_M, MIDLINE_M = 0.030, 0.004  # halves of the strips under the nose and along the midline
HIGHEST_DEG, LOWEST_DEG = 50.0, 0.0  # of the key above the nose: dark sockets; light from below
FACES_CAMERA_DEG = 5.0  # a nose turned less has no broad or short side


@dataclass(frozen=True, slots=True)
class Shape:
    """What the name of a pattern hangs on."""

    beside_share: float  # -1 to 1: the shadow under the nose, all at the light's side to all away
    under_mm2: float  # that shadow
    patch_mm2: float  # lit skin on the far cheek between lids and tip of the nose
    closed: bool  # no light gets from there to the mouth: the nose's shadow meets the cheek's
    midline_share: float  # of the middle of the face that is lit


def pattern(context: Context) -> list[Finding]:
    """One finding: the pattern of the key, broad or short, and where the key is from the nose."""
    layout, sitter = context.layout, context.setup.scene.sitter
    assert layout.body is not None
    assert sitter is not None
    nose, front = nose_axes(sitter), layout.fronts[layout.key]
    tip = layout.body.landmarks["nose_tip"].position_m.astype(float)
    azimuth, elevation = nose.angles_deg(front.centre_m - tip)
    shape = shape_of(face_shadow(layout.body, context.sitter, nose, front.centre_m))
    name = pattern_name(shape, elevation)
    words = f"light.{front.name} makes {name} light"
    side = "" if layout.view is None else _side(nose, layout.view.position_m - tip, azimuth)
    words += f"{side}: {abs(azimuth):.0f} degrees beside the nose and {elevation:.0f} above it"
    words += _shadow_words(name, shape)
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
    known = set(body.landmarks)
    eyes = any(part.name.startswith("eye_") for part in body.surfaces)
    whole = known >= LANDMARKS and (eyes or {"brow_sitter_left", "brow_sitter_right"} <= known)
    return "" if whole else "the sitter lacks landmarks of the face"


def pattern_name(shape: Shape, elevation_deg: float) -> str:
    """The trade's name of a shadow on the face, the key so far above the nose [degrees]."""
    if shape.midline_share < EDGE_SHARE:
        return "rim"
    if shape.patch_mm2 < PATCH_MM2:
        return "split"
    if shape.closed:
        return "45-degree"
    if shape.beside_share > STRAIGHT_SHARE and shape.under_mm2 >= SLIVER_MM2:
        return "loop"
    return "butterfly" if elevation_deg >= FLAT_DEG else "flat front"


def shape_of(shadow: FaceShadow) -> Shape:
    """What the name of a pattern hangs on, measured on the shadow."""
    across, up = shadow.across_m, shadow.up_m
    under = shadow.dark & (up < WINGS_M) & (up > shadow.lip_m) & (np.abs(across) < LIP_M)
    away, near = int((under & (across > 0)).sum()), int((under & (across < 0)).sum())
    cheek = (up < shadow.lids_m) & (up > 0) & (np.abs(across) < CHEEK_M)
    cheek &= np.abs(across) > NOSE_M
    patch = shadow.lit & cheek & (across > 0)
    square_mm2 = (1e3 * STEP_M) ** 2
    middle = shadow.face & (np.abs(across) < MIDLINE_M)
    return Shape(
        beside_share=(away - near) / max(away + near, 1),
        under_mm2=(away + near) * square_mm2,
        patch_mm2=float(patch.sum()) * square_mm2,
        closed=_closed(shadow, patch, shadow.lit & cheek & (across < 0)),
        midline_share=float(shadow.lit[middle].mean()) if middle.any() else 0.0,
    )


def _closed(shadow: FaceShadow, patch: Bools, near: Bools) -> bool:
    """Whether no lit skin below lids and nose joins most of the patch to the near cheek."""
    nose = (np.abs(shadow.across_m) < NOSE_M) & (shadow.up_m > NOSE_BASE_M)
    field = (shadow.up_m < shadow.lids_m) & (shadow.up_m > shadow.chin_m) & ~nose
    areas, _ = ndimage.label(shadow.lit & field)
    if not patch.any() or not near.any():
        return True
    most = [int(np.bincount(areas[cheek]).argmax()) for cheek in (patch, near)]
    return most[0] != most[1]


def _shadow_words(name: str, shape: Shape) -> str:
    """What the shadow does, as a photographer looks for it."""
    told = {
        "butterfly": "the nose's shadow lies straight under it",
        "flat front": "no shadow shows under the nose",
        "loop": "the nose's shadow falls to the side and is clear of the cheek's",
        "45-degree": "the nose's shadow meets the cheek's and leaves a lit patch of "
        f"{shape.patch_mm2 / 100:.1f} cm² under the far eye",
        "split": "nothing of the far cheek is lit under the eye",
        "rim": f"light reaches {100 * shape.midline_share:.0f} % of the face's midline",
    }
    return f"; {told[name]}"


def _side(nose: Nose, to_camera: Floats, azimuth_deg: float) -> str:
    """Broad or short, as the camera sees the face."""
    camera, _ = nose.angles_deg(to_camera)
    if abs(camera) < FACES_CAMERA_DEG:
        return ""
    # The side of the face that is turned to the camera is the one at which the camera stands.
    return ", broad" if camera * azimuth_deg > 0 else ", short"
