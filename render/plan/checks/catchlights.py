"""Catchlights: every front mirrored in each cornea, where it shows, whether lids hide it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import peak_luminance_time
from render.layout.geometry import unit
from render.layout.placed import View
from render.photometry.stops import stops
from render.plan.checks.eyes import Cornea, camera_side, corneas
from render.plan.checks.finding import Context, Finding, no_portrait
from render.plan.checks.mirrored import luminance_met, reflected
from render.plan.checks.panels_mirrored import panels_met

Floats = NDArray[np.float64]

COUNT = "count of catchlights"
LIFT_M = 3e-4  # the eye's mesh is this much rougher than its ball
PUPIL_M = 1e-3  # an image whose middle is so near to the axis has no hour
FAINTEST_STOPS = -4.0  # against the brightest in the eye; a fainter one is lost in the iris


@dataclass(frozen=True, slots=True)
class Catchlight:
    """The mirror image of one front, or of a panel, in one eye."""

    light: str
    share: float  # of the iris that it covers, as the camera sees it
    clock: int  # 1 to 12, about the middle of the pupil; 0 in the pupil itself
    luminance: float  # of the front or panel [cd·s/m²]
    lids_hide: bool  # of what would be seen without lids, nothing is left


def catchlights(context: Context) -> list[Finding]:
    """One finding for each eye."""
    layout = context.layout
    assert layout.body is not None
    return [_judged(context, eye) for eye in corneas(layout.body)]


def no_eyes(context: Context) -> str:
    """Why catchlights cannot be found."""
    lacking = no_portrait(context)
    if lacking or context.layout.body is None:
        return lacking
    if not corneas(context.layout.body):
        return "the eyes of the mesh have no shape of their own"
    return ""


def _judged(context: Context, eye: Cornea) -> Finding:
    layout = context.layout
    assert layout.body is not None
    name = f"The eye at {camera_side(layout.body, eye.name)}"
    if not _shows(context, eye):
        words = f"{name} shows no iris to the camera: no catchlight is to be had."
        return Finding("catchlights", eye.name, "fine", 0.0, COUNT, None, words)
    found = images(context, eye)
    panels = panel_images(context, eye)
    seen = [each for each in found if not each.lids_hide]
    most = max((each.luminance for each in seen), default=0.0)
    bright = [each for each in seen if each.luminance > most * 2**FAINTEST_STOPS]
    told = " and ".join(
        f"light.{each.light} {_where(each.clock)} on {100 * each.share:.1f} % of the iris"
        for each in bright
    )
    if not bright:
        hidden = [f"light.{each.light}" for each in found if each.lids_hide]
        why = f"lids hide {' and '.join(hidden)}" if hidden else "it mirrors no light to the camera"
        words = f"{name} has no catchlight: {why}; lower the key or bring it farther round."
    elif len(bright) == 1:
        words = f"{name} has one catchlight: {told}."
    else:
        words = f"{name} has {len(bright)} catchlights: {told}; retouch one or move its light."
    for panel in panels:
        if panel.luminance > most * 2**FAINTEST_STOPS:
            words = f"{words[:-1]}; panel.{panel.light} shows {_where(panel.clock)} on "
            words += f"{100 * panel.share:.1f} % of the iris"
            words += (
                f", {stops(panel.luminance / most):+.1f} stops of the brightest." if most else "."
            )
    return Finding(
        check="catchlights",
        about=eye.name,
        verdict="fine" if len(bright) == 1 else "look",
        value=float(len(bright)),
        unit=COUNT,
        limit=1.0,
        words=words,
    )


def _shows(context: Context, eye: Cornea) -> bool:
    """Whether the camera sees any of an iris past lids and head."""
    lens = context.layout.view
    assert lens is not None
    places, normals = eye.places()
    turned = np.sum((places - lens.position_m) * normals, axis=1) < 0
    return bool(np.any(context.obstacles.clear_sight(lens.position_m, places[turned])))


def images(context: Context, eye: Cornea) -> list[Catchlight]:
    """The fronts that the camera would see in one cornea, brightest first."""
    layout, lens = context.layout, context.layout.view
    assert lens is not None
    places, normals = eye.places()
    ways = unit(places - lens.position_m)
    turned = np.sum(ways * normals, axis=1) < 0
    places, normals, ways = places[turned], normals[turned], ways[turned]
    free = context.obstacles.clear_sight(lens.position_m, places)
    starts = places + LIFT_M * normals
    found = []
    for i, front in enumerate(layout.fronts):
        if front.luminous_energy_lm_s <= 0:
            continue
        mirrored = reflected(ways, normals)
        bare = luminance_met(front, i, None, starts, mirrored)
        if not bare.any():
            continue
        met = luminance_met(front, i, context.obstacles, starts, mirrored) * free
        peak = peak_luminance_time(front)
        image = met if met.any() else bare
        found.append(
            Catchlight(
                light=front.name,
                share=float(np.mean(image > 0)),
                clock=_clock(lens, eye, places, image),
                luminance=peak * float(image.max()),
                lids_hide=not met.any(),
            )
        )
    return sorted(found, key=lambda each: -each.luminance)


def panel_images(context: Context, eye: Cornea) -> list[Catchlight]:
    """The panels that the camera sees in one cornea, brightest first."""
    lens = context.layout.view
    assert lens is not None
    places, normals = eye.places()
    ways = unit(places - lens.position_m)
    turned = np.sum(ways * normals, axis=1) < 0
    places, normals, ways = places[turned], normals[turned], ways[turned]
    free = context.obstacles.clear_sight(lens.position_m, places)
    met = panels_met(context, places + LIFT_M * normals, reflected(ways, normals))
    found = [
        Catchlight(name, float(np.mean(shown > 0)), _clock(lens, eye, places, shown), peak, False)
        for name, light in met.items()
        if (peak := float((shown := light * free).max(initial=0.0))) > 0
    ]
    return sorted(found, key=lambda each: -each.luminance)


def _where(clock: int) -> str:
    return f"at {clock} o'clock" if clock else "in the pupil"


def _clock(lens: View, eye: Cornea, places: Floats, image: Floats) -> int:
    """Hour of an image about the middle of the pupil, as the camera sees it; 0 on the pupil."""
    middle = np.average(places, axis=0, weights=image) - eye.pupil_m
    if np.hypot(middle @ lens.right, middle @ lens.up) < PUPIL_M:
        return 0
    turn = np.degrees(np.arctan2(middle @ lens.right, middle @ lens.up))
    return round(float(turn) / 30.0) % 12 or 12
