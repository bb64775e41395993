"""The checks of everything that stands, hangs, weighs, reaches and draws power."""

from __future__ import annotations

from render.plan.checks.camera_set import check_camera_set, no_f_number
from render.plan.checks.finding import Check, Context, no_camera, no_sitter
from render.plan.checks.fit import (
    check_door,
    check_operator,
    check_room_fit,
    check_sitter_fit,
    no_door,
    no_room,
)
from render.plan.checks.mains import check_circuit, no_figures
from render.plan.checks.props import check_props, no_props
from render.plan.checks.reach import check_dials, check_wishes, no_dials, no_wishes
from render.plan.checks.shutter import check_other_light, check_sync, no_other_light
from render.plan.checks.stands import (
    check_columns_in_frame,
    check_columns_in_sitter,
    check_feet,
    check_likely_booms,
)
from render.plan.checks.tipping import check_tipping


def _no_flash(context: Context) -> str:
    """Why there is nothing to synchronise."""
    if all(light.flash is None for light in context.setup.scene.light.values()):
        return "no light is a flash head"
    return no_camera(context)


FLOOR: tuple[Check, ...] = (
    Check("lights and panels against ceiling, floor and walls", check_room_fit, no_room),
    Check("lights against the sitter", check_sitter_fit, no_sitter),
    Check("room for the photographer", check_operator, no_camera),
    Check("the door's swing", check_door, no_door),
    Check("columns, legs and boom tails against the walls", check_feet, no_room),
    Check("columns and booms in the frame", check_columns_in_frame, no_camera),
    Check("columns in sitter or stool", check_columns_in_sitter, no_sitter),
    Check("lights that want a boom", check_likely_booms, no_sitter),
    Check("likely stands of panels, backdrop and camera", check_props, no_props),
    Check("tip-over and boom balance (an estimate)", check_tipping),
    Check("powers against the dials", check_dials, no_dials),
    Check("wanted readings out of reach (an estimate)", check_wishes, no_wishes),
    Check("camera against the wanted f-number", check_camera_set, no_f_number),
    Check("sync time", check_sync, _no_flash),
    Check("ambient light and modelling lamps", check_other_light, no_other_light),
    Check("load of the mains", check_circuit, no_figures),
)
NEVER_FLOOR = (
    "cables",
    "what a floor, a stand or a boom can bear",
)
