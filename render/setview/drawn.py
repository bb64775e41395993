"""The set drawn in 3D from a raised corner, as a figure for the printed card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Layout
from render.setview.corner import ELEVATIONS_DEG, open_side
from render.setview.eye import Eye, Stance, eye_over, pixels
from render.setview.holders import Holder
from render.setview.ink import with_outlines
from render.setview.pieces import joined
from render.setview.raster import shade
from render.setview.stage import Piece, floor_lines, set_pieces, shadows
from render.setview.tones import lit

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

FINER = 2  # outlines are found so many times finer than the picture, so that they are smooth
# A long lens keeps uprights upright. Chosen by eye.
ANGLE_DEG, MARGIN = 20.0, 0.03


@dataclass(frozen=True, slots=True)
class SetView:
    """A drawn set and where its things are in the picture."""

    picture: Bytes  # (h, w, 3) sRGB
    places_px: dict[str, tuple[float, float]]  # middle of each thing, from the top left corner
    eye: Eye


def set_view(
    layout: Layout,
    size_px: tuple[int, int],
    holders: Sequence[Holder] = (),
    azimuth_deg: float | None = None,
) -> SetView:
    """The room from a raised corner, the walls in the way left out.

    size_px     : width and height of the picture
    holders     : how the lights are held (`plan` knows); without them they float
    azimuth_deg : where it is seen from, 0 from the camera's side, negative from camera left; None
                  takes the side that shows most of sitter and fronts
    places_px   : "light.key", "panel.fill", "sitter", "camera", "backdrop"; for labels
    raises      : ViewError where the machine has no GL
    """
    pieces = set_pieces(layout, holders)
    corners = joined([piece.mesh for piece in pieces])[0]

    def from_side(azimuth: float, elevation: float = ELEVATIONS_DEG[0]) -> Eye:
        return eye_over(corners, Stance(azimuth, elevation, ANGLE_DEG, MARGIN), size_px)

    eye = open_side(pieces, layout, from_side) if azimuth_deg is None else from_side(azimuth_deg)
    shown = [piece for piece in pieces if not piece.wall or _faces(piece, eye)]
    shown += [*shadows(shown), *floor_lines(shown, eye, size_px[0])]
    meshes, colours = zip(
        *(lit(p.mesh, p.colour, eye, p.back, p.shaded) for p in shown), strict=True
    )
    picture, seen = shade(meshes, colours, eye, size_px, FINER)
    inked = with_outlines(picture, seen, _numbers(shown), FINER)
    places = {name: pixels(eye, at, size_px) for name, at in _middles(layout).items()}
    told = {name: (float(at[0]), float(at[1])) for name, at in places.items()}
    return SetView(inked, told, eye)


def _faces(piece: Piece, eye: Eye) -> bool:
    """Whether a wall turns its inside to the eye."""
    vertices, triangles = piece.mesh
    a, b, c = vertices[triangles[0]]
    return bool(np.cross(b - a, c - a) @ (eye.position_m - a) > 0)


def _numbers(pieces: Sequence[Piece]) -> list[int]:
    """One number for each group of pieces."""
    groups = {group: i for i, group in enumerate(dict.fromkeys(p.group for p in pieces))}
    return [groups[piece.group] for piece in pieces]


def _middles(layout: Layout) -> dict[str, Floats]:
    """Where a label belongs: the middle of a front, of a panel, of the head."""
    found = {f"light.{front.name}": front.centre_m for front in layout.fronts}
    for sheet in layout.sheets:
        if sheet.kind == "panel":
            found.setdefault(f"panel.{sheet.name}", sheet.centre_m)
        elif sheet.kind == "backdrop":
            found["backdrop"] = sheet.centre_m
    if layout.view is not None:
        found["camera"] = layout.view.position_m
    for element in layout.elements:
        found[f"element.{element.name}"] = element.centres_m.mean(0)
    if layout.body is not None:
        found["sitter"] = layout.body.surfaces[0].vertices.mean(0).astype(np.float64)
    return found
