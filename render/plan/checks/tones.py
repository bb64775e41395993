"""Clipped and crushed areas of the look: how much of what, by which light, what would keep tone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from render.photometry.srgb import luminance, srgb_decode
from render.picture import Look
from render.plan.checks.finding import Context, Finding, Verdict, no_camera
from render.plan.checks.shown import PLACES, places_shown
from render.plan.who.tones import BLACK_UP_TO, WHITE_CODE

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CLIPPED = float(srgb_decode((WHITE_CODE - 0.5) / WHITE_CODE))  # linear, from here on code 255
CRUSHED = float(
    srgb_decode((BLACK_UP_TO + 0.5) / WHITE_CODE)
)  # looks black on a screen: trade notes
ACROSS = 3  # pixels that are judged together
SURE = 2.0  # standard errors that a dark place stays dark by
LEAST_PIXELS = 4  # a smaller spot is no area
# Shares of a place [%] from which it is worth a look, and from which wanted tone is lost.
# Common practice, no source. A backdrop may be white or black on purpose.
LOOK_CLIPPED = {"face": 0.5, "skin": 2.0, "hair": 5.0, "clothes": 1.0, "backdrop": 2.0}
WRONG_CLIPPED = {"face": 1.0, "clothes": 5.0}
LOOK_CRUSHED = {"face": 5.0, "skin": 20.0, "hair": 40.0, "clothes": 25.0}
NEVER_JUDGED = (
    "nothing",
    "eyes",
    "glasses",
    "gear",
)  # catchlights clip; lamps have their own check
SAID = {"skin": "skin below the face", "room": "walls"}
TOLD_SHARE = 0.1  # [%] of a place; less is not told
ALL_OF_IT = 0.95  # share of an area's light from which the rest need not be told apart
MOST_OF_IT = 95.0  # percentile of an area's light that a cure brings back


@dataclass(frozen=True, slots=True)
class Ends:
    """Which pixels (h, w) have lost tone."""

    any_channel: Bools
    all_channels: Bools
    crushed: Bools
    calm: Floats  # (h, w) brightest channel, noise filtered away


def tones(context: Context) -> list[Finding]:
    """One finding for each place of the picture that has clipped or crushed; one if none has."""
    made = context.look
    assert isinstance(made, Look)
    height, width = made.picture.linear.shape[:2]
    shown = places_shown(made.layout, (width, height))
    ends = ends_of(made.picture.linear.astype(np.float64), made.picture.standard_error)
    found = []
    for index, place in enumerate(PLACES):
        if place in NEVER_JUDGED or not (here := shown == index).any():
            continue
        found += _clipped(made, ends, here, place)
        found += _crushed(ends, here, place)
    if found:
        return found
    words = "No area of the look is at code 255 in any channel or looks black: 0 % of the frame."
    return [Finding("tones", "look", "fine", 0.0, "% of the frame", TOLD_SHARE, words)]


def no_look(context: Context) -> str:
    """Why the look cannot be checked."""
    lacking = no_camera(context)
    if lacking:
        return lacking
    made = context.look
    return made if isinstance(made, str) else ""


def ends_of(linear: Floats, error: NDArray[np.float32]) -> Ends:
    """Pixels that have lost tone, noise kept out.

    linear : (h, w, 3) unclipped, error : (h, w) standard error of the luminance
    A pixel is clipped if the median of it and its eight neighbours is: a bright speck of a draft is
    one pixel, and so is never five of nine. It is crushed if their mean and two standard errors of
    that mean are still black. Spots of fewer than LEAST_PIXELS do not count.
    """
    calm = ndimage.median_filter(linear, size=(ACROSS, ACROSS, 1), mode="nearest")
    light = ndimage.uniform_filter(luminance(linear), ACROSS, mode="nearest")
    noise = ndimage.uniform_filter(error.astype(np.float64) ** 2, ACROSS, mode="nearest")
    dark = light + SURE * np.sqrt(np.maximum(noise, 0.0)) / ACROSS <= CRUSHED
    return Ends(
        any_channel=_areas(calm.max(-1) >= CLIPPED),
        all_channels=_areas(calm.min(-1) >= CLIPPED),
        crushed=_areas(dark),
        calm=calm.max(-1),
    )


def _areas(mask: Bools) -> Bools:
    """A mask without its smallest spots."""
    labels, _ = ndimage.label(mask, np.ones((3, 3)))
    large = np.bincount(labels.ravel()) >= LEAST_PIXELS
    large[0] = False
    kept: Bools = large[labels]
    return kept


def _clipped(made: Look, ends: Ends, here: Bools, place: str) -> list[Finding]:
    share, whole = (100 * float(m[here].mean()) for m in (ends.any_channel, ends.all_channels))
    if share < TOLD_SHARE:
        return []
    area = ends.any_channel & here
    names = [front.name for front in made.layout.fronts if front.name in made.frames]
    parts = np.array([_light(made, name) for name in names])  # (lights, h, w)
    sums = parts[:, area].sum(axis=1)
    main = int(np.argmax(sums))
    of_it = 100 * float(sums[main] / max(float(sums.sum()), 1e-30))
    said = SAID.get(place, place)
    words = (
        f"{said.capitalize()}: {share:.1f} % is at code 255 in some channel, {whole:.1f} % "
        f"in all; light.{names[main]} gives {of_it:.0f} % of the light there"
    )
    shares = parts[main][area] / np.maximum(parts[:, area].sum(axis=0), 1e-30)
    words += f"; {_cure(ends.calm[area], shares, names[main])}."
    verdict: Verdict = "fine"
    if share >= LOOK_CLIPPED.get(place, TOLD_SHARE):
        verdict = "look"
    if whole >= WRONG_CLIPPED.get(place, np.inf):
        verdict = "wrong"
    if place == "backdrop" and verdict == "look":
        words += " Fine if it is to be white."
    limit = LOOK_CLIPPED.get(place, TOLD_SHARE)
    return [Finding("clipped", place, verdict, share, f"% of the {said}", limit, words)]


def _light(made: Look, name: str) -> Floats:
    """Luminance (h, w) of one light, its noise spread over neighbours."""
    alone = luminance(made.one_light(name).linear.astype(np.float64))
    spread: Floats = ndimage.uniform_filter(np.maximum(alone, 0.0), ACROSS, mode="nearest")
    return spread


def _cure(light: Floats, shares: Floats, name: str) -> str:
    """How much less of a light, or of all, brings tone back to most of an area.

    light : (n,) brightest channel; shares : (n,) of it that the light gives
    """
    less = np.log2(max(float(np.percentile(light, MOST_OF_IT)), CLIPPED) / CLIPPED)
    least = (CLIPPED - light * (1 - shares)) / np.maximum(light * shares, 1e-30)
    left = float(np.percentile(least, 100 - MOST_OF_IT))
    everything = f"{less:.1f} stops less of all light"
    if float(np.mean(shares)) > ALL_OF_IT:
        return f"{less:.1f} stops less of {name} keep tone"
    if left <= 0:
        return f"{everything} keep tone (with {name} off it still clips)"
    return f"{-np.log2(min(left, 1.0)):.1f} stops less of {name}, or {everything}, keep tone"


def _crushed(ends: Ends, here: Bools, place: str) -> list[Finding]:
    share = 100 * float(ends.crushed[here].mean())
    if share < TOLD_SHARE:
        return []
    said = SAID.get(place, place)
    limit = LOOK_CRUSHED.get(place)
    words = (
        f"{said[0].upper()}{said[1:]}: {share:.1f} % looks black (code {BLACK_UP_TO:.0f} or less)"
    )
    dark = limit is not None and share >= limit
    words += "; more fill, a white panel or lighter stuff gives it detail." if dark else "."
    verdict: Verdict = "look" if dark else "fine"
    return [Finding("crushed", place, verdict, share, f"% of the {said}", limit, words)]
