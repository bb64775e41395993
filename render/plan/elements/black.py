"""How dark the backdrop of an element comes out, by material, whose light it is, what helps."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from render.layout import Layout, place
from render.layout.people import eyes_of
from render.layout.points import backdrop_anchors
from render.photometry.exposure import luminous_exposure_for
from render.photometry.srgb import luminance, srgb_decode
from render.plan.changes.settings import so_many
from render.plan.checks.finding import Finding
from render.plan.checks.finding import Verdict as FindingVerdict
from render.plan.who.cheapest import Verdict, verdict_on
from render.plan.who.contributors import REST, Lit, told
from render.plan.who.goals import Goal
from render.plan.who.taken import Taken, take
from render.plan.who.tones import BLACK_UP_TO, CLEAN_UP_TO, WHITE_CODE, code_of
from render.plan.who.trials import SAMPLES
from render.scenefile import Setup
from render.trace import Engine

# The most linear light that still rounds to the last clean code; half a code is noise anyway.
CLEAN = float(srgb_decode((CLEAN_UP_TO + 0.5) / WHITE_CODE))
DARK_REFLECTANCE = 0.2  # materials that are held against the light: up to a mid grey
NO_LIGHT_STOPS = 30.0  # so far under the key there is none
SAID_PARTS = 3  # of the light on the backdrop, in the sentence


@dataclass(frozen=True, slots=True)
class Material:
    """A paper or cloth of the kit in the place of the backdrop, in the same light."""

    name: str
    reflectance: float
    needs_stops: float  # how far its light must lie under the key for the last clean code
    code: float  # that it comes out at here
    off_stops: float  # over that; + is too bright


@dataclass(frozen=True, slots=True)
class Black:
    """The backdrop against the level that adds cleanly; its fields are the keys of the JSON."""

    f_number: float  # of the development: the portrait's, else the scene's own camera
    iso_speed: float
    limit_code: float
    point: str  # the lightest place
    code: float
    codes: tuple[float, float, float]  # its red, green and blue
    reflectance: float
    light_under_stops: float  # how far the light on it lies under that of the set f-number
    needs_stops: float
    off_stops: float  # + is too bright to add cleanly
    standard_error_stops: float
    bounce: bool  # whether what the room gives back is in it
    lit: Lit  # whose light it is there
    materials: tuple[Material, ...]  # the darkest first
    verdict: Verdict  # with what helps


def no_black(setup: Setup) -> str:
    """Why the black of a set cannot be held against a portrait; empty if it can."""
    scene = setup.scene
    if not scene.element:
        return "the scene has no element"
    if scene.sitter is not None:
        return "the element is photographed with the sitter"
    if scene.backdrop is None:
        return "the scene has no backdrop"
    return "the scene has no camera" if scene.camera is None else ""


def blackness(
    setup: Setup,
    portrait: Setup | None,
    engine: Engine | None,
    tell: Callable[[str], None] = lambda _: None,
) -> Black:
    """Hold the backdrop of an element against the level that adds cleanly.

    portrait : whose f-number and ISO the picture is developed for; None takes the scene's own
    engine   : traces what the room gives back; None leaves that out
    tell     : called with the name of each change before it is tried
    Raises SceneError, KitError, EngineError; ValueError where `no_black` says why it cannot.
    """
    if no_black(setup):
        raise ValueError(no_black(setup))
    setup = developed(setup, portrait)
    layout = place(setup, spots=False)
    taken = take(setup, _places(setup, layout), engine, SAMPLES, layout)
    rows = tuple(range(taken.places))
    words = f"code {CLEAN_UP_TO:.0f} or less"
    goal = Goal("clean black", words, rows, True, 0.0, CLEAN, 0.0, False)
    verdict = verdict_on(taken, goal, engine, tell)
    shown = told(taken, rows).points
    worst = max(shown, key=lambda lit: lit.tone.code if lit.tone is not None else 0.0)
    return _black(taken, worst, verdict, engine is not None)


def developed(setup: Setup, portrait: Setup | None) -> Setup:
    """The set-up exposed as the portrait is."""
    camera = setup.scene.camera
    if portrait is None or portrait.scene.camera is None or camera is None:
        return setup
    exposure = {key: getattr(portrait.scene.camera, key) for key in ("f_number", "iso_speed")}
    scene = setup.scene.model_copy(update={"camera": camera.model_copy(update=exposure)})
    return replace(setup, scene=scene)


def _places(setup: Setup, layout: Layout) -> list[str]:
    """Middle and corners of the frame on the backdrop, as far as it reaches."""
    sheet = next(each for each in layout.sheets if each.kind == "backdrop")
    return list(backdrop_anchors(sheet, eyes_of(setup.scene.sitter), layout.view))


def _black(taken: Taken, worst: Lit, verdict: Verdict, bounce: bool) -> Black:
    camera, tone = taken.setup.scene.camera, worst.tone
    assert camera is not None
    sheet = next(each for each in taken.layout.sheets if each.kind == "backdrop")
    reflectance = float(luminance(np.array(sheet.reflectance)))
    constant = taken.setup.scene.meter.c_flat
    key = float(luminous_exposure_for(camera.f_number, camera.iso_speed, constant))
    light = worst.luminous_exposure_lx_s / key  # 1 at the key: rho 1 is white there
    linear = float(luminance(np.array(tone.linear))) if tone is not None else 0.0
    return Black(
        f_number=camera.f_number,
        iso_speed=camera.iso_speed,
        limit_code=CLEAN_UP_TO,
        point=worst.point,
        code=code_of(linear),
        codes=tone.codes if tone is not None else (0.0, 0.0, 0.0),
        reflectance=reflectance,
        light_under_stops=-_stops(light),
        needs_stops=needs_stops(reflectance),
        off_stops=_stops(linear / CLEAN),
        standard_error_stops=worst.standard_error_stops,
        bounce=bounce,
        lit=worst,
        materials=_materials(taken.setup, light),
        verdict=verdict,
    )


def needs_stops(reflectance: float) -> float:
    """How far light on a surface must lie under the key for it to come out clean [stops].

    At the key's level a reflectance r is r in linear light, white is 1.
    """
    return _stops(reflectance / CLEAN)


def _stops(ratio: float) -> float:
    """log2 of a ratio, at least -NO_LIGHT_STOPS."""
    return math.log2(max(ratio, 2.0**-NO_LIGHT_STOPS))


def _materials(setup: Setup, light: float) -> tuple[Material, ...]:
    """Dark papers and cloths of the kit in some light, 1 being the key's."""
    found = [
        Material(
            name,
            surface.reflectance,
            needs_stops(surface.reflectance),
            code_of(surface.reflectance * light),
            _stops(surface.reflectance * light / CLEAN),
        )
        for name, surface in setup.kit.surface.items()
        if surface.kind in ("paper", "cloth")
        and surface.colour is None
        and 0 < surface.reflectance <= DARK_REFLECTANCE
    ]
    return tuple(sorted(found, key=lambda each: each.reflectance))


def finding(black: Black) -> Finding:
    """The verdict in a sentence: how dark, by how much, whose light, the cheapest cure."""
    where = black.point.replace("_", " ")
    if black.light_under_stops >= NO_LIGHT_STOPS:
        straight = "" if black.bounce else " straight"
        words = f"No light reaches the backdrop{straight}: code 0."
        return Finding("black", "backdrop", "fine", black.off_stops, "stops", 0.0, words)
    words = (
        f"Backdrop comes out code {black.code:.0f} at its lightest, {where}, at f/"
        f"{black.f_number:.2g}, ISO {black.iso_speed:g}: {_against(black)}. Light on it lies "
        f"{so_many(black.light_under_stops)} under the key; a reflectance of "
        f"{black.reflectance:.2g} needs {black.needs_stops:.1f}"
    )
    words += f". Lit by {_parts(black.lit)}." if black.lit.parts else "."
    if black.off_stops > 0:
        words += _cure(black)
    verdict: FindingVerdict = "wrong"
    if black.code < BLACK_UP_TO + 0.5:
        verdict = "fine" if black.off_stops <= 0 else "look"
    return Finding("black", "backdrop", verdict, black.off_stops, "stops", 0.0, words)


def _against(black: Black) -> str:
    off = so_many(black.off_stops)
    if black.off_stops <= 0:
        return f"{off} under what adds cleanly (code {black.limit_code:.0f} or less)"
    return f"{off} over what adds cleanly (code {black.limit_code:.0f} or less)"


def _parts(lit: Lit) -> str:
    """The greatest parts of a place's light."""
    first = [part for part in lit.parts if part.way != REST][:SAID_PARTS]
    return ", ".join(
        f"{part.light} {'straight' if part.way == 'straight' else 'by way of ' + part.way} "
        f"{100 * part.share:.0f} %"
        for part in first
    )


def _cure(black: Black) -> str:
    """The cheapest change that is enough, else the nearest; then the plate."""
    best = black.verdict.cures[0] if black.verdict.cures else None
    if best is None:
        return " Nothing that was tried helps; subtract a clean plate."
    code = f"code {best.code:.0f}" if best.code is not None else best.shown
    if best.meets:
        return f" Cheapest: {best.name}: {code}."
    return f" Nearest: {best.name}: {code}; subtract a clean plate."
