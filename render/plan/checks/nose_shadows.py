"""Crossed nose shadows: two lights from either side that are nearly as bright as each other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import unit
from render.photometry.stops import stops
from render.plan.checks.face import FaceLight
from render.plan.checks.finding import Context, Finding, no_sitter
from render.plan.checks.nose_light import no_key_on_face

Floats = NDArray[np.float64]

# Common practice: a fill within a stop of the key and so far round draws a shadow of its own.
WITHIN_STOPS, APART_DEG = 1.0, 60.0
STRAIGHT_DEG = 10.0  # a light so nearly ahead of the nose hides its shadow under it


def nose_shadows(context: Context) -> list[Finding]:
    """One finding: the pair of lights whose nose shadows come nearest to crossing."""
    layout = context.layout
    face = context.face
    rows = [i for i, name in enumerate(face.names) if name.startswith(("nose_tip", "cheek"))]
    level = face.at_light_lx_s[rows].max(axis=0)
    shading = [
        i
        for i, front in enumerate(layout.fronts)
        if face.at_light_lx_s[rows[0], i] > 0 and _throws(face, front)
    ]
    told = [_pair(context, i, j, level) for i, j in combinations(shading, 2)]
    if not told:
        names = ", ".join(f"light.{layout.fronts[i].name}" for i in shading) or "no light"
        words = f"One nose shadow at most: {names} throws one on the face."
        return [_finding("fine", float(len(shading)), "count of nose shadows", 1.0, words)]
    crossed = [pair for pair in told if pair.verdict != "fine"]
    return crossed or [min(told, key=lambda pair: pair.value)]


def _throws(face: FaceLight, front: Front) -> bool:
    """Whether a light is far enough beside the nose to throw its shadow to a side."""
    way = unit(front.centre_m - face.positions_m[0])
    return bool(np.degrees(np.arccos(np.clip(way @ face.normals[0], -1, 1))) > STRAIGHT_DEG)


def no_face_light(context: Context) -> str:
    """Why the light on the face cannot be checked."""
    return no_sitter(context) or no_key_on_face(context.face, context.layout.key)


def _pair(context: Context, i: int, j: int, level: Floats) -> Finding:
    """Two lights that both throw a nose shadow."""
    fronts, tip, key = context.layout.fronts, context.face.positions_m[0], context.layout.key
    if j == key or (i != key and level[i] < level[j]):
        i, j = j, i  # the key is left as it is, else the brighter one
    lead = float(stops(level[i] / level[j]))
    under = abs(lead)
    ways = [unit(fronts[k].centre_m - tip) for k in (i, j)]
    apart = float(np.degrees(np.arccos(np.clip(ways[0] @ ways[1], -1, 1))))
    names = f"light.{fronts[i].name} and light.{fronts[j].name}"
    words = f"{names} are {under:.1f} stops and {apart:.0f} degrees apart at the nose"
    if under < WITHIN_STOPS and apart > APART_DEG:
        words += (
            f", so that two nose shadows cross: turn {fronts[j].name} down by "
            f"{WITHIN_STOPS - lead:.1f} stops or bring it within {APART_DEG:.0f} degrees."
        )
        return _finding("look", under, "stops apart", WITHIN_STOPS, words)
    words += ": their nose shadows do not compete."
    return _finding("fine", under, "stops apart", WITHIN_STOPS, words)


def _finding(verdict: str, value: float, unit_: str, limit: float, words: str) -> Finding:
    return Finding(
        check="nose shadows",
        about="sitter",
        verdict="look" if verdict == "look" else "fine",
        value=value,
        unit=unit_,
        limit=limit,
        words=words,
    )
