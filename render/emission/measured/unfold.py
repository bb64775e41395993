"""A measured beam that a file gives in part, unfolded to all the planes around the axis."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from render.emission.measured.text import refuse
from render.emission.measured.web import Floats, between

SAME_DEG = 1e-3  # angles of files are written with two or three decimals
PARTS = "one plane, or planes from 0 to 90, 0 to 180, 90 to 270 or 0 to 360 degrees"
STEP_DEG = 0.5  # in gamma: grid on which the floodlight conventions are read anew
PLANE_STEP_DEG = 1.0  # the same around the axis


def all_planes(
    file: Path, line: int, planes: list[float], candela: Floats
) -> tuple[Floats, Floats]:
    """Planes (p,) from 0 to 360 degrees and intensities (p, g) of C planes.

    planes  : (k,) ascending, as the file gives them
    candela : (k, g) [cd]
    Raises KitError where the planes are none of the symmetries of LM-63.
    """
    turns = np.array(planes)
    if len(turns) == 1:
        return np.array([0.0, 360.0]), np.repeat(candela, 2, axis=0)
    first, last = turns[0], turns[-1]
    if _are(first, last, 0, 90):
        images = [turns, 180 - turns, 180 + turns, 360 - turns]
    elif _are(first, last, 0, 180):
        images = [turns, 360 - turns]
    elif _are(first, last, 90, 270):
        images = [turns, 180 - turns]
    elif _are(first, last, 0, 360):
        images = [turns]
    elif abs(first) <= SAME_DEG and 180 < last < 360 <= last + np.max(np.diff(turns)) + SAME_DEG:
        # An open circle: the plane at 360 degrees is the one at 0.
        turns, candela = np.append(turns, 360.0), np.concatenate([candela, candela[:1]])
        images = [turns]
    else:
        raise refuse(file, line, f"planes from {first:g} to {last:g} degrees", PARTS)
    around = np.unique(np.round(np.concatenate([[0.0], *images]), 3) % 360)
    around = np.append(around, 360.0)
    given = np.clip(_in_part(around, first, last), turns[0], turns[-1])
    return around, np.stack([np.interp(given, turns, each) for each in candela.T], -1)


def _are(first: float, last: float, low: float, high: float) -> bool:
    return abs(first - low) <= SAME_DEG and abs(last - high) <= SAME_DEG


def _in_part(around: Floats, first: float, last: float) -> Floats:
    """The plane of the file that each plane around the axis looks like."""
    if last > 270 + SAME_DEG:
        return around
    if first > SAME_DEG:  # mirrored at C90-C270
        return np.where((around < 90) | (around > 270), (180 - around) % 360, around)
    half = np.minimum(around, 360 - around)
    return half if last > 90 + SAME_DEG else np.minimum(half, 180 - half)


def from_floodlight(
    kind: str, horizontals: list[float], verticals: list[float], candela: Floats
) -> tuple[Floats, Floats, Floats]:
    """Gammas (g,), planes (p,) and intensities (p, g) of a type B or type A file.

    horizontals : (k,)  clockwise seen from above, 0 ahead; a file that begins at 0 is symmetric
    verticals   : (m,)  upwards, 0 ahead
    candela     : (k, m) [cd]; nothing shines beyond the angles of the file

    Type B: V turns about a horizontal axis, H leaves the plane so turned towards that axis. Type A:
    H turns about the vertical axis, V leaves its plane upwards (LM-63-2002, key definitions; the
    same as goniometers with a fixed vertical and a fixed horizontal axis). The new grid holds every
    angle of the file, so the file's own cross through the axis is kept exactly.
    """
    sides, rises = np.array(horizontals), np.array(verticals)
    own = np.abs(np.concatenate([sides, rises]))
    gammas = np.concatenate([np.arange(0, 180 + STEP_DEG, STEP_DEG), own])
    gammas = np.unique(np.round(gammas, 3))
    turned = rises if kind == "B" else sides  # the angle that turns about the file's own axis
    if np.all(np.abs(turned) <= 90):
        gammas = gammas[gammas <= 90]
    planes = np.arange(0, 360 + PLANE_STEP_DEG, PLANE_STEP_DEG)
    gamma, plane = np.radians(gammas)[None, :], np.radians(planes)[:, None]
    # Seen along the beam, C0 (the front's `right`) lies to the left and C90 below.
    right = -np.sin(gamma) * np.cos(plane)
    up = -np.sin(gamma) * np.sin(plane)
    ahead_of = np.cos(gamma) * np.ones_like(plane)
    if kind == "B":
        side, rise = np.arcsin(np.clip(right, -1, 1)), np.arctan2(up, ahead_of)
    else:
        side, rise = np.arctan2(right, ahead_of), np.arcsin(np.clip(up, -1, 1))
    side = np.degrees(np.abs(side) if sides[0] == 0 else side)
    return gammas, planes, between(sides, rises, candela, side, np.degrees(rise))
