"""The whole set as named solid bodies, by the keys of its scene file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front, cloth, housing
from render.emission.shapes import Ball, Cap
from render.layout.placed import Layout, Sheet, View
from render.layout.sweep import sheet_mesh
from render.setview.figure import solid_body
from render.setview.holders import Holder, bag, boom, column, flash_head, legs
from render.setview.pieces import Mesh, box, joined, tube

Floats = NDArray[np.float64]

CAMERA, BACKDROP, SITTER = "camera", "backdrop", "sitter"
PARTS = ("front", "housing", "shaft", "head", "column", "legs", "boom", "bag")
SHAFT_M, NECK_M = 0.005, 0.04  # radii of an umbrella's shaft and of a ball's neck; from memory
BODY_M, LENS_M = (0.14, 0.10, 0.07), (0.045, 0.11)  # camera; radius and length of its lens


@dataclass(frozen=True, slots=True)
class Solid:
    """One body of the set."""

    name: str  # "light.key", "panel.fill", "backdrop", "sitter", or a wall's own name
    part: str  # of a light one of PARTS; "sheet" or "body"
    mesh: Mesh


def light_solids(front: Front, holder: Holder | None) -> list[Solid]:
    """A light: its cloth, housing with lip and doors, head, and what holds it up."""
    name = f"light.{front.name}"
    parts = {"front": cloth(front), "housing": housing(front), "shaft": _shaft(front)}
    if holder is not None:
        parts["head"] = flash_head(front, holder)
        parts |= {"column": column(holder), "legs": legs(holder)}
        parts |= {"boom": boom(holder), "bag": bag(holder)}
    return [Solid(name, part, mesh) for part, mesh in parts.items() if len(mesh[1])]


def set_solids(layout: Layout, holders: Sequence[Holder] = ()) -> list[Solid]:
    """Everything that can stand in the picture or hide something in it: no walls, no camera.

    holders : how the lights are held; of a light that is not among them its front is all there is
    """
    held = {holder.light: holder for holder in holders}
    found = [
        solid for front in layout.fronts for solid in light_solids(front, held.get(front.name))
    ]
    found += [sheet_solid(sheet) for sheet in layout.sheets if sheet.kind != "wall"]
    if layout.body is not None:
        found.append(Solid(SITTER, "body", solid_body(layout.body)))
    return found


def sheet_solid(sheet: Sheet) -> Solid:
    """A panel (both leaves of a V-flat share its name), the backdrop or a wall."""
    vertices, _, triangles = sheet_mesh(sheet)
    names = {"panel": f"panel.{sheet.name}", "backdrop": BACKDROP}
    return Solid(names.get(sheet.kind, sheet.name), "sheet", (vertices, triangles))


def camera_solid(view: View) -> Solid:
    """Body and lens; the lens ends at its pupil."""
    radius, length = LENS_M
    axes = np.stack([view.right, view.up, view.back])
    end = view.position_m + length * view.back
    middle = end + 0.5 * BODY_M[2] * view.back
    return Solid(
        CAMERA, "body", joined([tube(view.position_m, end, radius), box(middle, axes, BODY_M)])
    )


def _shaft(front: Front) -> Mesh:
    """From the pole of an umbrella, or the back of a ball, to its head; other fronts have none."""
    if isinstance(front.shape, Cap) and front.head_m is not None:
        depth = front.shape.depth_m if front.shape.hollow else 0.0
        return tube(housing(front)[0].mean(0), front.centre_m - depth * front.normal, SHAFT_M)
    if isinstance(front.shape, Ball) and front.shell_depth_m > 0.5 * front.width_m:
        ends = [
            front.centre_m - z * front.normal for z in (0.5 * front.width_m, front.shell_depth_m)
        ]
        return tube(ends[0], ends[1], NECK_M)
    return joined([])
