"""Nose light: a hair or rim light that comes so far round that it lights nose, brow or cheek."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import unit
from render.photometry.stops import stops
from render.plan.checks.face import FaceLight, nose_axes
from render.plan.checks.finding import Context, Finding, no_sitter
from render.predict import direct_exposure
from render.sitter.body import Surface

Floats = NDArray[np.float64]

NEAREST_STOPS = -3.0  # a light from behind within so many of the key shows; common practice
PATCHES_M = {"nose_tip": 0.010, "brow": 0.012, "cheek": 0.015}  # skin round each landmark
PATCH_POINTS = 24
LIFT_M = 1e-3
FAINTEST_STOPS = -8.0  # fainter light is beyond any print


def nose_light(context: Context) -> list[Finding]:
    """One finding for each light behind the face."""
    layout, face = context.layout, context.face
    behind = lights_behind(context)
    reference = float(np.max(face.at_light_lx_s[:, layout.key], initial=0.0))
    places, at, normals = _patches(context)
    light = direct_exposure(
        layout, at + LIFT_M * normals, normals, "flat", obstacles=context.obstacles
    ).luminous_exposure_lx_s
    found = []
    for index in behind:
        brightest = int(np.argmax(light[:, index]))
        level = _stops(float(light[brightest, index]), reference)
        found.append(_judged(layout.fronts[index].name, level, places[brightest]))
    return found


def no_light_behind(context: Context) -> str:
    """Why nose light cannot be checked."""
    lacking = no_sitter(context)
    if lacking:
        return lacking
    if not lights_behind(context):
        return "no light stands behind the face"
    return no_key_on_face(context.face, context.layout.key)


def no_key_on_face(face: FaceLight, key: int) -> str:
    """Why nothing can be set against the key."""
    if not face.names:
        return "the sitter has no landmarks on the face"
    return "" if face.at_light_lx_s[:, key].max() > 0 else "the key does not reach the face"


def lights_behind(context: Context) -> list[int]:
    """Lights other than the key that stand behind the plane of the face."""
    sitter, layout = context.setup.scene.sitter, context.layout
    if sitter is None or not context.face.names:
        return []
    ahead = nose_axes(sitter).ahead
    tip = context.face.positions_m[0]
    return [
        i
        for i, front in enumerate(layout.fronts)
        if i != layout.key
        and front.luminous_energy_lm_s > 0
        and unit(front.centre_m - tip) @ ahead < 0
    ]


def _patches(context: Context) -> tuple[list[str], Floats, Floats]:
    """Names, places (n, 3) [m] and normals (n, 3) of skin round nose, brows and cheeks."""
    body = context.layout.body
    assert body is not None
    names, at, normals = [], [], []
    for mark, where in body.landmarks.items():
        reach = next((r for stem, r in PATCHES_M.items() if mark.startswith(stem)), None)
        if reach is None or mark.startswith("cheekbone"):
            continue
        patch, facing = _near(body.surfaces[0], where.position_m.astype(float), reach)
        names += [_spoken(mark)] * len(patch)
        at.append(patch)
        normals.append(facing)
    return names, np.concatenate(at), np.concatenate(normals)


def _spoken(mark: str) -> str:
    """A landmark as it is said: "brow at the sitter's left"."""
    return mark.replace("_sitter_", " at the sitter's ").replace("_", " ")


def _near(skin: Surface, place: Floats, reach_m: float) -> tuple[Floats, Floats]:
    """At most PATCH_POINTS vertices of the skin near a place, and their normals."""
    gap = np.linalg.norm(skin.vertices.astype(float) - place, axis=1)
    near = np.flatnonzero(gap < max(reach_m, float(gap.min()) + 1e-9))
    chosen = near[:: max(1, -(-len(near) // PATCH_POINTS))]
    return skin.vertices[chosen].astype(float), skin.normals[chosen].astype(float)


def _stops(light: float, reference: float) -> float:
    """Stops of a light against another, no fainter than matters."""
    if light <= 0 or reference <= 0:
        return FAINTEST_STOPS
    return max(FAINTEST_STOPS, float(stops(light / reference)))


def _judged(light: str, level: float, place: str) -> Finding:
    bright = level > NEAREST_STOPS
    if level <= FAINTEST_STOPS:
        words = f"light.{light} does not reach nose, brow or cheek"
        words += f" (less than {FAINTEST_STOPS:g} stops of the key)."
    else:
        words = f"light.{light} reaches the {place}, {level:+.1f} stops of the key"
        words += (
            f", brighter than {NEAREST_STOPS:g}: move it farther behind, flag it on the camera's "
            f"side or turn it down by {level - NEAREST_STOPS:.1f} stops; hair may hide some of it."
            if bright
            else "."
        )
    verdict = "look" if bright else "fine"
    return Finding(
        check="nose light",
        about=f"light.{light}",
        verdict="look" if verdict == "look" else "fine",
        value=level,
        unit="stops re key",
        limit=NEAREST_STOPS,
        words=words,
    )
