"""What can be changed on the camera: its speed and its f-number, and wishes that follow it."""

from __future__ import annotations

import math

from render.photometry.stops import show_f_number
from render.plan.changes.settings import DIAL, Setting, Step
from render.scenefile import Setup

# ISO speeds of cameras in third stops, 50 to 3200; ISO 12232 rounding, common practice.
SPEEDS = (
    *(50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800),
    *(1000, 1250, 1600, 2000, 2500, 3200),
)
NARROWEST_F_NUMBER, WIDEST_F_NUMBER = 16.0, 2.8  # of portrait lenses; common practice, no source
MARGIN_STOPS = 0.1  # more than what is missing, so that clicks and bounce do not undo it


def other_speed(setup: Setup, more: float) -> Step | None:
    """A camera (and meter) so many stops faster, or slower where negative."""
    camera, meter = setup.scene.camera, setup.scene.meter
    now = meter.iso_speed or (camera.iso_speed if camera is not None else 100.0)
    wanted = now * 2.0 ** (more + math.copysign(MARGIN_STOPS, more))
    if more > 0:
        speed = next((each for each in SPEEDS if each >= wanted), None)
    else:
        speed = next((each for each in reversed(SPEEDS) if each <= wanted), None)
    if speed is None:
        return None
    settings = []
    if camera is not None:
        settings.append(Setting("camera.iso_speed", speed))
    if meter.iso_speed is not None or camera is None:
        settings.append(Setting("meter.iso_speed", speed))
    return Step(f"ISO {speed} instead of {now:g}", DIAL, tuple(settings))


def other_aperture(setup: Setup, more: float) -> Step | None:
    """The lens so many stops wider open, or closed where negative, and the wishes with it."""
    thirds = math.copysign(math.ceil(3 * (abs(more) + MARGIN_STOPS)), more)
    factor = 2.0 ** (-thirds / 6)
    numbers = {
        name: round(wish.f_number * factor, 2)
        for name, wish in setup.scene.wanted.items()
        if wish.f_number is not None
    }
    if not all(WIDEST_F_NUMBER <= each <= NARROWEST_F_NUMBER for each in numbers.values()):
        return None
    settings = [Setting(f"wanted.{name}.f_number", each) for name, each in numbers.items()]
    camera = setup.scene.camera
    if camera is not None:
        settings.append(Setting("camera.f_number", round(camera.f_number * factor, 2)))
    name, number = next(iter(numbers.items()))
    text = f"{show_f_number(number)} on the camera, and wanted for {name}"
    return Step(text, DIAL, tuple(settings))
