"""Whether the camera is set to the f-number that is wanted of the face."""

from __future__ import annotations

from render.photometry.stops import show_f_number, stops
from render.plan.changes.settings import so_many
from render.plan.checks.finding import Context, Finding, Verdict, no_camera
from render.report.readings import meter_speed, wished_readings
from render.studio.scene import Wish

# A reading is set to 0.1 to 0.3 stop; common practice, no source. More shows in the picture.
SET_STOPS = 0.3


def no_f_number(context: Context) -> str:
    """Why the camera cannot be held against a wish."""
    lacking = no_camera(context)
    if lacking:
        return lacking
    return "" if _first(context) is not None else "no f-number is wanted of the sitter"


def check_camera_set(context: Context) -> list[Finding]:
    """The first wished f-number, of a place that is not the backdrop, against the camera's."""
    camera, wished = context.setup.scene.camera, _first(context)
    assert camera is not None
    assert wished is not None
    name, wish = wished
    speed, number = meter_speed(context.setup), wish.f_number or 1.0
    off = float(stops((number / camera.f_number) ** 2 * camera.iso_speed / speed))
    words = f"{show_f_number(number)} at ISO {speed:g} is wanted of {name} ({wish.point}), "
    words += f"the camera is set to f/{camera.f_number:g} at ISO {camera.iso_speed:g}"
    if abs(off) < SET_STOPS:
        return [_finding("fine", off, f"{words}.")]
    way = "brighter" if off > 0 else "darker"
    words += f": the picture comes out {so_many(off)} {way} than metered; set one to the other."
    return [_finding("look", off, words)]


def _finding(verdict: Verdict, off: float, words: str) -> Finding:
    return Finding("exposure", "camera", verdict, off + 0.0, "stops", SET_STOPS, words)


def _first(context: Context) -> tuple[str, Wish] | None:
    """The wish that a camera is set by."""
    held = wished_readings(context.setup, context.layout)
    for (name, wish), each in zip(context.setup.scene.wanted.items(), held, strict=True):
        if wish.f_number is not None and context.layout.points[each.point].on != "backdrop":
            return name, wish
    return None
