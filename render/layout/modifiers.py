"""A modifier of the kit, as it is set up on a light, turned into the shape of a front."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.emission import (
    Ball,
    Beam,
    Cap,
    Cells,
    Disk,
    Doors,
    Front,
    Honeycomb,
    Lobe,
    Matte,
    Polygon,
    Rectangle,
    Shape,
)
from render.errors import SceneError
from render.layout.geometry import facing
from render.layout.measured import measured_front
from render.scenefile import Setup
from render.scenefile.gear import with_article
from render.studio.kit import Modifier
from render.studio.light import BarnDoors, Light

Floats = NDArray[np.float64]

CLOTHED = ("softbox", "strip", "octa", "round")  # boxes whose cloths can be taken off or added
DISHED = ("dish", "reflector")  # metal bowls that can wear a sock
GRIDDED = (*CLOTHED, *DISHED, "measured", "plain")
DOORED = ("softbox", "strip", "reflector", "measured", "plain")
CLOTH_LOSS_STOPS = 0.85  # a cloth takes 0.7 to 1 stop; common practice, no source
# Centre to edge of a box without its cloths: good boxes 0.3 to 0.5 with two, 1 cheap, 2 and more
# worst; common practice and one measured strip, from memory.
BARE_FALLOFF_STOPS, ONE_CLOTH_FALLOFF_STOPS = 2.0, 1.0
EXTRA_CLOTH_EVENS = 0.7  # what is left of the falloff under one more cloth; from memory
# Beams of a silver lined box with one cloth, which lets some light straight through (a trade page:
# front cloth alone, 1 to 1.5 stops under a reflector), and with none; from memory.
ONE_CLOTH_DEG, BARE_BOX_DEG = 108.0, 90.0
SOCK_FALLOFF_STOPS = 0.3  # of a dish or reflector under a sock; from memory
SOCK_EVENS = 0.3  # what is left of the step at a deflector under a sock; from memory
MOST_SHARE = 0.9  # no lining gives back more; from memory
HONEYCOMB_OPEN = 0.75  # of a honeycomb known by its angle alone; 0.55 to 0.85 in scenes/kit


@dataclass(frozen=True, slots=True)
class Fitted:
    """What the light's modifier is after cloths, grid and doors: all a front needs."""

    shape: Shape
    width_m: float
    height_m: float
    beam: Beam
    edge_falloff_stops: float
    recess_m: float
    cells: Cells | Honeycomb | None
    shell_depth_m: float
    doors: Doors | None
    head_m: tuple[float, float] | None
    share: float  # of the flash's light that leaves it, before a grid
    open_share: float  # of a grid's face
    note: str = ""  # what a reading has to tell about it


def fitted(setup: Setup, key: str, light: Light, modifier: Modifier) -> Fitted:
    """The modifier as the light wears it.

    key : "light.NAME"
    Raises SceneError for cloths, grids or doors that it cannot wear.
    """
    width, height = _extent(modifier)
    bare = Fitted(
        shape=_shape(modifier),
        width_m=width,
        height_m=height,
        beam=Matte() if modifier.beam_deg is None else Lobe(modifier.beam_deg),
        edge_falloff_stops=modifier.edge_falloff_stops,
        recess_m=modifier.recess_cm / 100,
        cells=None,
        shell_depth_m=modifier.shell_cm / 100,
        doors=None,
        head_m=modifier.head_cm and (modifier.head_cm[0] / 100, modifier.head_cm[1] / 100),
        share=modifier.share,
        open_share=1.0,
    )
    if modifier.kind == "measured":
        bare = _as_measured(modifier, bare)
    clothed = _clothed(setup, key, light, modifier, bare)
    return _with_doors(setup, key, light, modifier, _gridded(setup, key, light, modifier, clothed))


def _as_measured(modifier: Modifier, bare: Fitted) -> Fitted:
    """With outline and beam of its photometric file."""
    lamp = measured_front(modifier)
    return replace(
        bare,
        shape=lamp.shape,
        width_m=lamp.width_m,
        height_m=lamp.height_m,
        beam=lamp.beam,
        edge_falloff_stops=0.0,  # every place of the opening sends the file's beam
        share=bare.share * lamp.ahead_share,
        note=lamp.note,
    )


def as_front(name: str, worn: Fitted, position_m: Floats, normal: Floats, roll_deg: float) -> Front:
    """The front of a modifier at its place in the room, with a luminous energy of 1 lm·s.

    position_m, normal : (3,) float  middle of the cloth [m], unit vector the way it shines
    """
    right, up = facing(normal, roll_deg)
    # Light seems to leave from the middle of the cells' depth, to within 0.4 %.
    ahead = worn.cells.depth_m / 2 if worn.cells is not None else 0.0
    return Front(
        name,
        position_m + ahead * normal,
        right,
        up,
        worn.width_m,
        worn.height_m,
        1.0,
        worn.edge_falloff_stops,
        worn.recess_m,
        worn.cells,
        worn.shell_depth_m + ahead,
        worn.shape,
        worn.beam,
        worn.doors,
        worn.head_m,
    )


def _extent(modifier: Modifier) -> tuple[float, float]:
    """Width and height of the front [m]."""
    if modifier.size_cm is not None:
        return modifier.size_cm[0] / 100, modifier.size_cm[1] / 100
    across = (modifier.diameter_cm or 0.0) / 100
    return across, across


def _shape(modifier: Modifier) -> Shape:
    kind = modifier.kind
    if modifier.size_cm is not None:
        return Rectangle()
    if kind == "octa":
        return Polygon(modifier.sides)
    if kind in ("umbrella through", "umbrella bounce"):
        depth = (modifier.depth_cm or 0.0) / 100
        return Cap(depth, kind == "umbrella bounce", modifier.back_share)
    if kind in ("bare", "lantern"):
        return Ball()
    if modifier.deflector_cm > 0:
        return Disk(modifier.deflector_cm / 100, modifier.deflector_share)
    return Disk()


def _clothed(setup: Setup, key: str, light: Light, modifier: Modifier, bare: Fitted) -> Fitted:
    """With as many cloths as the light says."""
    count = modifier.diffusers if light.diffusers is None else light.diffusers
    extra = count - modifier.diffusers
    if extra == 0:
        return bare
    if modifier.kind not in (*CLOTHED, *DISHED):
        raise SceneError(
            setup.file,
            f"{key}.diffusers",
            f"found {count} on {with_article(modifier.kind)}",
            f"left out, or one of these modifiers: {', '.join((*CLOTHED, *DISHED))}",
        )
    share = min(MOST_SHARE, bare.share * 2 ** (-CLOTH_LOSS_STOPS * extra))
    falloff, beam, shape = bare.edge_falloff_stops, bare.beam, bare.shape
    if modifier.kind in DISHED:
        falloff, beam = SOCK_FALLOFF_STOPS, Matte()
        if isinstance(shape, Disk):
            shape = replace(shape, hole_share=1 - SOCK_EVENS * (1 - shape.hole_share))
    elif extra > 0:
        falloff, beam = falloff * EXTRA_CLOTH_EVENS**extra, Matte()
    else:
        falloff = max(falloff, ONE_CLOTH_FALLOFF_STOPS if count else BARE_FALLOFF_STOPS)
        beam = Lobe(modifier.beam_deg or (ONE_CLOTH_DEG if count else BARE_BOX_DEG))
    return replace(bare, share=share, edge_falloff_stops=falloff, beam=beam, shape=shape)


def _gridded(setup: Setup, key: str, light: Light, modifier: Modifier, bare: Fitted) -> Fitted:
    """With its grid, whose cells take the place of the lip."""
    if light.grid is None and light.grid_deg is None:
        return bare
    if light.grid is not None and light.grid_deg is not None:
        raise SceneError(setup.file, f"{key}.grid", "two grids", "either grid or grid_deg")
    if modifier.kind not in GRIDDED:
        used = "grid" if light.grid is not None else "grid_deg"
        raise SceneError(
            setup.file,
            f"{key}.{used}",
            f"found on {with_article(modifier.kind)}",
            f"left out, or one of these modifiers: {', '.join(GRIDDED)}",
        )
    cells, open_share = _cells(setup, key, light, modifier)
    return replace(bare, cells=cells, recess_m=0.0, open_share=open_share)


def _cells(
    setup: Setup, key: str, light: Light, modifier: Modifier
) -> tuple[Cells | Honeycomb, float]:
    """The cells of the light's grid and the share of its face that is open."""
    if light.grid is not None:
        known = setup.kit.grid
        if light.grid not in known:
            raise SceneError(
                setup.file,
                f"{key}.grid",
                f'"{light.grid}" is not in the kit',
                f"one of {', '.join(sorted(known))}",
            )
        grid = known[light.grid]
        width, depth = grid.cell_cm / 100, grid.depth_cm / 100
        if grid.cells == "hexagon":
            return Honeycomb(width, depth), grid.open_share
        return Cells(width, width, depth), grid.open_share
    depth = modifier.grid_depth_cm / 100
    width = depth * math.tan(math.radians(light.grid_deg or 0.0))
    if modifier.kind in DISHED:
        return Honeycomb(width, depth), HONEYCOMB_OPEN
    return Cells(width, width, depth), 1.0


def _with_doors(setup: Setup, key: str, light: Light, modifier: Modifier, bare: Fitted) -> Fitted:
    if light.doors is None:
        return bare
    if modifier.kind not in DOORED:
        raise SceneError(
            setup.file,
            f"{key}.doors",
            f"found on {with_article(modifier.kind)}",
            f"left out, or one of these modifiers: {', '.join(DOORED)}",
        )
    return replace(bare, doors=_doors(light.doors))


def _doors(doors: BarnDoors) -> Doors:
    """Sides of the scene are seen from behind the light, those of a front from before it."""
    return Doors(
        left_deg=doors.right_deg,
        right_deg=doors.left_deg,
        top_deg=doors.top_deg,
        bottom_deg=doors.bottom_deg,
        length_m=doors.length_cm / 100,
    )
