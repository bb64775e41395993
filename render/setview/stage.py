"""What is drawn of a set, each piece in its colour: things, walls, floor lines, shadows on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import FLAT
from render.layout.geometry import UP
from render.layout.placed import Layout, Sheet
from render.layout.walls import BACK_WALL
from render.setview import tones
from render.setview.eye import Eye
from render.setview.figure import HEADED, drawn_surface, hair_ribbons, lower_body
from render.setview.holders import Holder, pole, tripod
from render.setview.pieces import Mesh, joined, tube
from render.setview.solids import BACKDROP, CAMERA, SITTER, camera_solid, light_solids, sheet_solid
from render.setview.specks import specks
from render.setview.tones import Colour

Floats = NDArray[np.float64]

GRID_M = 0.5  # between floor lines
LINE_PX = 0.75  # thickness of a floor line
LINE_LIFT_M, SHADOW_LIFT_M = 1.2e-3, 0.8e-3  # above the floor, under a paper (2 mm)
VOID_MARGIN_M = 0.4  # of the floor that is drawn where there is no room
TRIPOD_M = 0.45  # leg radius of the camera's tripod; from memory
PANEL_LEG_M = 0.35  # of a panel's stand; from memory
RAISED_M = 0.15  # a panel whose lowest edge is higher than this stands on something
BEHIND_M = 0.03  # the column is behind the panel
ROLL_M = 0.035  # radius of a roll of paper
OF_LIGHTS: dict[str, Colour] = {
    "housing": tones.HOUSING,
    "head": tones.HOUSING,
    "shaft": tones.STAND,
    "column": tones.STAND,
    "legs": tones.STAND,
    "boom": tones.STAND,
    "bag": tones.HOUSING,
}


@dataclass(frozen=True, slots=True)
class Piece:
    """One mesh of the drawing."""

    name: str
    mesh: Mesh
    colour: Colour
    back: Colour | None = None  # of the side that its triangles turn away from
    group: str = ""  # pieces of one group have no line between them; "" has none at all
    wall: bool = False  # only drawn where it faces the eye
    shadow: bool = False  # darkens the floor under it
    shaded: float = tones.SHADED  # share of its colour that its darkest side keeps


def set_pieces(layout: Layout, holders: Sequence[Holder]) -> list[Piece]:
    """Everything that is drawn of a set but floor lines and shadows."""
    found = _lights(layout, holders)
    for sheet in layout.sheets:
        found += _sheet(sheet)
    found += _sitter(layout) + _camera(layout)
    found += [
        Piece(f"element.{e.name}", specks(e), tones.SPECK, group="elements")
        for e in layout.elements
    ]
    if not any(sheet.kind == "wall" for sheet in layout.sheets):
        found.append(_floor_of(found))
    return found


def _lights(layout: Layout, holders: Sequence[Holder]) -> list[Piece]:
    held = {holder.light: holder for holder in holders}
    found = []
    for front in layout.fronts:
        for solid in light_solids(front, held.get(front.name)):
            group = f"{solid.name}.{solid.part}"
            if solid.part == "front":
                tone, back = tones.front_tone(front), tones.front_back_tone(front)
                calm = tones.FLAT_FRONT if isinstance(front.shape, FLAT) else tones.ROUND_FRONT
                found.append(
                    Piece(solid.name, solid.mesh, tone, back, group, shadow=True, shaded=calm)
                )
            else:
                tone = OF_LIGHTS[solid.part]
                found.append(Piece(solid.name, solid.mesh, tone, group=group, shadow=True))
    return found


def _sheet(sheet: Sheet) -> list[Piece]:
    solid, calm = sheet_solid(sheet), tones.CALM
    if sheet.kind == "wall":
        floor = sheet.name == "floor"
        colour = tones.FLOOR if floor else tones.WALL
        return [Piece(sheet.name, solid.mesh, colour, group=sheet.name, wall=True, shaded=calm)]
    if sheet.kind == "backdrop":
        tone = tones.backdrop_tone(sheet)
        if sheet.name == BACK_WALL:
            return [Piece(BACKDROP, solid.mesh, tone, group=BACKDROP, wall=True, shaded=calm)]
        return [Piece(BACKDROP, solid.mesh, tone, group=BACKDROP), *_roll(sheet)]
    front, back = tones.panel_tone(sheet), tones.panel_tone(sheet, back=True)
    found = [Piece(solid.name, solid.mesh, front, back, solid.name, shadow=True, shaded=calm)]
    low = float(solid.mesh[0][:, 1].min())
    if low > RAISED_M:
        top = sheet.centre_m - BEHIND_M * sheet.normal
        foot = top * [1, 0, 1]
        mesh = _stand(foot, top, PANEL_LEG_M, -sheet.normal)
        found.append(Piece(solid.name, mesh, tones.STAND, group=f"{solid.name}.stand", shadow=True))
    return found


def _roll(sheet: Sheet) -> list[Piece]:
    """The roll or bar that a backdrop hangs from, and a post at each end."""
    top = sheet.centre_m + 0.5 * sheet.height_m * sheet.up - ROLL_M * sheet.normal
    aside = (0.5 * sheet.width_m + ROLL_M) * sheet.right
    posts = [tube((top + s * aside) * [1, 0, 1], top + s * aside, 0.5 * ROLL_M) for s in (-1, 1)]
    mesh = joined([tube(top - aside, top + aside, ROLL_M), *posts])
    return [Piece(BACKDROP, mesh, tones.STAND, group="backdrop.roll")]


def _sitter(layout: Layout) -> list[Piece]:
    body = layout.body
    if body is None:
        return []
    eyes = np.mean(
        [s.vertices.mean(0) for s in body.surfaces if s.name.startswith("eye_")] or [[0, 1.2, 0]], 0
    )
    trunk, stool = lower_body(body, eyes)
    found = [
        Piece(SITTER, trunk, tones.CLOTHES, group="sitter.clothes", shadow=True),
        Piece(SITTER, stool, tones.WOOD, group="sitter.stool"),
    ]
    for name in HEADED:
        mesh = drawn_surface(body, name)
        if len(mesh[1]):
            colour = tones.SKIN if name == "skin" else tones.CLOTHES
            group = "sitter.skin" if name == "skin" else "sitter.clothes"
            found.append(Piece(SITTER, mesh, colour, group=group, shadow=True))
    for strands in body.strands:
        hair = hair_ribbons(strands)
        if len(hair[1]):
            found.append(Piece(SITTER, hair, tones.hair_tone(strands.fibre), group="sitter.hair"))
    return found


def _camera(layout: Layout) -> list[Piece]:
    if layout.view is None:
        return []
    solid = camera_solid(layout.view)
    under = solid.mesh[0].mean(0)
    foot = under * [1, 0, 1]
    legs = _stand(foot, under - 0.04 * UP, TRIPOD_M, layout.view.back)
    return [
        Piece(CAMERA, solid.mesh, tones.CAMERA, group=CAMERA, shadow=True),
        Piece(CAMERA, legs, tones.STAND, group="camera.stand", shadow=True),
    ]


def _floor_of(pieces: Sequence[Piece]) -> Piece:
    """A floor under everything, where the scene has no room."""
    places = joined([piece.mesh for piece in pieces])[0]
    low = np.floor((places.min(0) - VOID_MARGIN_M) / GRID_M) * GRID_M
    high = np.ceil((places.max(0) + VOID_MARGIN_M) / GRID_M) * GRID_M
    ends = [low[0], high[0], low[2], high[2]]
    return Piece("floor", _level(ends, 0.0), tones.FLOOR, group="floor")


def _stand(foot: Floats, top: Floats, leg_radius_m: float, way: Floats) -> Mesh:
    return joined([pole(foot, top, leg_radius_m), tripod(foot, top, leg_radius_m, way)])


def floor_lines(pieces: Sequence[Piece], eye: Eye, wide_px: int) -> list[Piece]:
    """Lines on the floor every GRID_M from the mark under the eyes, about LINE_PX thick."""
    floor = next(piece for piece in pieces if piece.name == "floor").mesh[0]
    low, high = floor.min(0), floor.max(0)
    metre_px = 2 * eye.half_width * float(np.linalg.norm(eye.position_m)) / wide_px
    half = 0.5 * LINE_PX * metre_px
    strips = []
    for axis in (0, 2):
        first, last = np.ceil(low[axis] / GRID_M), np.floor(high[axis] / GRID_M)
        for at in GRID_M * np.arange(first, last + 1):
            ends = [low[0], high[0], low[2], high[2]]
            ends[axis : axis + 2] = [at - half, at + half]  # x at 0, z at 2
            strips.append(_level(ends, LINE_LIFT_M))
    return [Piece("floor", joined(strips), tones.FLOOR_LINE, group="floor")]


def shadows(pieces: Sequence[Piece]) -> list[Piece]:
    """What stands or hangs over the floor, pressed flat onto it."""
    found = []
    for piece in pieces:
        if piece.shadow:
            flat = piece.mesh[0] * [1, 0, 1] + SHADOW_LIFT_M * UP
            found.append(Piece("floor", (flat, piece.mesh[1]), tones.SHADOW, group="floor"))
    return found


def _level(ends_m: Sequence[float], height_m: float) -> Mesh:
    """A level rectangle: least and greatest x, least and greatest z, height [m]."""
    left, right, back, front = ends_m
    x, z = np.array([left, right, right, left]), np.array([front, front, back, back])
    return np.stack([x, np.full(4, height_m), z], -1), np.array([[0, 1, 2], [0, 2, 3]])
