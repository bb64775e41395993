"""The colour of each light: its lamp at the set power, behind its gels."""

from __future__ import annotations

import math

from render.emission.tint import Tint, tint
from render.errors import SceneError
from render.photometry.colour import BLUEST_LAMP_K, COOLEST_LAMP_K, FLASH_K
from render.scenefile import Setup
from render.studio.light import Light


def lamp_temperature(setup: Setup, name: str, light: Light) -> float:
    """Colour temperature [K] of the bare lamp at the power that is set.

    Raises SceneError where the drift of the flash takes it out of range.
    """
    if light.colour_temperature_k is not None:
        return light.colour_temperature_k
    flash = setup.kit.flash.get(light.flash or "")
    if flash is None:
        return FLASH_K
    below = -math.log2(light.power)
    kelvin = flash.colour_temperature_k + flash.colour_drift_k_per_stop * below
    if not COOLEST_LAMP_K <= kelvin <= BLUEST_LAMP_K:
        raise SceneError(
            setup.file,
            f"light.{name}.power",
            f"{light.flash} drifts to {kelvin:.0f} K there",
            f"a drift that stays within {COOLEST_LAMP_K:g} to {BLUEST_LAMP_K:g} K",
        )
    return kelvin


def light_tint(setup: Setup, name: str, light: Light) -> Tint:
    """Loss and colour of a light, as the scene's camera is balanced.

    Raises SceneError for a gel that is not in the kit.
    """
    gels = []
    for i, gel in enumerate(light.gel):
        if gel not in setup.kit.gel:
            raise SceneError(
                setup.file,
                f"light.{name}.gel[{i}]",
                f'"{gel}" is not in the kit',
                f"one of {', '.join(sorted(setup.kit.gel))}",
            )
        gels.append(setup.kit.gel[gel])
    camera = setup.scene.camera
    white_k = FLASH_K if camera is None else camera.white_balance_k
    return tint(lamp_temperature(setup, name, light), gels, light.nd, white_k)


def behind(light: Light, tinted: Tint) -> str:
    """Words for the gels of a light, what they take and what they make of its lamp."""
    sheets = [*light.gel, *([f"nd {light.nd:g}"] if light.nd > 0 else [])]
    if not sheets:
        return ""
    kelvin = tinted.colour_temperature_k
    made = f", {kelvin:.0f} K" if light.gel and kelvin is not None else ""
    return f", behind {' and '.join(sheets)} ({-tinted.loss_stops:+.1f} stops{made})"
