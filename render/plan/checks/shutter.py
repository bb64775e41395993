"""Shutter against flash: the sync time, and how dark other lamps are beside the flash."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from render.emission import Front
from render.layout.modifiers import fitted
from render.layout.tints import light_tint
from render.photometry.exposure import luminous_exposure_for
from render.plan.checks.finding import Context, Finding, Verdict, no_camera
from render.predict import direct_exposure
from render.predict.direct import aims
from render.scenefile import Setup
from render.studio.camera import Camera
from render.studio.light import Light

# Without a stated sync_s. Trade pages: 1/125 s always works, the limit is 1/160 to 1/250 s by
# camera, and a radio trigger may cost another 1/3 to 2/3 stop of it (the delay from memory).
SURE_SYNC_S, FASTEST_SYNC_S = 1 / 125, 1 / 250
ROUNDING = 1e-3  # of a time written as 1/125
FAINT_LX = 0.5  # less is none, whatever the setting
DARK_ENOUGH_STOPS = 5.0  # under the flash: less leaves a cast or a ghost; common practice


def show_time(seconds: float) -> str:
    """A shutter time as cameras show it."""
    return f"1/{1 / seconds:.0f} s" if seconds < 0.4 else f"{seconds:g} s"


def check_sync(context: Context) -> list[Finding]:
    """The shutter against the shortest time at which flash fills the frame."""
    camera = context.setup.scene.camera
    assert camera is not None
    time, stated = camera.shutter_s, camera.sync_s
    sure = SURE_SYNC_S if stated is None else stated
    fastest = FASTEST_SYNC_S if stated is None else stated
    over = math.log2(sure / time)
    shown = show_time(time)
    verdict: Verdict = "fine"
    if time >= sure * (1 - ROUNDING):
        words = f"{shown} is not faster than the sync time of {show_time(sure)}"
        words += "." if stated is not None else ", at which every camera syncs (none is stated)."
    elif time >= fastest * (1 - ROUNDING):
        words = (
            f"{shown} is beyond {show_time(sure)}, where every camera syncs; limits are "
            f"{show_time(1 / 160)} to {show_time(fastest)}: state camera.sync_s."
        )
        verdict = "look"
    else:
        words = (
            f"{shown} is {over:.1f} stops faster than the sync time of {show_time(sure)}: a dark "
            f"band across the frame; set {show_time(sure)}."
        )
        verdict = "wrong"
    return [Finding("sync", "camera", verdict, over, "stops", 0.0, words)]


def no_other_light(context: Context) -> str:
    """Why other light cannot be held against the flash."""
    if no_camera(context):
        return no_camera(context)
    room = context.setup.scene.room
    known = room is not None and room.ambient_lx is not None
    if known or any(_lamp_w(context.setup, light) for light in context.setup.scene.light.values()):
        return ""
    return "neither room.ambient_lx nor the modelling_w of a flash is stated"


def stops_under(camera: Camera, c_flat: float, illuminance_lx: float) -> float:
    """How far continuous light lies under the flash that the camera is set for [stops].

    illuminance_lx : at the sitter, on the flat receptor
    Source: flash of H = C·N²/S [lx·s] against E·t (ISO 2720).
    """
    flash = float(luminous_exposure_for(camera.f_number, camera.iso_speed, c_flat))
    return math.log2(flash / (illuminance_lx * camera.shutter_s))


def check_other_light(context: Context) -> list[Finding]:
    """Ambient light and modelling lamps, under the flash at the camera's ISO, time and f-number."""
    scene = context.setup.scene
    assert scene.camera is not None
    names, illuminances = modelling_lx(context)
    found = []
    for name, lux in zip(names, illuminances, strict=True):
        if lux >= FAINT_LX:
            what = f"modelling lamp of {name} at full, {lux:.0f} lx"
            found.append(_other(context, f"light.{name}", what, lux))
    ambient = 0.0 if scene.room is None else scene.room.ambient_lx or 0.0
    if ambient > 0:
        found.append(_other(context, "room", f"ambient light, {ambient:.0f} lx", ambient))
    total = float(sum(illuminances)) + ambient
    if len(found) > 1:
        found.append(_other(context, "camera", f"all of it together, {total:.0f} lx", total))
    return found


def _other(context: Context, about: str, what: str, lux: float) -> Finding:
    camera = context.setup.scene.camera
    assert camera is not None
    under = stops_under(camera, context.setup.scene.meter.c_flat, lux)
    words = (
        f"{what[0].upper()}{what[1:]}, lies {under:.1f} stops under f/{camera.f_number:g} at ISO "
        f"{camera.iso_speed:g}, {show_time(camera.shutter_s)}"
    )
    dark = under >= DARK_ENOUGH_STOPS
    if not dark:
        words += (
            f"; below {DARK_ENOUGH_STOPS:g} it leaves a cast or a ghost: switch it off or down, or "
            "use a shorter time up to the sync time (ISO and f-number change flash alike)"
        )
    verdict: Verdict = "fine" if dark else "look"
    return Finding("other light", about, verdict, under, "stops", DARK_ENOUGH_STOPS, f"{words}.")


def modelling_lx(context: Context) -> tuple[list[str], list[float]]:
    """Illuminance of each light's modelling lamp at the key cheek or the first point [lx].

    Read straight at each lamp, at full, through the same front; without the room's bounce.
    """
    setup, layout = context.setup, context.layout
    names = [front.name for front in layout.fronts]
    fluxes = [_flux_lm(setup, name) for name in names]
    if not any(fluxes) or not layout.points:
        return names, [0.0] * len(names)
    points = [point.name for point in layout.points]
    place = layout.points[points.index("key_cheek") if "key_cheek" in points else 0]
    at = place.position_m[None]
    # The same fronts fed by the lamp: lumens in, lux out.
    fed: tuple[Front, ...] = tuple(
        replace(front, luminous_energy_lm_s=flux)
        for front, flux in zip(layout.fronts, fluxes, strict=True)
    )
    axes = np.stack([aims(at, front) for front in fed], axis=1)
    lit = replace(layout, fronts=fed)
    lift = place.normal[None]
    found = direct_exposure(lit, at, axes, "flat", obstacles=context.obstacles, lift=lift)
    return names, [float(lux) for lux in found.luminous_exposure_lx_s[0]]


def _lamp_w(setup: Setup, light: Light) -> float:
    """The modelling lamp of a light that is on [W], 0 where it has none or none is stated."""
    flash = setup.kit.flash.get(light.flash or "")
    return 0.0 if flash is None or not light.on else flash.modelling_w or 0.0


def _flux_lm(setup: Setup, name: str) -> float:
    """What a modelling lamp sends out of its modifier, gels included [lm]."""
    light = setup.scene.light[name]
    watts = _lamp_w(setup, light)
    if not watts:
        return 0.0
    share = light_tint(setup, name, light).transmission
    if light.modifier is not None:
        worn = fitted(setup, f"light.{name}", light, setup.kit.modifier[light.modifier])
        share *= worn.share * worn.open_share
    return watts * setup.kit.flash[light.flash or ""].modelling_lm_per_w * share
