"""Glare on glasses: what of each lens mirrors a light into the camera, and what clears it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.layout.geometry import facing, unit
from render.layout.placed import View
from render.plan.checks.eyes import IRIS_M, Cornea, corneas
from render.plan.checks.finding import Context, Finding, Verdict, no_portrait
from render.plan.checks.mirrored import luminance_met, reflected
from render.plan.checks.panel_veils import panel_veils
from render.plan.checks.spectacles import Lens, covered, lenses_of

Floats = NDArray[np.float64]

LIFT_M = 1e-3
TILTS_DEG = tuple(range(2, 17, 2))  # temples lifted off the ears by so much go unnoticed
RAISES_CM = tuple(range(10, 81, 10))
TURNS_DEG = tuple(range(5, 31, 5))  # of the head, away from the light


@dataclass(frozen=True, slots=True)
class Glare:
    """Shares that mirror a light into the camera, as the camera sees them."""

    of_lens: float
    of_iris: float


def glasses_glare(context: Context) -> list[Finding]:
    """One finding for each light that shows in the glasses; one if none does."""
    layout = context.layout
    assert layout.body is not None
    assert layout.view is not None
    lenses, eyes = lenses_of(layout.body.surfaces), corneas(layout.body)
    found = []
    for i, front in enumerate(layout.fronts):
        if front.luminous_energy_lm_s <= 0:
            continue
        worst = [glare(context, i, front, lens, eyes) for lens in lenses]
        on_lens = max(each.of_lens for each in worst)
        if on_lens > 0:
            on_iris = max(each.of_iris for each in worst)
            cures = _cures(context, i, lenses, eyes)
            found.append(_judged(front.name, Glare(on_lens, on_iris), cures))
    found += panel_veils(context, lenses)
    if found:
        return found
    words = "No light or panel is mirrored into the camera by the glasses: 0 % of the lenses."
    return [Finding("glasses", "sitter", "fine", 0.0, "% of the lens", 0.0, words)]


def no_glasses(context: Context) -> str:
    """Why glare cannot be checked."""
    lacking = no_portrait(context)
    if lacking or context.layout.body is None:
        return lacking
    return "" if lenses_of(context.layout.body.surfaces) else "the sitter wears no glasses"


def _judged(name: str, found: Glare, cures: list[str]) -> Finding:
    words = f"light.{name} is mirrored by {100 * found.of_lens:.0f} % of a lens of the glasses"
    verdict: Verdict = "look"
    if found.of_iris > 0:
        verdict = "wrong"
        words += f" and hides {100 * found.of_iris:.0f} % of the iris behind it"
    cure = " or ".join(cures) if cures else "move the light far to the side"
    words += f"; to clear it {cure}."
    return Finding(
        "glasses", f"light.{name}", verdict, 100 * found.of_lens, "% of the lens", 0.0, words
    )


def glare(
    context: Context,
    index: int,
    front: Front,
    lens: Lens,
    eyes: list[Cornea],
    *,
    alone: bool = False,
) -> Glare:
    """What of a lens and of the iris behind it mirrors a front into the camera.

    alone : leave out sitter and panels, to try how the set would be if something moved
    """
    view = context.layout.view
    assert view is not None
    ways = unit(lens.places - view.position_m)
    facing_it = -np.sum(ways * lens.normals, axis=1)
    seen = facing_it > 0
    if not alone:
        seen &= context.obstacles.clear_sight(view.position_m, lens.places)
    weight = np.where(seen, lens.area * np.maximum(facing_it, 0.0), 0.0)
    obstacles = None if alone else context.obstacles
    starts = lens.places + LIFT_M * lens.normals
    lit = luminance_met(front, index, obstacles, starts, reflected(ways, lens.normals)) > 0
    before = _before_iris(view, ways, eyes)
    return Glare(covered(weight, lit), covered(weight * before, lit))


def _before_iris(view: View, ways: Floats, eyes: list[Cornea]) -> NDArray[np.bool_]:
    """Which rays (n, 3) from the camera go on to an iris."""
    before = np.zeros(len(ways), dtype=np.bool_)
    for eye in eyes:
        away = eye.pupil_m - view.position_m
        apart = np.linalg.norm(ways * (ways @ away)[:, None] - away, axis=1)
        before |= apart < IRIS_M
    return before


def _cures(context: Context, index: int, lenses: list[Lens], eyes: list[Cornea]) -> list[str]:
    """The least tilt of the glasses, turn of the head and raise of the light that clear them."""
    front, middle = context.layout.fronts[index], _between(eyes, lenses)
    away = -1.0 if front.centre_m[0] > middle[0] else 1.0
    across, upright = _across(lenses), np.array([0.0, 1.0, 0.0])

    def clear(tried: Front, moved: list[Lens]) -> bool:
        return all(
            glare(context, index, tried, lens, eyes, alone=True).of_lens == 0 for lens in moved
        )

    cures = []
    for tilt in TILTS_DEG:
        if clear(front, [_turned(lens, across, tilt, lens.places.mean(0)) for lens in lenses]):
            cures.append(f"tilt the glasses {tilt} degrees down")
            break
    for turn in TURNS_DEG:
        if clear(front, [_turned(lens, upright, away * turn, middle) for lens in lenses]):
            cures.append(f"turn the head {turn} degrees away from the light")
            break
    for raise_cm in RAISES_CM:
        if clear(_raised(front, middle, raise_cm / 100), lenses):
            cures.append(f"raise the light by {raise_cm} cm")
            break
    return cures


def _between(eyes: list[Cornea], lenses: list[Lens]) -> Floats:
    """The middle (3,) [m] of both eyes, else of the glasses."""
    places = [eye.pupil_m for eye in eyes] or [lens.places.mean(0) for lens in lenses]
    middle: Floats = np.mean(places, axis=0)
    return middle


def _across(lenses: list[Lens]) -> Floats:
    """Axis (3,) about which glasses tilt down: level, at right angles to where they face."""
    right, _ = facing(unit(np.concatenate([lens.normals for lens in lenses]).mean(0)))
    return right


def _turned(lens: Lens, axis: Floats, degrees: float, about: Floats) -> Lens:
    """A lens turned about an axis (3,) through a place (3,) [m], right-handed."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    rotation = np.eye(3) * c + s * k + (1 - c) * np.outer(axis, axis)
    places = (lens.places - about) @ rotation.T + about
    return replace(lens, places=places, normals=lens.normals @ rotation.T)


def _raised(front: Front, middle: Floats, metres: float) -> Front:
    """A front lifted and tilted so that it looks at the eyes as it did before."""
    centre = front.centre_m + [0.0, metres, 0.0]
    right, up = facing(unit(middle - centre))
    return replace(front, centre_m=centre, right=right, up=up)
